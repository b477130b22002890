package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
)

// budgetFlags are the flags of sinkproof rig budget.
type budgetFlags struct {
	rig, nest   string
	channel, at string
	coverage    float64
	ledger      string
	question    question
	json        bool
}

// twoSigma is the coverage probability at which k is 2 for a normal
// distribution (JCGM 100:2008, table G.1).
const twoSigma = 0.9545

func newBudget() *cobra.Command {
	var f budgetFlags
	c := described(&cobra.Command{
		Use:   "budget [--rig FILE] [--channel NAME] [--at VALUE]",
		Short: "Shows what each channel's readings are uncertain by, and why",
		Long: `Prints the uncertainty budget of a reading (JCGM 100) before anything is
measured: each contribution with its distribution, divisor, sensitivity and
degrees of freedom, the combined standard uncertainty, the effective degrees of
freedom (Welch-Satterthwaite), the coverage factor and the expanded uncertainty.

Nominal values and tolerances come from the wiring file, with --ledger from the
latest calibration in it. With limits it also says what the uncertainty does to a
decision (JCGM 106): acceptance limits, probability of conformance, specific risk.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig budget
  sinkproof rig budget --channel vbus --at "4.75 V"
  sinkproof rig budget --rig bench.hcl --channel rd1 --at "5.1 kΩ" --json
  sinkproof rig budget --channel rd1 --at "5.58 kΩ" --lower "4.59 kΩ" --upper "5.61 kΩ" --guard 1`)
	fs := c.Flags()
	fs.StringVar(&f.rig, "rig", defaultRig, "wiring `file`, or the name of a shipped rig")
	fs.StringVar(&f.nest, "nest", "", "`nest` whose calibration is taken, on a rig with several")
	fs.StringVar(&f.channel, "channel", "", "the `channel`; all of them without it")
	fs.StringVar(&f.at, "at", "", "the `value` that is read (default: half of the channel's highest)")
	fs.Float64Var(&f.coverage, "coverage", twoSigma, "coverage `probability` of the expanded uncertainty")
	fs.StringVar(&f.ledger, "ledger", "", "ledger `file` whose latest calibration of the rig is taken")
	f.question.flags(fs)
	fs.BoolVar(&f.json, "json", false, "print it for a program")
	return c
}

func (f *budgetFlags) run(c *cobra.Command) error {
	if !(f.coverage > 0 && f.coverage < 1) {
		return usage("--coverage 0.95", "--coverage %g is no probability between 0 and 1", f.coverage)
	}
	if f.at != "" && f.channel == "" {
		return usage("name the channel: --channel NAME", "--at %s belongs to one channel", f.at)
	}
	rig, err := loadRig(f.rig, c.ErrOrStderr())
	if err != nil {
		return err
	}
	if f.question.asked() && f.channel == "" {
		return usage("name the channel: --channel NAME", "limits belong to one channel")
	}
	kind := record.Twin
	if exists(f.rig) {
		kind = record.Hardware
	}
	// Nests are built alike: only their calibrations tell them apart.
	if f.ledger != "" || f.nest != "" {
		if rig, err = oneNest(rig, f.nest); err != nil {
			return err
		}
	}
	cal, err := kept(c.Context(), f.ledger, kind, rig)
	if err != nil {
		return err
	}
	list, err := f.budgets(rig.Rig, cal)
	if err != nil {
		return err
	}
	if f.json {
		return printJSON(c.OutOrStdout(), list)
	}
	return printBudgets(c.OutOrStdout(), list)
}

// budgets are those of the channel that was named, or of all.
func (f *budgetFlags) budgets(w *wiring.Rig, cal *bench.Calibration) ([]channelBudget, error) {
	var list []channelBudget
	var names []string
	for i := range w.Channels {
		c := &w.Channels[i]
		names = append(names, c.Name)
		if f.channel != "" && c.Name != f.channel {
			continue
		}
		at := usual(c)
		if f.at != "" {
			var err error
			if at, err = quantity.ParseAs(f.at, at.Dim); err != nil {
				return nil, usage("", "--at %s: %w", f.at, err)
			}
		}
		expected, err := bench.Expect(w, cal, c.Name, at)
		if err != nil {
			return nil, usage("name another value: --at VALUE", "%w", err)
		}
		for _, e := range expected {
			b := newChannelBudget(c, e, f.coverage)
			if f.question.asked() {
				limits, err := f.question.limits(at.Dim)
				if err != nil {
					return nil, err
				}
				b.Conformity = conform(e.Value, limits, f.question.guard)
			}
			list = append(list, b)
		}
	}
	if len(list) == 0 {
		return nil, usage(cmp.Or(strings.TrimSpace(source.Suggest(f.channel, names)), "channels: "+strings.Join(names, ", ")), "--channel %s: rig %s has no such channel", f.channel, w.Name)
	}
	return list, nil
}

// usual is a value in the middle of what a channel meets: half of its highest,
// the standard's termination, room temperature.
func usual(c *wiring.Channel) quantity.Quantity {
	switch c.Kind {
	case wiring.TerminationChannel:
		return quantity.Ohms(5100)
	case wiring.TemperatureChannel:
		return quantity.Celsius(25)
	}
	return c.Highest.Scale(0.5)
}

// channelBudget is a budget for a program. Numbers are in SI; what is infinite
// is absent.
type channelBudget struct {
	Channel     string       `json:"channel"`
	Title       string       `json:"title"`
	Variant     string       `json:"variant,omitempty"`
	Value       float64      `json:"value"`
	Unit        string       `json:"unit"`
	Bound       string       `json:"bound,omitempty"`
	Conversions int          `json:"conversions"`
	Lines       []budgetLine `json:"contributions"`
	Combined    float64      `json:"combined"`
	DOF         *float64     `json:"effective_dof,omitempty"`
	Coverage    float64      `json:"coverage_probability"`
	K           float64      `json:"k"`
	U           float64      `json:"expanded"`

	// Conformity is absent without limits, for a bound, and where the guard
	// bands leave nothing to accept.
	Conformity *conformity `json:"conformity,omitempty"`

	text quantity.Measured
}

type budgetLine struct {
	Source       string   `json:"source"`
	Distribution string   `json:"distribution"`
	Half         float64  `json:"half_width"`
	Divisor      float64  `json:"divisor"`
	Std          float64  `json:"std"`
	Sensitivity  float64  `json:"sensitivity"`
	DOF          *float64 `json:"dof,omitempty"`
	Share        float64  `json:"share"`
	Percent      float64  `json:"percent_of_variance"`
}

func newChannelBudget(c *wiring.Channel, e bench.Expectation, p float64) channelBudget {
	b := e.Value.Budget(p)
	out := channelBudget{
		Channel: c.Name, Title: c.Title, Variant: e.Variant, Value: b.Value.SI, Unit: b.Value.Dim.Unit(), Conversions: e.Conversions,
		Combined: b.Combined, DOF: finite(b.DOF), Coverage: p, K: b.K, U: b.U, text: e.Value, Lines: []budgetLine{},
	}
	if b.Bound != quantity.Exact {
		out.Bound = b.Bound.String()
	}
	for _, l := range b.Lines {
		out.Lines = append(out.Lines, budgetLine{l.Source, l.Dist, l.Half, l.Divisor, l.Std, l.Sens, finite(l.DOF), l.Share, l.Percent})
	}
	return out
}

// finite is nil for what JSON cannot say.
func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

func printBudgets(w io.Writer, list []channelBudget) error {
	var failed error
	for i, b := range list {
		if i > 0 {
			fmt.Fprintln(w)
		}
		fmt.Fprintf(w, "%s, %s", b.Channel, b.Title)
		if b.Variant != "" {
			fmt.Fprintf(w, " (%s)", b.Variant)
		}
		fmt.Fprintf(w, ": %s, conversions: %d\n", b.text, b.Conversions)
		t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
		fmt.Fprintln(t, "half-width\tdistribution\tdivisor\tstd\tsensitivity\tdof\tshare\tof variance\t  source")
		for _, l := range b.Lines {
			fmt.Fprintf(t, "%.3g\t%s\t%.3f\t%.3g\t%.3g\t%s\t%s\t%.1f %%\t  %s\n", l.Half, l.Distribution, l.Divisor, l.Std, l.Sensitivity,
				degrees(l.DOF), quantity.Quantity{SI: l.Share, Dim: b.text.Dim}.Text(2), l.Percent, l.Source)
		}
		failed = errors.Join(failed, t.Flush())
		fmt.Fprintf(w, "combined %s, effective dof %s, k = %.2f for %.4g %%: U = %s\n",
			quantity.Quantity{SI: b.Combined, Dim: b.text.Dim}.Text(3), degrees(b.DOF), b.K, 100*b.Coverage,
			quantity.Quantity{SI: b.U, Dim: b.text.Dim}.Text(3))
		if b.Bound != "" {
			fmt.Fprintln(w, "beyond what the channel can read: of a higher value it says only this")
		}
		if b.Conformity != nil {
			b.Conformity.print(w, b.text.Dim)
		}
	}
	fmt.Fprint(w, "\nHalf-width and std are in the unit of their cause: V, A or K at the instrument for offset, step and repeatability,\nnone for what is in proportion (gain, tolerance, loading). Sensitivity takes them to the share, in the unit of the reading.\n")
	if failed != nil {
		return fmt.Errorf("print the budgets: %w", failed)
	}
	return nil
}

// manyDegrees is where Student's t is the normal distribution to three digits
// (JCGM 100:2008, table G.2).
const manyDegrees = 1000

func degrees(dof *float64) string {
	if dof == nil {
		return "∞"
	}
	if *dof > manyDegrees {
		return fmt.Sprintf(">%d", manyDegrees)
	}
	return strconv.FormatFloat(*dof, 'f', -1, 64)
}
