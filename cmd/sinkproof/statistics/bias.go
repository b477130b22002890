package statistics

import (
	"fmt"
	"math"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sinkproof/reports/page"
	"sinkproof/reports/quality"
	"sinkproof/reports/quality/gauge"
)

// truthFlags are how bias, linearity and stability are held against a tolerance,
// and judged.
type truthFlags struct {
	tolerance, accept number
	judge             bool
	confidence        confidence
}

// add adds the flags; what names the quantity that is judged.
func (f *truthFlags) add(fs *pflag.FlagSet, what, judge string) {
	f.tolerance.add(fs, "tolerance", "width of the tolerance, upper limit minus lower")
	f.accept.add(fs, "accept", "judge: "+what+" must not exceed this many percent of --tolerance")
	fs.BoolVar(&f.judge, "judge", false, "judge: "+judge)
	f.confidence.add(fs)
}

func (f *truthFlags) check() error {
	switch {
	case f.tolerance.set && !(f.tolerance.value > 0):
		return trouble("upper limit minus lower", "--tolerance %s is no width", show(f.tolerance.value))
	case f.accept.set && !f.tolerance.set:
		return trouble("--tolerance W: upper limit minus lower", "--accept %s percent of which tolerance?", show(f.accept.value))
	case f.accept.set && !(f.accept.value > 0):
		return trouble("a percentage above 0, such as 5", "--accept %s", show(f.accept.value))
	}
	return nil
}

// share is a quantity in percent of the tolerance; NaN without one.
func (f *truthFlags) share(of float64) float64 {
	return 100 * math.Abs(of) / f.tolerance.or(math.NaN())
}

// worst is the end of an interval that lies farther from 0.
func worst(i quality.Interval) float64 { return math.Max(math.Abs(i.Low), math.Abs(i.High)) }

// accepts judges the end of an interval that is farther out.
func (f *truthFlags) accepts(out *finding, what string, most float64) {
	if f.accept.set {
		out.judge(f.share(most) <= f.accept.value, fmt.Sprintf("%s is at most %s %% of the tolerance at %s confidence, %s %% is accepted",
			what, show(f.share(most)), percent(f.confidence.value), show(f.accept.value)))
	}
}

// biasFlags are the flags of sinkproof study bias.
type biasFlags struct {
	inputs
	outputs
	truthFlags
	reference number
}

func newBias(explain func(error) error) *cobra.Command {
	f := biasFlags{inputs: inputs{repeated: true}}
	f.ledger.explain = explain
	c := &cobra.Command{
		Use:   "bias FILE --reference VALUE",
		Short: "Tells how far readings of one reference lie from its value",
		Long: `One reference, whose value is known better than the gauge can tell, is measured again
and again. The bias is the mean reading minus that value; its interval and its p (of
no bias, two-sided) are those of Student's t, by the standard deviation of the
readings.

--accept asks for a judgement: the end of the interval that lies farther from 0 must
not exceed so many percent of --tolerance. --judge asks whether the interval holds 0;
few readings or coarse ones pass that, too. Where a judgement is negative the program
ends with 1.

--json prints n, reference, mean, bias, bias_low, bias_high, sd, se, t, df, p,
percent_tolerance. What is undefined is left out.`,
		Example: `  sinkproof study bias meter.csv --value reading --reference 6
  sinkproof study bias meter.csv --value reading --by meter --reference 5.1 --tolerance 0.5 --accept 5 --page bias.html`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	f.inputs.add(fs)
	f.outputs.add(fs)
	f.reference.add(fs, "reference", "value of what was measured")
	f.truthFlags.add(fs, "the bias, to the farther end of its interval,", "the interval of the bias must hold 0")
	return c
}

func (f *biasFlags) run(c *cobra.Command, args []string) error {
	if !f.reference.set {
		return trouble("--reference VALUE", "what is the value of the reference?")
	}
	if err := f.check(); err != nil {
		return err
	}
	t, err := f.read(c, args, want{texts: f.grouped()})
	if err != nil {
		return err
	}
	s := study{kind: "Bias", title: t.title(), started: t.started, simulation: t.simulation, lead: "How far the readings lie from the reference of " + show(f.reference.value) + ", with an interval of " + percent(f.confidence.value) + " confidence.",
		method: []string{"Student's t with the standard deviation of the readings: AIAG, Measurement Systems Analysis, 4th ed., III.B, which estimates it by a range and so finds slightly other intervals. A bias that is not shown is not shown to be none: look at the interval."}}
	if err := f.studyEach(t, &s, 0, f.judged); err != nil {
		return err
	}
	s.overview(titled{"n", "n"}, titled{"bias", "Bias"}, titled{"bias_low", "Low"}, titled{"bias_high", "High"}, titled{"p", "p"}, titled{"percent_tolerance", "Farther end, % of tolerance"})
	return f.show(c, s)
}

// judged is the study of one group.
func (f *biasFlags) judged(t *table) (finding, error) {
	if err := t.enough(2); err != nil {
		return finding{}, err
	}
	if err := t.spreads(); err != nil {
		return finding{}, err
	}
	o, err := gauge.Bias(t.values, f.reference.value, f.confidence.value)
	if err != nil {
		return finding{}, trouble("", "%s: %w", t.source, err)
	}
	return f.answer(t, o), nil
}

func (f *biasFlags) answer(t *table, o gauge.Offset) finding {
	var out finding
	out.fields.add("n", len(t.values))
	for _, x := range []struct {
		name  string
		value float64
	}{
		{"reference", f.reference.value}, {"mean", f.reference.value + o.Bias}, {"bias", o.Bias}, {"bias_low", o.Low}, {"bias_high", o.High},
		{"sd", o.SD}, {"se", o.SE}, {"t", o.T}, {"df", o.DF}, {"p", o.P}, {"percent_tolerance", f.share(worst(o.Interval))},
	} {
		out.fields.number(x.name, x.value)
	}
	out.section.Facts = []page.Row{
		{Label: "readings", Text: fmt.Sprintf("%d, mean %s, standard deviation %s", len(t.values), show(f.reference.value+o.Bias), show(o.SD))},
		{Label: "bias", Text: fmt.Sprintf("%s (%s)%s", show(o.Bias), between(o.Interval), f.shareWords(worst(o.Interval)))},
		{Label: "against none", Text: fmt.Sprintf("t %s, %s degrees of freedom, p %s", show(o.T), show(o.DF), showP(o.P))},
	}
	out.section.Facts = append(out.section.Facts, t.leftRows()...)
	out.draw = func() (figures, error) { return f.draw(t, o) }
	f.accepts(&out, "the bias", worst(o.Interval))
	if f.judge {
		said := "no bias is seen"
		if !o.Contains(0) {
			said = "there is a bias"
		}
		out.judge(o.Contains(0), fmt.Sprintf("%s: the interval goes from %s", said, between(o.Interval)))
	}
	return out
}

// shareWords tell a quantity in percent of the tolerance, where there is one.
func (f *truthFlags) shareWords(most float64) string {
	if !f.tolerance.set {
		return ""
	}
	return ", up to " + show(f.share(most)) + " % of the tolerance"
}
