package statistics

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/sampling"
)

// planFlags are the flags of sinkproof lot plan.
type planFlags struct {
	outputs
	size                          int
	level, severity, distribution string
	aql                           number
	producerQuality, producerRisk number
	consumerQuality, consumerRisk number
	risks                         sampling.Risks
	limitingQuality               number
	confidence                    confidence
}

func newPlan() *cobra.Command {
	var f planFlags
	c := &cobra.Command{
		Use:   "plan",
		Short: "Gives a sampling plan: how many to test, how many may be bad",
		Long: `By the tables of ISO 2859-1 (single sampling): --size of the lot, --level
(S-1 to S-4, I, II, III), --aql in percent, --severity. code_letter comes from the
lot size, plan_letter after following the arrows of the table. Where the sample
would be as large as the lot, every unit is tested.

By two points that the plan must respect: lots of --producer-quality are rejected
with at most --producer-risk, lots of --consumer-quality accepted with at most
--consumer-risk; the smallest sample, then the smallest acceptance number.
--distribution is binomial (lots of an endless process), poisson (faults), or
hypergeometric (one lot of --size). Qualities and risks are fractions of 1.

By one point, accepting no bad unit: with --confidence a lot that is accepted has fewer
than --limiting-quality bad; the smallest sample. With --size it is that for one lot of
so many units (hypergeometric), else for lots of an endless process (binomial).

--json prints code_letter, plan_letter, sample_size, accept, reject, all; for two
points sample_size, accept, reject, producer_risk and consumer_risk as attained; for
one point sample_size, accept, reject, limiting_quality, confidence as attained.`,
		Example: `  sinkproof lot plan --size 1000 --aql 1
  sinkproof lot plan --size 500 --level S-3 --aql 2.5 --severity tightened
  sinkproof lot plan --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.06 --consumer-risk 0.1
  sinkproof lot plan --limiting-quality 0.01 --confidence 0.9 --size 500`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}
	fs := c.Flags()
	f.outputs.add(fs)
	fs.IntVar(&f.size, "size", 0, "`number` of units in the lot")
	fs.StringVar(&f.level, "level", "II", "inspection `level`: S-1, S-2, S-3, S-4, I, II or III")
	f.aql.add(fs, "aql", "acceptance quality limit in percent, one of the standard's")
	fs.StringVar(&f.severity, "severity", "normal", "normal, tightened or reduced")
	f.producerQuality.add(fs, "producer-quality", "fraction bad of lots that should be accepted")
	f.producerRisk.add(fs, "producer-risk", "risk that such a lot is rejected")
	f.consumerQuality.add(fs, "consumer-quality", "fraction bad of lots that should be rejected")
	f.consumerRisk.add(fs, "consumer-risk", "risk that such a lot is accepted")
	f.limitingQuality.add(fs, "limiting-quality", "fraction bad that a lot accepted without a bad unit stays below")
	f.confidence.value, f.confidence.set = usual, true
	fs.Var(&f.confidence, "confidence", "confidence of that, between 0 and 1")
	fs.StringVar(&f.distribution, "distribution", "binomial", "`law` of the bad units: binomial, poisson or hypergeometric")
	return c
}

// points tells whether the plan is sought by two points, and refuses half of
// them.
func (f *planFlags) points() (bool, error) {
	flags := []struct {
		name string
		number
	}{{"producer-quality", f.producerQuality}, {"producer-risk", f.producerRisk}, {"consumer-quality", f.consumerQuality}, {"consumer-risk", f.consumerRisk}}
	set, missing := 0, []string{}
	for _, x := range flags {
		if !x.set {
			missing = append(missing, "--"+x.name)
			continue
		}
		set++
		if !(x.value > 0 && x.value < 1) {
			return true, trouble("a fraction between 0 and 1", "--%s %s", x.name, show(x.value))
		}
	}
	switch {
	case set == 0:
		return false, nil
	case len(missing) > 0:
		return true, trouble("a plan by two points needs all four", "%s missing", strings.Join(missing, ", "))
	case f.aql.set:
		return true, trouble("one of the two", "both --aql and two points")
	case !(f.producerQuality.value < f.consumerQuality.value):
		return true, trouble("good lots have fewer bad units than bad ones", "--producer-quality %s is not below --consumer-quality %s", show(f.producerQuality.value), show(f.consumerQuality.value))
	}
	f.risks = sampling.Risks{ProducerQuality: f.producerQuality.value, ProducerRisk: f.producerRisk.value,
		ConsumerQuality: f.consumerQuality.value, ConsumerRisk: f.consumerRisk.value}
	return true, nil
}

func (f *planFlags) run(c *cobra.Command) error {
	two, err := f.points()
	if err != nil {
		return err
	}
	if f.size < 0 || c.Flags().Changed("size") && f.size < 2 {
		return trouble("a lot has two units at least", "--size %d", f.size)
	}
	switch {
	case two && f.limitingQuality.set:
		return trouble("one of the two", "both --limiting-quality and two points")
	case f.limitingQuality.set:
		return f.byOnePoint(c)
	case c.Flags().Changed("confidence"):
		return trouble("--limiting-quality FRACTION", "--confidence without --limiting-quality")
	case two:
		return f.byPoints(c)
	}
	return f.byTables(c)
}

// lawOf reads the name of a law.
func lawOf(name string) (sampling.Law, error) {
	for _, l := range []sampling.Law{sampling.Binomial, sampling.Poisson, sampling.Hypergeometric} {
		if l.String() == name {
			return l, nil
		}
	}
	return 0, trouble("--distribution binomial, poisson or hypergeometric", "--distribution %q", name)
}

func (f *planFlags) byPoints(c *cobra.Command) error {
	law, err := lawOf(f.distribution)
	if err != nil {
		return err
	}
	if law == sampling.Hypergeometric && f.size == 0 {
		return trouble("--size N, or --distribution binomial for lots of an endless process", "hypergeometric without the size of the lot")
	}
	lot := sampling.Lot{Law: law, Size: f.size}
	p, err := sampling.Find(lot, f.risks)
	if err != nil {
		return trouble("take qualities that lie farther apart, or larger risks", "%w", err)
	}
	var out finding
	addPlan(&out, p.Plan)
	out.fields.number("producer_risk", p.ProducerRisk)
	out.fields.number("consumer_risk", p.ConsumerRisk)
	out.section.Facts = append(planFacts(p.Plan),
		page.Row{Label: "producer's risk", Text: fmt.Sprintf("%s at %s bad, %s allowed", percent(p.ProducerRisk), percent(f.risks.ProducerQuality), percent(f.risks.ProducerRisk))},
		page.Row{Label: "consumer's risk", Text: fmt.Sprintf("%s at %s bad, %s allowed", percent(p.ConsumerRisk), percent(f.risks.ConsumerQuality), percent(f.risks.ConsumerRisk))})
	out.draw = func() (figures, error) { return drawPlan(p.Plan, lot, &f.risks) }
	return f.show(c, study{kind: "Sampling plan", title: fmt.Sprintf("test %d, accept up to %d bad", p.N, p.Accept), lead: "The smallest sample that keeps both risks.",
		findings: []finding{out}, method: []string{"Exact by the " + law.String() + " law; the smallest sample, then the smallest acceptance number, that keeps both risks."}})
}

func (f *planFlags) byTables(c *cobra.Command) error {
	switch {
	case f.size == 0:
		return trouble("--size N --aql PERCENT, two points (--producer-quality ...), or one (--limiting-quality)", "the size of the lot is missing")
	case !f.aql.set:
		return trouble("--aql PERCENT: "+aqlWords(), "the acceptance quality limit is missing")
	case !slices.Contains(sampling.Levels(), sampling.Level(f.level)):
		return trouble("S-1, S-2, S-3, S-4, I, II or III", "--level %q", f.level)
	case !slices.Contains(sampling.Limits(), f.aql.value):
		return trouble("in percent: "+aqlWords(), "--aql %s is no limit of the standard", show(f.aql.value))
	case c.Flags().Changed("distribution"):
		return trouble("leave it out", "--distribution with the tables of the standard")
	}
	severity, err := sampling.ParseSeverity(f.severity)
	if err != nil || severity > sampling.Reduced {
		return trouble("normal, tightened or reduced", "--severity %q", f.severity)
	}
	d, err := sampling.Lookup(f.size, sampling.Level(f.level), f.aql.value, severity)
	if err != nil {
		return trouble("", "%w", err)
	}
	var out finding
	out.fields.add("code_letter", d.CodeLetter)
	out.fields.add("plan_letter", d.PlanLetter)
	addPlan(&out, d.Plan)
	out.fields.add("all", d.All)
	out.section.Facts = append([]page.Row{
		{Label: "lot", Text: fmt.Sprintf("%d units, level %s: code letter %s", f.size, f.level, d.CodeLetter)},
		{Label: "plan", Text: fmt.Sprintf("AQL %s %%, %s: letter %s", show(f.aql.value), severity, d.PlanLetter)},
	}, planFacts(d.Plan)...)
	if d.All {
		out.section.Facts = append(out.section.Facts, page.Row{Label: "all units", Text: "the sample of the table is as large as the lot"})
	}
	lot := sampling.Lot{Law: sampling.Hypergeometric, Size: f.size}
	out.draw = func() (figures, error) { return drawPlan(d.Plan, lot, nil) }
	return f.show(c, study{kind: "Sampling plan", title: fmt.Sprintf("lot of %d: test %d, accept up to %d bad", f.size, d.N, d.Accept),
		lead: "How many units of the lot to test, and how many of them may be bad.", findings: []finding{out},
		method: []string{"ISO 2859-1:1999, single sampling; reduced plans have no gap between acceptance and rejection in this edition. The curve is exact for a lot of this size (hypergeometric)."}})
}

func aqlWords() string {
	var words []string
	for _, v := range sampling.Limits() {
		words = append(words, show(v))
	}
	return strings.Join(words, ", ")
}

func addPlan(out *finding, p sampling.Plan) {
	out.fields.add("sample_size", p.N)
	out.fields.add("accept", p.Accept)
	out.fields.add("reject", p.Reject())
}

func planFacts(p sampling.Plan) []page.Row {
	return []page.Row{
		{Label: "test", Text: counted(p.N, "unit")},
		{Label: "accept", Text: fmt.Sprintf("up to %d bad", p.Accept)},
		{Label: "reject", Text: fmt.Sprintf("from %d bad on", p.Reject())},
	}
}
