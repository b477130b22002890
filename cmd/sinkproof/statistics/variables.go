package statistics

import (
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/normality"
	"sinkproof/reports/quality/sampling"
)

// variablesFlags are the flags of sinkproof lot variables.
type variablesFlags struct {
	inputs
	outputs
	pointFlags
	n                      int
	k, sigma, lower, upper number
	at                     string
}

func newVariables(explain func(error) error) *cobra.Command {
	var f variablesFlags
	f.ledger.explain = explain
	c := &cobra.Command{
		Use:   "variables [FILE]",
		Short: "Plans and judges a lot by a measured value: fewer units than by good and bad",
		Long: `A lot is accepted when the mean of its sample lies at least k standard deviations of
the sample inside each limit. Values must follow a normal law; then far fewer units
tell as much as counting bad ones does. --sigma says that the standard deviation of
the process is known, and takes it instead.

The plan follows from two points (--producer-quality, --producer-risk,
--consumer-quality, --consumer-risk): the smallest sample that keeps both risks for
one limit, with the k that uses the producer's risk up; any k down to k_consumer does.
Or it is given: --sample-size and --k.

With a file or a ledger the lot is judged by --lower, --upper or both (from a ledger
the records' own limits, unless given): as many values as the plan has units. Where it
is rejected the program ends with 1.

--json prints sample_size, k, k_consumer, k_producer, producer_risk, consumer_risk,
points (fraction, accept_probability); with values n, mean, sd, q_lower, q_upper,
below_lower, above_upper, shapiro_wilk_p, accepted. What is undefined is left out.`,
		Example: `  sinkproof lot variables --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.06 --consumer-risk 0.1
  sinkproof lot variables temperature.csv --value celsius --sample-size 5 --k 1.53 --upper 209
  sinkproof lot variables --ledger line/ledger.db --check rd-cc1 --lot 2026-19 --sample-size 35 --k 1.89 --page lot.html`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	fs.StringVar(&f.value, "value", "", "`column` of the values; may be left out where only one is left")
	addFormat(fs, &f.format)
	f.ledger.add(fs)
	f.outputs.add(fs)
	f.pointFlags.add(fs)
	fs.IntVar(&f.n, "sample-size", 0, "`number` of units tested")
	f.k.add(fs, "k", "how many standard deviations the mean must lie inside a limit")
	f.sigma.add(fs, "sigma", "known standard deviation of the process")
	f.lower.add(fs, "lower", "lower limit")
	f.upper.add(fs, "upper", "upper limit")
	fs.StringVar(&f.at, "at", "0.001,0.002,0.005,0.01,0.02,0.05,0.1,0.2", "`fractions` beyond a limit, apart by commas")
	return c
}

// plan is the one that is sought or given; risks are nil for the latter.
func (f *variablesFlags) plan(c *cobra.Command) (p sampling.FoundVariables, risks *sampling.Risks, err error) {
	r, two, err := f.risks()
	given := f.n != 0 || c.Flags().Changed("sample-size") || f.k.set
	least := 3 // a sample judged by its own spread; see sampling.Measure
	if f.sigma.set {
		least = 1
	}
	switch {
	case err != nil:
		return p, nil, err
	case f.sigma.set && !(f.sigma.value > 0):
		return p, nil, trouble("a standard deviation above 0", "--sigma %s", show(f.sigma.value))
	case two && given:
		return p, nil, trouble("one of the two", "both two points and --sample-size or --k")
	case two:
		if p, err = sampling.FindVariables(r, f.sigma.set); err != nil {
			return p, nil, trouble("take qualities that lie farther apart, or larger risks", "%w", err)
		}
		return p, &r, nil
	case !given:
		return p, nil, trouble("--sample-size N --k K, or two points (--producer-quality ...)", "which plan?")
	case !f.k.set:
		return p, nil, trouble("--k K goes with --sample-size", "--k is missing")
	case f.n < least:
		return p, nil, trouble("", "--sample-size %d: the plan takes %d units at least", f.n, least)
	}
	p.Variables = sampling.Variables{N: f.n, K: f.k.value, Known: f.sigma.set}
	p.KConsumer, p.KProducer = math.NaN(), math.NaN()
	return p, nil, nil
}

func (f *variablesFlags) run(c *cobra.Command, args []string) error {
	plan, risks, err := f.plan(c)
	if err != nil {
		return err
	}
	at, err := fractions(f.at)
	if err != nil {
		return err
	}
	out := f.planned(plan, risks, at)
	s := study{kind: "Plan by variables", title: fmt.Sprintf("test %d, mean at least %s standard deviations inside", plan.N, show(plan.K)),
		lead: "A lot judged by the mean and the spread of a measured value."}
	if len(args) > 0 || f.ledger.path != "" || f.ledger.check != "" {
		t, err := f.judged(c, args, plan, risks, &out)
		if err != nil {
			return err
		}
		s.title, s.started, s.simulation = t.title(), t.started, t.simulation
	} else if f.lower.set || f.upper.set || f.value != "" {
		return trouble(c.CommandPath()+" FILE --value COLUMN", "limits or a column, and no values")
	}
	s.findings, s.method = []finding{out}, f.sources()
	return f.show(c, s)
}

func (f *variablesFlags) sources() []string {
	law := "noncentral t, the standard deviation being that of the sample"
	if f.sigma.set {
		law = "normal, the standard deviation being known"
	}
	return []string{
		"Probability of acceptance: exact for one limit (" + law + "; Lieberman and Resnikoff, JASA 50 (1955) 457). With two limits each is judged alone, and lots near both are rejected a little more often.",
		"Shares beyond the limits: unbiased of smallest variance, same source. All of it supposes normal values, drawn at random.",
	}
}

// planned is the finding of the plan.
func (f *variablesFlags) planned(p sampling.FoundVariables, risks *sampling.Risks, at []float64) finding {
	var out finding
	out.fields.add("sample_size", p.N)
	out.fields.number("k", p.K)
	out.fields.number("k_consumer", p.KConsumer)
	out.fields.number("k_producer", p.KProducer)
	out.section.Facts = []page.Row{{Label: "test", Text: counted(p.N, "unit")},
		{Label: "accept", Text: "mean at least " + show(p.K) + " standard deviations inside each limit"}}
	if risks != nil {
		producer, consumer := 1-p.Accepts(risks.ProducerQuality), p.Accepts(risks.ConsumerQuality)
		out.fields.number("producer_risk", producer)
		out.fields.number("consumer_risk", consumer)
		out.section.Facts = append(out.section.Facts,
			page.Row{Label: "producer's risk", Text: fmt.Sprintf("%s at %s beyond, %s allowed", percent(producer), percent(risks.ProducerQuality), percent(risks.ProducerRisk))},
			page.Row{Label: "consumer's risk", Text: fmt.Sprintf("%s at %s beyond, %s allowed", percent(consumer), percent(risks.ConsumerQuality), percent(risks.ConsumerRisk))},
			page.Row{Label: "room of k", Text: show(p.KConsumer) + " to " + show(p.KProducer) + " keeps both"})
	}
	t := page.StudyTable{Columns: []page.StudyColumn{right("Fraction beyond"), right("Accepted with")}}
	var points []fields
	for _, fraction := range at {
		x := fields{{name: "fraction", num: fraction}}
		x.number("accept_probability", p.Accepts(fraction))
		points = append(points, x)
		t.Rows = append(t.Rows, row(percent(fraction), percent(p.Accepts(fraction))))
	}
	out.fields.add("points", listOf(points))
	out.section.Tables = []page.StudyTable{t}
	out.draw = func() (figures, error) { return figures{wide(variablesCurve(p.Variables, risks))}, nil }
	return out
}

// judged adds the judgement of a sample.
func (f *variablesFlags) judged(c *cobra.Command, args []string, plan sampling.FoundVariables, risks *sampling.Risks, out *finding) (*table, error) {
	if err := f.oneSource(c, args); err != nil {
		return nil, err
	}
	l := capability.Limits{Lower: f.lower.or(math.Inf(-1)), Upper: f.upper.or(math.Inf(1)), Target: math.NaN()}
	if f.lower.set && f.upper.set && !(l.Lower < l.Upper) {
		return nil, trouble("", "--lower %s is not below --upper %s", show(l.Lower), show(l.Upper))
	}
	if !f.lower.set && !f.upper.set && f.ledger.path == "" {
		return nil, trouble("--lower L, --upper U, or both", "no limit to judge by")
	}
	t, err := f.read(c, args, want{})
	if err != nil {
		return nil, err
	}
	if l, err = t.orLimits(l); err != nil {
		return nil, err
	}
	if err := l.Check(); err != nil {
		return nil, trouble("--lower L, --upper U, or both", "no limit to judge by")
	}
	if len(t.values) != plan.N {
		return nil, trouble("test as many units as the plan has, drawn at random, and leave none out", "%s: %s of %q, the plan takes %d", t.source, counted(len(t.values), "value"), t.column, plan.N)
	}
	if err := t.spreads(); err != nil && !f.sigma.set {
		return nil, err
	}
	m, err := f.measure(t.values, l)
	if err != nil {
		return nil, trouble("", "%s: %w", t.source, err)
	}
	shape := math.NaN()
	if s, err := normality.ShapiroWilk(t.values); err == nil {
		shape = s.P
	}
	f.judge(out, t, l, m, plan, risks, shape)
	return t, nil
}

// measure holds the sample against its limits, by its own spread or the known one.
func (f *variablesFlags) measure(values []float64, l capability.Limits) (sampling.Measured, error) {
	if !f.sigma.set {
		return sampling.Measure(values, l.Lower, l.Upper)
	}
	sum := 0.0
	for _, v := range values {
		sum += v / float64(len(values))
	}
	return sampling.Measured{Mean: sum, SD: f.sigma.value, QLower: (sum - l.Lower) / f.sigma.value, QUpper: (l.Upper - sum) / f.sigma.value,
		BelowLower: math.NaN(), AboveUpper: math.NaN()}, nil
}

func (f *variablesFlags) judge(out *finding, t *table, l capability.Limits, m sampling.Measured, plan sampling.FoundVariables, risks *sampling.Risks, shape float64) {
	out.fields.add("n", len(t.values))
	nearest := math.Min(m.QLower, m.QUpper)
	below, above := m.BelowLower, m.AboveUpper
	if math.IsInf(l.Lower, 0) {
		below = math.NaN()
	}
	if math.IsInf(l.Upper, 0) {
		above = math.NaN()
	}
	for _, x := range []struct {
		name  string
		value float64
	}{{"mean", m.Mean}, {"sd", m.SD}, {"q_lower", m.QLower}, {"q_upper", m.QUpper}, {"below_lower", below}, {"above_upper", above}, {"shapiro_wilk_p", shape}} {
		out.fields.number(x.name, x.value)
	}
	out.section.Facts = append(out.section.Facts,
		page.Row{Label: "sample", Text: fmt.Sprintf("%s, mean %s, standard deviation %s", counted(len(t.values), "value"), show(m.Mean), show(m.SD))},
		page.Row{Label: "limits", Text: limitWords(l)})
	for _, x := range []struct {
		label  string
		q, bad float64
	}{{"to the lower limit", m.QLower, below}, {"to the upper limit", m.QUpper, above}} {
		if !math.IsInf(x.q, 0) {
			out.section.Facts = append(out.section.Facts, page.Row{Label: x.label, Text: fmt.Sprintf("%s standard deviations; estimated beyond it: %s", show(x.q), percent(x.bad))})
		}
	}
	if !math.IsNaN(shape) {
		said := "Shapiro-Wilk p " + showP(shape)
		if shape < 0.05 {
			said += ": these values are not normal, and the plan supposes it"
		}
		out.section.Facts = append(out.section.Facts, page.Row{Label: "normal?", Text: said})
	}
	out.section.Facts = append(out.section.Facts, t.leftRows()...)
	out.draw = func() (figures, error) { return drawVariables(t, l, m, plan, risks) }
	verb := "is accepted"
	if !m.Acceptable(plan.K) {
		verb = "is rejected"
	}
	out.judge(m.Acceptable(plan.K), fmt.Sprintf("the lot %s: the mean lies %s standard deviations inside the nearest limit, %s are wanted", verb, show(nearest), show(plan.K)))
}
