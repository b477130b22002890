package statistics

import (
	"fmt"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/moments"
	"sinkproof/reports/quality/tolerance"
)

// toleranceFlags are the flags of sinkproof study tolerance.
type toleranceFlags struct {
	inputs
	outputs
	n, sides   int
	coverage   number
	confidence confidence
}

func newTolerance(explain func(error) error) *cobra.Command {
	var f toleranceFlags
	f.ledger.explain = explain
	c := &cobra.Command{
		Use:   "tolerance [FILE]",
		Short: "Gives limits that hold a share of all units, judged by a sample of them",
		Long: `The factor says how many sample standard deviations the limits lie from the sample
mean, so that they hold the coverage with the confidence, for normal values: one
limit (--sides 1) or both together (--sides 2). It is exact (ISO 16269-6).

With a file or a ledger, n is the number of its values, and the limits are given as
well. Without normality the sample's own extreme values are limits: least_n is the
number of units which that takes.

--json prints n, coverage, confidence, sides, factor, least_n; with values mean, sd,
lower, upper (both limits with two sides; with one, each is a limit of its own).`,
		Example: `  sinkproof study tolerance --n 30 --coverage 0.95 --confidence 0.95 --sides 2
  sinkproof study tolerance vbus.csv --value vbus --coverage 0.99 --page vbus.html`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	f.inputs.add(fs)
	f.outputs.add(fs)
	fs.IntVar(&f.n, "n", 0, "`number` of units in the sample")
	f.coverage.value, f.coverage.set = usual, true
	f.coverage.add(fs, "coverage", "share of all units that the limits hold")
	f.confidence.add(fs)
	fs.IntVar(&f.sides, "sides", 2, "1 for one limit, 2 for two")
	return c
}

func (f *toleranceFlags) run(c *cobra.Command, args []string) error {
	fromData := len(args) > 0 || f.ledger.path != ""
	switch {
	case f.sides != 1 && f.sides != 2:
		return trouble("--sides 1, or 2", "--sides %d", f.sides)
	case !(f.coverage.value > 0 && f.coverage.value < 1):
		return trouble("a share between 0 and 1, such as 0.95", "--coverage %s", show(f.coverage.value))
	case fromData && c.Flags().Changed("n"):
		return trouble("one of the two", "both values and --n")
	case !fromData && f.n < 2:
		return trouble("--n NUMBER, or a file of values", "--n %d: a sample has two units at least", f.n)
	}
	s := study{kind: "Tolerance limits", method: []string{"Factors: ISO 16269-6, exact by the noncentral t law (one limit) and by integration over the law of the sample mean (two). Without normality: Wilks, Annals of Mathematical Statistics 12 (1941) 91."}}
	s.lead = fmt.Sprintf("Limits that hold %s of all units with %s confidence.", percent(f.coverage.value), percent(f.confidence.value))
	if !fromData {
		s.title = fmt.Sprintf("a sample of %d", f.n)
		found := f.factor(f.n)
		found.draw = func() (figures, error) { return drawFactors(f.n, f.coverage.value, f.confidence.value, f.sides) }
		s.findings = []finding{found}
		return f.show(c, s)
	}
	t, err := f.read(c, args, want{texts: f.grouped()})
	if err != nil {
		return err
	}
	s.title, s.started, s.simulation = t.title(), t.started, t.simulation
	if err := f.studyEach(t, &s, 0, f.limits); err != nil {
		return err
	}
	return f.show(c, s)
}

// factor answers for a number of units.
func (f *toleranceFlags) factor(n int) finding {
	var out finding
	k, least := tolerance.TwoSided(n, f.coverage.value, f.confidence.value), tolerance.RangeSize(f.coverage.value, f.confidence.value)
	side := "two limits, both together"
	if f.sides == 1 {
		k, least = tolerance.OneSided(n, f.coverage.value, f.confidence.value), tolerance.ExtremeSize(f.coverage.value, f.confidence.value)
		side = "one limit"
	}
	out.fields.add("n", n)
	out.fields.number("coverage", f.coverage.value)
	out.fields.number("confidence", f.confidence.value)
	out.fields.add("sides", f.sides)
	out.fields.number("factor", k)
	if least > 0 {
		out.fields.add("least_n", least)
	}
	out.section.Facts = []page.Row{
		{Label: "units", Text: whole(n)},
		{Label: "limits", Text: side},
		{Label: "factor", Text: show(k)},
		{Label: "without normality", Text: fmt.Sprintf("the extreme values of %d units do", least)},
	}
	return out
}

// limits answers for values.
func (f *toleranceFlags) limits(t *table) (finding, error) {
	if err := t.enough(2); err != nil {
		return finding{}, err
	}
	if err := t.spreads(); err != nil {
		return finding{}, err
	}
	m := moments.Of(t.values).Moments()
	out := f.factor(m.N)
	k := tolerance.TwoSided(m.N, f.coverage.value, f.confidence.value)
	if f.sides == 1 {
		k = tolerance.OneSided(m.N, f.coverage.value, f.confidence.value)
	}
	limits := tolerance.Limits(m.Mean, m.SD, k)
	out.fields.number("mean", m.Mean)
	out.fields.number("sd", m.SD)
	out.fields.number("lower", limits.Low)
	out.fields.number("upper", limits.High)
	out.section.Facts = append(out.section.Facts,
		page.Row{Label: "mean", Text: show(m.Mean)}, page.Row{Label: "standard deviation", Text: show(m.SD)},
		page.Row{Label: "lower limit", Text: show(limits.Low)}, page.Row{Label: "upper limit", Text: show(limits.High)})
	out.section.Facts = append(out.section.Facts, t.leftRows()...)
	out.draw = func() (figures, error) { return drawTolerance(t, m, limits) }
	return out, nil
}
