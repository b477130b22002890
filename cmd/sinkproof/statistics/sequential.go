package statistics

import (
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sinkproof/cmd/sinkproof/statistics/columns"
	"sinkproof/reports/page"
	"sinkproof/reports/quality/sampling"
)

// ErrUndecided is returned when a judgement was asked for and cannot be made yet.
// The answer was printed already.
var ErrUndecided = errors.New("not decided yet")

// pointFlags are the two points of an operating characteristic.
type pointFlags struct {
	producerQuality, producerRisk number
	consumerQuality, consumerRisk number
}

func (f *pointFlags) add(fs *pflag.FlagSet) {
	f.producerQuality.add(fs, "producer-quality", "fraction bad of lots that should be accepted")
	f.producerRisk.add(fs, "producer-risk", "risk that such a lot is rejected")
	f.consumerQuality.add(fs, "consumer-quality", "fraction bad of lots that should be rejected")
	f.consumerRisk.add(fs, "consumer-risk", "risk that such a lot is accepted")
}

// risks are the two points, and whether they are given.
func (f *pointFlags) risks() (sampling.Risks, bool, error) {
	p := planFlags{producerQuality: f.producerQuality, producerRisk: f.producerRisk, consumerQuality: f.consumerQuality, consumerRisk: f.consumerRisk}
	given, err := p.points()
	return p.risks, given, err
}

// sequentialFlags are the flags of sinkproof lot sequential.
type sequentialFlags struct {
	outputs
	pointFlags
	format    columns.Format
	value, at string
}

func newSequential() *cobra.Command {
	var f sequentialFlags
	c := &cobra.Command{
		Use:   "sequential [FILE] --producer-quality P1 --producer-risk A --consumer-quality P2 --consumer-risk B",
		Short: "Decides about a lot after every unit tested: Wald's sequential plan",
		Long: `After each unit the bad ones so far are held against two lines over the number
tested: at or below the lower one the lot is accepted, at or above the upper one
rejected, between them another unit is tested. On the average this takes about half
the units of a single sample with the same two points. The table says from how many
tested units on the lot is accepted with so many bad ones, and up to how many it is
rejected.

With a file of results, one row per unit in the order of testing (1 or fail for a bad
unit, 0 or pass for a good one), it says whether the lot is decided, and by which
unit: accepted ends with 0, rejected with 1, undecided with 3. Units after the
decision do not count.

--json prints acceptance_intercept, rejection_intercept, slope, boundaries (bad,
accept_from, reject_until), points (fraction, accept_probability, mean_tested); with a
file tested, bad, decision (accept, reject or continue), decided_at, accepted,
accept_from (how many tested units, none of the further ones bad, accept the lot).`,
		Example: `  sinkproof lot sequential --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.1 --consumer-risk 0.1
  sinkproof lot sequential results.csv --value bad --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.1 --consumer-risk 0.1 --page lot.html`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	f.outputs.add(fs)
	f.pointFlags.add(fs)
	fs.StringVar(&f.value, "value", "", "`column` of the results; may be left out where only one is left")
	fs.StringVar(&f.at, "at", "", "`fractions` of bad units for the risks, apart by commas")
	fs.BoolVar(&f.format.NoHeader, "no-header", false, "the first line holds results; columns are called 1, 2, 3")
	return c
}

func (f *sequentialFlags) run(c *cobra.Command, args []string) error {
	risks, given, err := f.risks()
	switch {
	case err != nil:
		return err
	case !given:
		return trouble("--producer-quality, --producer-risk, --consumer-quality, --consumer-risk", "which lots are good, which are bad, and with which risks?")
	}
	plan, err := sampling.NewSequential(risks)
	if err != nil {
		return trouble("both risks together stay below 1", "%w", err)
	}
	if !((mostBoundaries-plan.AcceptIntercept)/plan.Slope < mostTested) {
		return trouble("take a larger --producer-quality", "the plan takes more than %g units", mostTested)
	}
	at := []float64{0, risks.ProducerQuality, plan.Slope, risks.ConsumerQuality}
	if f.at != "" {
		if at, err = fractions(f.at); err != nil {
			return err
		}
	}
	w := &walk{plan: plan}
	s := study{kind: "Sequential plan", title: fmt.Sprintf("%s bad accepted, %s bad rejected", percent(risks.ProducerQuality), percent(risks.ConsumerQuality)),
		lead: "After every unit: accept, reject, or test another one."}
	if len(args) > 0 {
		if err := f.results(c, args, w); err != nil {
			return err
		}
		s.title = w.source + ": " + s.title
	}
	s.findings = []finding{f.answer(w, risks, at)}
	s.method = []string{"Wald, Sequential Analysis (1947), 5. Risks and numbers tested are his approximations, which take no line to be overshot: the risks attained are a little smaller, the numbers a little larger."}
	if err := f.show(c, s); err != nil {
		return err
	}
	if w.tested > 0 && w.decision == sampling.Continue {
		return ErrUndecided
	}
	return nil
}

// walk is a run of results under a plan.
type walk struct {
	plan        sampling.Sequential
	source      string
	tested, bad int
	decision    sampling.Decision
	// decidedAt is the unit by which it was decided; 0 for none. The first ones are
	// bad at the place of each bad unit.
	decidedAt, after int
	bads             []int
}

// step takes the next result.
func (w *walk) step(bad bool) {
	if w.decision != sampling.Continue {
		w.after++
		return
	}
	w.tested++
	if bad {
		w.bad++
		w.bads = append(w.bads, w.tested)
	}
	if w.decision = w.plan.Decide(w.tested, w.bad); w.decision != sampling.Continue {
		w.decidedAt = w.tested
	}
}

// results reads the file of results.
func (f *sequentialFlags) results(c *cobra.Command, args []string, w *walk) error {
	if err := oneFile(c, args); err != nil {
		return err
	}
	err := withTable(c, args[0], f.format, func(r *columns.Reader, name string) error {
		w.source = name
		at, err := (&inputs{value: f.value}).places(r, want{})
		if err != nil {
			return err
		}
		for {
			if err := r.Next(); errors.Is(err, io.EOF) {
				return c.Context().Err()
			} else if err != nil {
				return err
			}
			switch text := string(r.Text(at.value)); text {
			case "0", "pass":
				w.step(false)
			case "1", "fail":
				w.step(true)
			default:
				return wrong(r, name, at.value, "1 or fail for a bad unit, 0 or pass for a good one; a unit that the bench could not judge is no result", "%q is no result", text)
			}
		}
	})
	if err == nil && w.tested == 0 {
		return trouble("one row per unit, in the order of testing", "%s: no result", w.source)
	}
	return err
}

// acceptFrom is the least number tested with which so many bad ones accept.
func acceptFrom(s sampling.Sequential, bad int) int {
	n := max(bad, 1, int(math.Floor((float64(bad)-s.AcceptIntercept)/s.Slope))-1)
	for s.Decide(n, bad) != sampling.Accept {
		n++
	}
	return n
}

// rejectUntil is the greatest number tested with which so many bad ones reject; 0
// for none.
func rejectUntil(s sampling.Sequential, bad int) int {
	n := int(math.Ceil((float64(bad)-s.RejectIntercept)/s.Slope)) + 1
	for n >= bad && n > 0 && s.Decide(n, bad) != sampling.Reject {
		n--
	}
	if n < max(bad, 1) {
		return 0
	}
	return n
}

// mostBoundaries is up to how many bad units the table of boundaries goes.
const mostBoundaries = 10

// mostTested is beyond what a plan is one of paper: nobody tests so many units.
const mostTested = 1e9

func (f *sequentialFlags) answer(w *walk, risks sampling.Risks, at []float64) finding {
	var out finding
	s := w.plan
	out.fields.number("acceptance_intercept", s.AcceptIntercept)
	out.fields.number("rejection_intercept", s.RejectIntercept)
	out.fields.number("slope", s.Slope)
	bounds := page.StudyTable{Title: "Boundaries", Columns: []page.StudyColumn{right("Bad"), right("Accept from"), right("Reject up to")}, Note: "numbers of tested units"}
	var boundaries []fields
	for bad := range mostBoundaries + 1 {
		from, until := acceptFrom(s, bad), rejectUntil(s, bad)
		b := fields{{name: "bad", value: bad}, {name: "accept_from", value: from}}
		cell := dash
		if until > 0 {
			b.add("reject_until", until)
			cell = whole(until)
		}
		boundaries = append(boundaries, b)
		bounds.Rows = append(bounds.Rows, row(whole(bad), whole(from), cell))
	}
	out.fields.add("boundaries", listOf(boundaries))
	curve := page.StudyTable{Title: "Risks", Columns: []page.StudyColumn{right("Fraction bad"), right("Accepted with"), right("Mean tested")}}
	var points []fields
	for _, p := range at {
		accept, tested := s.At(p)
		x := fields{{name: "fraction", num: p}}
		x.number("accept_probability", accept)
		x.number("mean_tested", tested)
		points = append(points, x)
		curve.Rows = append(curve.Rows, row(percent(p), percent(accept), show(tested)))
	}
	out.fields.add("points", listOf(points))
	out.section.Facts = []page.Row{
		{Label: "accept", Text: fmt.Sprintf("bad units at or below %s · tested %s", show(s.Slope), signed(s.AcceptIntercept))},
		{Label: "reject", Text: fmt.Sprintf("bad units at or above %s · tested %s", show(s.Slope), signed(s.RejectIntercept))},
	}
	out.section.Tables = []page.StudyTable{bounds, curve}
	out.draw = func() (figures, error) { return drawSequential(w, risks) }
	w.judge(&out)
	return out
}

// signed prints a number that is added.
func signed(v float64) string {
	if v < 0 {
		return "- " + show(-v)
	}
	return "+ " + show(v)
}

// judge adds what the results say.
func (w *walk) judge(out *finding) {
	if w.tested == 0 {
		return
	}
	out.fields.add("tested", w.tested)
	out.fields.add("bad", w.bad)
	so := fmt.Sprintf("%d bad of %s tested", w.bad, counted(w.tested, "unit"))
	if w.after > 0 {
		so += fmt.Sprintf("; %s after the decision did not count", counted(w.after, "unit"))
	}
	out.section.Facts = append(out.section.Facts, page.Row{Label: "results", Text: so})
	switch w.decision {
	case sampling.Continue:
		from := acceptFrom(w.plan, w.bad)
		out.fields.add("decision", "continue")
		out.fields.add("accept_from", from)
		out.section.Facts = append(out.section.Facts, page.Row{Label: "not decided", Text: fmt.Sprintf("test another unit; %d more without a bad one accept the lot", from-w.tested)})
	case sampling.Accept:
		out.fields.add("decision", "accept")
		out.fields.add("decided_at", w.decidedAt)
		out.judge(true, fmt.Sprintf("the lot is accepted after %s, %d bad", counted(w.decidedAt, "unit"), w.bad))
	default:
		out.fields.add("decision", "reject")
		out.fields.add("decided_at", w.decidedAt)
		out.judge(false, fmt.Sprintf("the lot is rejected after %s, %d bad", counted(w.decidedAt, "unit"), w.bad))
	}
}
