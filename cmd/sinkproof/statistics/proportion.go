package statistics

import (
	"fmt"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality"
	"sinkproof/reports/quality/proportion"
)

// proportionFlags are the flags of sinkproof study proportion.
type proportionFlags struct {
	outputs
	bad, n     int
	confidence confidence
	atMost     number
}

func newProportion() *cobra.Command {
	var f proportionFlags
	c := &cobra.Command{
		Use:   "proportion --bad X --n N",
		Short: "Tells what a count of bad units says about the fraction they came from",
		Long: `Three intervals stand around the estimate: Clopper-Pearson's never covers less than
it promises and is the one to prove a claim with; Wilson's covers what it promises
on average; Jeffreys' lies between them.

--at-most asks for a judgement: with the confidence, one-sided and exact, no larger
fraction than this, else the program ends with 1.

--json prints bad, n, confidence, estimate, clopper_pearson, wilson, jeffreys (each
as [low, high]), upper_bound (one-sided).`,
		Example: `  sinkproof study proportion --bad 3 --n 500
  sinkproof study proportion --bad 0 --n 300 --at-most 0.01`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}
	fs := c.Flags()
	f.outputs.add(fs)
	fs.IntVar(&f.bad, "bad", 0, "`number` of bad units")
	fs.IntVar(&f.n, "n", 0, "`number` of units tested")
	f.confidence.add(fs)
	f.atMost.add(fs, "at-most", "judge: the fraction must be shown to be at most this")
	return c
}

// noArgs refuses words that no flag takes.
func noArgs(c *cobra.Command, args []string) error {
	if len(args) > 0 {
		return trouble(c.CommandPath()+" --help shows what it takes", "%s takes flags only, found %q", c.CommandPath(), args[0])
	}
	return nil
}

func (f *proportionFlags) run(c *cobra.Command) error {
	switch {
	case !c.Flags().Changed("bad") || !c.Flags().Changed("n"):
		return trouble("--bad X --n N", "how many bad units of how many?")
	case f.n < 1:
		return trouble("", "--n %d: at least one unit was tested", f.n)
	case f.bad < 0 || f.bad > f.n:
		return trouble("", "--bad %d of --n %d", f.bad, f.n)
	case f.atMost.set && !(f.atMost.value > 0 && f.atMost.value < 1):
		return trouble("a fraction between 0 and 1, such as 0.01", "--at-most %s", show(f.atMost.value))
	}
	p := proportion.Summarize(f.bad, f.n, f.confidence.value)
	bound := proportion.UpperBound(f.bad, f.n, f.confidence.value)
	var out finding
	out.fields.add("bad", f.bad)
	out.fields.add("n", f.n)
	out.fields.number("confidence", f.confidence.value)
	out.fields.number("estimate", p.Estimate)
	table := page.StudyTable{Columns: []page.StudyColumn{left("Interval"), right("Low"), right("High")}}
	for _, x := range []struct {
		name, label string
		quality.Interval
	}{{"clopper_pearson", "Clopper-Pearson (exact)", p.ClopperPearson}, {"wilson", "Wilson", p.Wilson}, {"jeffreys", "Jeffreys", p.Jeffreys}} {
		out.fields.add(x.name, []float64{x.Low, x.High})
		table.Rows = append(table.Rows, row(x.label, show(x.Low), show(x.High)))
	}
	out.fields.number("upper_bound", bound)
	out.section.Facts = []page.Row{
		{Label: "bad", Text: fmt.Sprintf("%d of %d, %s", f.bad, f.n, percent(p.Estimate))},
		{Label: "confidence", Text: percent(f.confidence.value)},
		{Label: "at most", Text: show(bound) + ", one-sided and exact"},
	}
	out.section.Tables = []page.StudyTable{table}
	if f.atMost.set {
		out.judge(bound <= f.atMost.value, f.claim(bound))
	}
	out.draw = func() (figures, error) { return drawProportion(p, f.confidence.value) }
	return f.show(c, study{kind: "Fraction of bad units", title: fmt.Sprintf("%d of %d", f.bad, f.n),
		lead: "What the count says about the fraction that the units came from.", findings: []finding{out},
		method: []string{"Clopper and Pearson, Biometrika 26 (1934) 404; Wilson, JASA 22 (1927) 209; Jeffreys' interval as in Brown, Cai and DasGupta, Statistical Science 16 (2001) 101."}})
}

// claim says what was shown, and what more it takes.
func (f *proportionFlags) claim(bound float64) string {
	text := fmt.Sprintf("at %s confidence the fraction is at most %s, %s was asked", percent(f.confidence.value), show(bound), show(f.atMost.value))
	if bound <= f.atMost.value {
		return text
	}
	if needed := proportion.Needed(f.bad, f.atMost.value, f.confidence.value); needed > f.n {
		text += fmt.Sprintf(": it takes %d more units without a further bad one", needed-f.n)
	}
	return text
}
