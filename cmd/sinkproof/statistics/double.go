package statistics

import (
	"fmt"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/sampling"
)

// doubleFlags are the flags of sinkproof lot double.
type doubleFlags struct {
	outputs
	plan                sampling.Double
	at                  string
	firstBad, secondBad int
}

func newDouble() *cobra.Command {
	var f doubleFlags
	c := &cobra.Command{
		Use:   "double --first-size N1 --first-accept C1 --second-size N2 --second-accept C2",
		Short: "Tells what a plan with a second sample accepts, and judges a lot by it",
		Long: `A first sample with --first-accept bad units or fewer accepts the lot, one with
--first-reject or more rejects it. Between them a second sample is tested: with
--second-accept bad units or fewer, those of both samples together, it accepts the
lot, else it rejects it. Very good and very bad lots are decided by the first, smaller
sample.

For fractions of bad units it tells the probability that a lot is accepted, that it is
accepted by the first sample, and the mean number tested, for lots of an endless
process (binomial).

--first-bad, and --second-bad where a second sample was tested, ask for a judgement:
accepted ends with 0, rejected with 1; with 3 where the second sample is to be tested.

--json prints first_size, first_accept, first_reject, second_size, second_accept,
second_reject, points (fraction, accept_probability, first_probability, mean_tested),
quality_at_95, quality_at_50, quality_at_10: the fractions that are accepted with these
probabilities; with results tested, bad, decision (accept, reject or continue), accepted.`,
		Example: `  sinkproof lot double --first-size 50 --first-accept 1 --second-size 100 --second-accept 3
  sinkproof lot double --first-size 50 --first-accept 1 --second-size 100 --second-accept 3 --first-bad 2 --second-bad 1`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}
	fs := c.Flags()
	f.outputs.add(fs)
	fs.IntVar(&f.plan.N1, "first-size", 0, "`number` of units in the first sample")
	fs.IntVar(&f.plan.Accept1, "first-accept", 0, "`number` of bad ones up to which the first sample accepts")
	fs.IntVar(&f.plan.Reject1, "first-reject", 0, "`number` of bad ones from which on the first sample rejects (default one more than --second-accept)")
	fs.IntVar(&f.plan.N2, "second-size", 0, "`number` of units in the second sample")
	fs.IntVar(&f.plan.Accept2, "second-accept", 0, "`number` of bad ones in both samples up to which the second accepts")
	fs.StringVar(&f.at, "at", "0.001,0.002,0.005,0.01,0.02,0.05,0.1,0.2", "`fractions` of bad units, apart by commas")
	fs.IntVar(&f.firstBad, "first-bad", 0, "judge: `number` of bad ones in the first sample")
	fs.IntVar(&f.secondBad, "second-bad", 0, "judge: `number` of bad ones in the second sample, those of the first not counted")
	return c
}

// mostBetween is how many numbers of bad units may ask for a second sample: each of
// them is looked at for every point of the curve. The standard's plans have ten.
const mostBetween = 1000

// read completes the plan and refuses what is none.
func (f *doubleFlags) read(c *cobra.Command) error {
	given := c.Flags().Changed
	for _, name := range []string{"first-size", "first-accept", "second-size", "second-accept"} {
		if !given(name) {
			return trouble("a plan needs --first-size, --first-accept, --second-size, --second-accept", "--%s is missing", name)
		}
	}
	p := &f.plan
	if !given("first-reject") {
		p.Reject1 = p.Accept2 + 1
	}
	switch {
	case p.N1 < 1 || p.N2 < 1:
		return trouble("each sample has a unit at least", "--first-size %d, --second-size %d", p.N1, p.N2)
	case p.Accept1 < 0 || p.Accept1 >= p.N1:
		return trouble("from 0 to one less than the sample", "--first-accept %d of %d", p.Accept1, p.N1)
	case p.Accept2 <= p.Accept1:
		return trouble("it counts the bad units of both samples", "--second-accept %d is not above --first-accept %d", p.Accept2, p.Accept1)
	case p.Reject1 < p.Accept1+2 || p.Reject1 > p.Accept2+1:
		return trouble(fmt.Sprintf("from %d, else there is no second sample, to %d, else the second is tested for nothing", p.Accept1+2, p.Accept2+1), "--first-reject %d", p.Reject1)
	case p.Accept2 >= p.N1+p.N2:
		return trouble("some number of bad units must reject", "--second-accept %d of %d units", p.Accept2, p.N1+p.N2)
	case p.Reject1-p.Accept1 > mostBetween:
		return trouble(fmt.Sprintf("up to %d numbers of bad units may ask for a second sample", mostBetween), "--first-accept %d, --first-reject %d", p.Accept1, p.Reject1)
	}
	return f.readResults(c)
}

// readResults refuses results that the plan cannot have.
func (f *doubleFlags) readResults(c *cobra.Command) error {
	first, second := c.Flags().Changed("first-bad"), c.Flags().Changed("second-bad")
	switch {
	case second && !first:
		return trouble("--first-bad as well: the bad units of both samples count", "--second-bad without --first-bad")
	case first && (f.firstBad < 0 || f.firstBad > f.plan.N1):
		return trouble("", "--first-bad %d of %s", f.firstBad, counted(f.plan.N1, "unit"))
	case second && (f.secondBad < 0 || f.secondBad > f.plan.N2):
		return trouble("", "--second-bad %d of %s", f.secondBad, counted(f.plan.N2, "unit"))
	case second && f.plan.First(f.firstBad) != sampling.Continue:
		return trouble("leave --second-bad out", "--first-bad %d decides; a second sample does not count", f.firstBad)
	}
	return nil
}

func (f *doubleFlags) run(c *cobra.Command) error {
	if err := f.read(c); err != nil {
		return err
	}
	at, err := fractions(f.at)
	if err != nil {
		return err
	}
	p := f.plan
	out := f.answer(at)
	decision := sampling.Accept
	if c.Flags().Changed("first-bad") {
		decision = f.judge(&out, c.Flags().Changed("second-bad"))
	}
	err = f.show(c, study{kind: "Double sampling plan", title: fmt.Sprintf("test %d, then %d more where that decides nothing", p.N1, p.N2),
		lead: "With which probability a lot is accepted, and how many units that takes.", findings: []finding{out},
		method: []string{"By the binomial law; a second sample is tested to its end (Montgomery, Introduction to Statistical Quality Control, 15.3)."}})
	if err == nil && decision == sampling.Continue {
		return ErrUndecided
	}
	return err
}

func (f *doubleFlags) answer(at []float64) finding {
	var out finding
	p := f.plan
	for _, x := range []struct {
		name  string
		value int
	}{{"first_size", p.N1}, {"first_accept", p.Accept1}, {"first_reject", p.Reject1}, {"second_size", p.N2}, {"second_accept", p.Accept2}, {"second_reject", p.Accept2 + 1}} {
		out.fields.add(x.name, x.value)
	}
	t := page.StudyTable{Columns: []page.StudyColumn{right("Fraction bad"), right("Accepted with"), right("By the first sample"), right("Mean tested")}}
	var points []fields
	for _, fraction := range at {
		accept, first, tested := p.At(fraction)
		x := fields{{name: "fraction", num: fraction}}
		x.number("accept_probability", accept)
		x.number("first_probability", first)
		x.number("mean_tested", tested)
		points = append(points, x)
		t.Rows = append(t.Rows, row(percent(fraction), percent(accept), percent(first), show(tested)))
	}
	out.fields.add("points", listOf(points))
	out.section.Facts = []page.Row{
		{Label: "first sample", Text: fmt.Sprintf("%s: accept up to %d bad, reject from %d on", counted(p.N1, "unit"), p.Accept1, p.Reject1)},
		{Label: "second sample", Text: fmt.Sprintf("%s more: accept up to %d bad of all %d, reject from %d on", counted(p.N2, "unit"), p.Accept2, p.N1+p.N2, p.Accept2+1)},
	}
	for _, x := range []struct {
		name, label string
		accept      float64
	}{{"quality_at_95", "accepted with 95 %", 0.95}, {"quality_at_50", "accepted with 50 %", 0.5}, {"quality_at_10", "accepted with 10 %", 0.1}} {
		out.fields.number(x.name, p.QualityAt(x.accept))
		out.section.Facts = append(out.section.Facts, page.Row{Label: x.label, Text: percent(p.QualityAt(x.accept)) + " bad"})
	}
	out.section.Tables = []page.StudyTable{t}
	out.draw = func() (figures, error) { return drawDouble(p, at) }
	return out
}

// judge adds what the results say.
func (f *doubleFlags) judge(out *finding, second bool) sampling.Decision {
	p, decision, tested, bad := f.plan, f.plan.First(f.firstBad), f.plan.N1, f.firstBad
	if second {
		tested, bad = tested+p.N2, bad+f.secondBad
		decision = p.Second(bad)
	}
	out.fields.add("tested", tested)
	out.fields.add("bad", bad)
	so := fmt.Sprintf("%d bad of %s tested", bad, counted(tested, "unit"))
	switch decision {
	case sampling.Accept:
		out.fields.add("decision", "accept")
		out.judge(true, "the lot is accepted with "+so)
	case sampling.Reject:
		out.fields.add("decision", "reject")
		out.judge(false, "the lot is rejected with "+so)
	default:
		out.fields.add("decision", "continue")
		out.section.Facts = append(out.section.Facts, page.Row{Label: "not decided",
			Text: fmt.Sprintf("%s; test the second sample, in which up to %d bad accept the lot", so, p.Accept2-bad)})
	}
	return decision
}
