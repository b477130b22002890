package statistics

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/sampling"
)

// curveFlags are the flags of sinkproof lot curve.
type curveFlags struct {
	outputs
	n, accept, size  int
	at, distribution string
}

func newCurve() *cobra.Command {
	var f curveFlags
	c := &cobra.Command{
		Use:   "curve --sample-size N --accept C",
		Short: "Tells what a sampling plan accepts: its operating characteristic",
		Long: `For fractions of bad units: the probability that a lot is accepted, the mean
outgoing quality where rejected lots are sorted, and the mean number tested.

Without --size lots come from an endless process (binomial). With it, the
probability is that of one lot of that many units, of which the fraction is bad
(hypergeometric); the outgoing quality and the number tested are means over the
lots of a process (binomial). --distribution chooses one law for all.

--json prints sample_size, accept, points (fraction, accept_probability, aoq, ati),
and, for an endless process, quality_at_95, quality_at_50, quality_at_10: the
fractions that are accepted with these probabilities; aoql, aoql_at.`,
		Example: `  sinkproof lot curve --sample-size 80 --accept 2 --at 0.01,0.02,0.05
  sinkproof lot curve --sample-size 32 --accept 0 --size 200 --page oc.html`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}
	fs := c.Flags()
	f.outputs.add(fs)
	fs.IntVar(&f.n, "sample-size", 0, "`number` of units tested")
	fs.IntVar(&f.accept, "accept", 0, "`number` of bad ones up to which the lot is accepted")
	fs.IntVar(&f.size, "size", 0, "`number` of units in the lot")
	fs.StringVar(&f.at, "at", "0.001,0.002,0.005,0.01,0.02,0.05,0.1,0.2", "`fractions` of bad units, apart by commas")
	fs.StringVar(&f.distribution, "distribution", "", "`law` of the bad units: binomial, poisson or hypergeometric")
	return c
}

// lots are the laws of acceptance and of what goes out.
func (f *curveFlags) lots() (accepts, sorts sampling.Lot, err error) {
	accepts, sorts = sampling.Lot{Size: f.size}, sampling.Lot{Size: f.size}
	if f.size > 0 {
		accepts.Law = sampling.Hypergeometric
	}
	if f.distribution == "" {
		return accepts, sorts, nil
	}
	law, err := lawOf(f.distribution)
	if err == nil && law == sampling.Hypergeometric && f.size == 0 {
		err = trouble("--size N", "hypergeometric without the size of the lot")
	}
	accepts.Law, sorts.Law = law, law
	return accepts, sorts, err
}

func (f *curveFlags) run(c *cobra.Command) error {
	switch {
	case f.n < 1:
		return trouble("--sample-size N", "--sample-size %d: at least one unit is tested", f.n)
	case !c.Flags().Changed("accept"):
		return trouble("--accept 0 accepts no bad unit", "--accept C is missing")
	case f.accept < 0 || f.accept >= f.n:
		return trouble("from 0 to one less than the sample", "--accept %d of %d", f.accept, f.n)
	case f.size < 0 || c.Flags().Changed("size") && f.size < f.n:
		return trouble("", "--size %d is smaller than the sample of %d", f.size, f.n)
	}
	accepts, sorts, err := f.lots()
	if err != nil {
		return err
	}
	at, err := fractions(f.at)
	if err != nil {
		return err
	}
	plan := sampling.Plan{N: f.n, Accept: f.accept}
	chance, out := plan.Curve(accepts, at), plan.Curve(sorts, at)
	return f.show(c, study{kind: "Operating characteristic", title: fmt.Sprintf("test %d, accept up to %d bad", f.n, f.accept),
		lead:     "With which probability a lot is accepted, by its fraction of bad units.",
		findings: []finding{f.answer(plan, accepts, sorts, chance, out)},
		method:   []string{f.words(accepts, sorts)}})
}

func (f *curveFlags) words(accepts, sorts sampling.Lot) string {
	text := "Acceptance by the " + accepts.Law.String() + " law"
	if accepts.Law == sampling.Hypergeometric {
		text += " for one lot of " + whole(f.size) + " units, of which the nearest whole number is bad"
	}
	return text + "; outgoing quality and number tested by the " + sorts.Law.String() + " law, rejected lots being sorted and bad units replaced (Montgomery, Introduction to Statistical Quality Control, 15.2)."
}

func (f *curveFlags) answer(plan sampling.Plan, accepts, sorts sampling.Lot, chance, sorted []sampling.Point) finding {
	var out finding
	out.fields.add("sample_size", plan.N)
	out.fields.add("accept", plan.Accept)
	t := page.StudyTable{Columns: []page.StudyColumn{right("Fraction bad"), right("Accepted with"), right("Outgoing quality"), right("Mean tested")}}
	var points []fields
	for i, p := range chance {
		x := fields{{name: "fraction", num: p.Fraction}}
		x.number("accept_probability", p.AcceptProbability)
		x.number("aoq", sorted[i].AOQ)
		x.number("ati", sorted[i].ATI)
		points = append(points, x)
		t.Rows = append(t.Rows, row(percent(p.Fraction), percent(p.AcceptProbability), percent(sorted[i].AOQ), show(sorted[i].ATI)))
	}
	out.fields.add("points", listOf(points))
	out.section.Facts = planFacts(plan)
	if accepts.Law == sampling.Binomial {
		for _, x := range []struct {
			name  string
			label string
			at    float64
		}{{"quality_at_95", "accepted with 95 %", 0.95}, {"quality_at_50", "accepted with 50 %", 0.5}, {"quality_at_10", "accepted with 10 %", 0.1}} {
			out.fields.number(x.name, plan.QualityAt(x.at))
			out.section.Facts = append(out.section.Facts, page.Row{Label: x.label, Text: percent(plan.QualityAt(x.at)) + " bad"})
		}
	}
	if sorts.Law != sampling.Hypergeometric {
		worst, where := plan.AOQL(sorts)
		out.fields.number("aoql", worst)
		out.fields.number("aoql_at", where)
		out.section.Facts = append(out.section.Facts, page.Row{Label: "worst outgoing quality", Text: fmt.Sprintf("%s, at %s bad", percent(worst), percent(where))})
	}
	out.section.Tables = []page.StudyTable{t}
	out.draw = func() (figures, error) { return drawCurve(plan, accepts, sorts, chance) }
	return out
}

// fractions reads a list of shares.
func fractions(text string) ([]float64, error) {
	var list []float64
	for _, part := range strings.Split(text, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || math.IsNaN(v) || v < 0 || v > 1 {
			return nil, trouble("fractions between 0 and 1, as --at 0.01,0.02", "--at: %q is no fraction", part)
		}
		list = append(list, v)
	}
	return list, nil
}
