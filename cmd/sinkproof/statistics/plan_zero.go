package statistics

import (
	"fmt"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/sampling"
)

// byOnePoint finds the plan that accepts no bad unit.
func (f *planFlags) byOnePoint(c *cobra.Command) error {
	limit := f.limitingQuality.value
	switch {
	case !(limit > 0 && limit < 1):
		return trouble("a fraction between 0 and 1", "--limiting-quality %s", show(limit))
	case f.aql.set:
		return trouble("one of the two", "both --aql and --limiting-quality")
	}
	lot := sampling.Lot{Size: f.size}
	if f.size > 0 {
		lot.Law = sampling.Hypergeometric
	}
	if c.Flags().Changed("distribution") {
		var err error
		if lot.Law, err = lawOf(f.distribution); err != nil {
			return err
		}
		if lot.Law == sampling.Hypergeometric && f.size == 0 {
			return trouble("--size N, or leave --distribution out for lots of an endless process", "hypergeometric without the size of the lot")
		}
	}
	n, reached, err := sampling.ZeroAcceptance(lot, limit, f.confidence.value)
	if err != nil {
		return trouble("take a larger --limiting-quality, or less --confidence", "%w", err)
	}
	plan := sampling.Plan{N: n}
	var out finding
	addPlan(&out, plan)
	out.fields.number("limiting_quality", limit)
	out.fields.number("confidence", reached)
	out.section.Facts = append(planFacts(plan),
		page.Row{Label: "shown", Text: fmt.Sprintf("fewer than %s bad, with %s confidence; %s wanted", percent(limit), percent(reached), percent(f.confidence.value))})
	if n == f.size {
		out.section.Facts = append(out.section.Facts, page.Row{Label: "all units", Text: "no smaller sample shows it"})
	}
	out.draw = func() (figures, error) { return drawZero(plan, lot, limit, f.confidence.value) }
	method := "Exact by the " + lot.Law.String() + " law: the smallest sample that with the confidence has a bad unit in it where the limiting fraction is bad"
	if lot.Law == sampling.Hypergeometric {
		method += ", which is the smallest whole number of bad units in the lot that reaches it"
	}
	return f.show(c, study{kind: "Sampling plan", title: fmt.Sprintf("test %d, accept none bad", n),
		lead: "The smallest sample without a bad unit that shows a lot to be good enough.", findings: []finding{out},
		method: []string{method + ".", "Such a plan rejects many a good lot: the curve says how many."}})
}
