package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/bench"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
	"sinkproof/scenarios/proving"
)

// selftestFlags are the flags of sinkproof rig selftest.
type selftestFlags struct {
	rig, nest  string
	faults     []string
	seed       uint64
	receptacle bool
	json       bool
	out        string
}

func newSelftest() *cobra.Command {
	var f selftestFlags
	c := described(&cobra.Command{
		Use:   "selftest [--rig FILE]",
		Short: "Proves a rig from measurements alone and names what is wrong with it",
		Long: `Leads the rig through the states of its wiring file whose conditions begin with
"self-test" and reads every channel in each. What a healthy rig reads is computed
from the wiring with all tolerances; where that does not fit, every single fault
of a contact, coil, supply, channel, chip, line or pin is tried in the same
circuit, and those that explain everything are named. Then the alerts, the
heartbeat, the stop and the lid are tried.

The check receptacle is a passive board in place of a unit. Without it
(--receptacle=false) the contacts of the test plug are not proved, and the report
says so.

A rig with several nests is tested nest by nest, or only the one that --nest
names.

With a wiring file of your own the test is on hardware and asks for what hands
must do; with a shipped rig it is on the twin, healthy or broken with
--twin-fault KIND:PART[:INDEX[:VALUE]]. PART is named as in the wiring file:
  a relay, INDEX its contact from 0: contact-welded, contact-stuck-open,
    contact-rest-open, contact-rest-weld; without INDEX: coil-open, coil-driver-on
  a supply: supply-dead; with VALUE in seconds: supply-late, supply-slow-off;
    with VALUE as a proportion: supply-off-value; select-stuck, VALUE 0 or 1
  a chip: chip-absent; INDEX its input: channel-gain, VALUE a proportion;
    mains-hum, VALUE in volts
  a bus: bus-dead, bus-hang, bus-nak, INDEX the transfer; bus-slow, VALUE a factor
  a line: line-stuck, VALUE 0 or 1; monostable-stuck, coil-supply-dead,
    chain-bypassed, stop-pressed; a nest: lid-opened
  a pin of the plug, such as cc1: pin-open; pin-worn, VALUE in ohms

Exit code 3 says that the rig has a fault, 4 that it may not be used.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig selftest
  sinkproof rig selftest --twin-fault contact-welded:k_ccc:0
  sinkproof rig selftest --twin-fault channel-gain:adc1:1:0.02 --json
  sinkproof rig selftest --rig bench-four --nest nest-2 --twin-fault supply-dead:nest-2/csup
  sinkproof rig selftest --rig bench.hcl --out morning`)
	fs := c.Flags()
	fs.StringVar(&f.rig, "rig", defaultRig, "wiring `file`, or the name of a shipped rig")
	fs.StringVar(&f.nest, "nest", "", "only this `nest`, on a rig with several")
	fs.StringArrayVar(&f.faults, "twin-fault", nil, "break the twin: `KIND:PART[:INDEX[:VALUE]]`, more than once for several")
	fs.Uint64Var(&f.seed, "seed", 1, "seed of the twin")
	fs.BoolVar(&f.receptacle, "receptacle", true, "there is a check receptacle to be seated")
	fs.BoolVar(&f.json, "json", false, "print the report for a program")
	fs.StringVar(&f.out, "out", "", "also write selftest.json and selftest.txt into this `folder`")
	return c
}

func (f *selftestFlags) run(c *cobra.Command) error {
	own := exists(f.rig)
	loaded, err := loadRig(f.rig, c.ErrOrStderr())
	if err != nil {
		return err
	}
	views := loaded.Rig.ByNest()
	if f.nest != "" {
		one, err := oneNest(loaded, f.nest)
		if err != nil {
			return err
		}
		views = []*wiring.Rig{one.Rig}
	}
	if err := readyFolder(f.out); err != nil {
		return err
	}
	var hw bench.Hardware
	var hands func(*wiring.Rig) proving.Handler
	release := func() error { return nil }
	if own && len(f.faults) == 0 {
		pc, err := openComputer(c.Context(), loaded.Rig, "sinkproof selftest")
		if err != nil {
			return err
		}
		hw, release = pc.Hardware, pc.Close
		in := newAnswers(c.InOrStdin())
		hands = func(v *wiring.Rig) proving.Handler { return &tester{in: in, out: c.ErrOrStderr(), nest: v.Nest} }
	} else if hw, hands, err = f.twin(loaded.Rig); err != nil {
		return err
	}
	var reports []nestReport
	for _, v := range views {
		r, err := proving.Run(c.Context(), proving.Job{Wiring: v, Hardware: hw, Handler: hands(v), Receptacle: f.receptacle && len(v.Nest.Check) > 0})
		if err != nil {
			return benchTrouble(errors.Join(err, release()))
		}
		reports = append(reports, nestReport{Nest: nestName(v), Report: r})
	}
	if err := release(); err != nil {
		return benchTrouble(err)
	}
	if err := f.show(c.OutOrStdout(), reports); err != nil {
		return err
	}
	var all error
	for i := range reports {
		if err := selftestOutcome(&reports[i].Report); report(io.Discard, err) > report(io.Discard, all) {
			if all = err; reports[i].Nest != "" {
				all = inNest(reports[i].Nest, err)
			}
		}
	}
	return all
}

// nestReport is the self-test of one nest.
type nestReport struct {
	// Nest is absent where the rig has one.
	Nest string `json:"nest,omitempty"`
	proving.Report
}

// nestName is the name of the nest that a rig is seen from; empty where it has one.
func nestName(v *wiring.Rig) string {
	if v.Nest.Number == 0 {
		return ""
	}
	return v.Nest.Name
}

// twin makes a twin that is broken as the flags say.
func (f *selftestFlags) twin(w *wiring.Rig) (bench.Hardware, func(*wiring.Rig) proving.Handler, error) {
	p, _, err := product.Shipped(defaultProduct)
	if err != nil {
		return bench.Hardware{}, nil, fmt.Errorf("load the twin's product: %w", err)
	}
	rig, err := twin.NewRig(twin.Config{Wiring: w, Product: p, Seed: f.seed})
	if err != nil {
		return bench.Hardware{}, nil, fmt.Errorf("simulate the rig %s: %w", w.Name, err)
	}
	hands := func(v *wiring.Rig) proving.Handler { return twinHands{rig, rig.Nests[max(v.Nest.Number-1, 0)]} }
	return rig.Hardware(), hands, breakTwin(rig, f.faults)
}

// breakTwin breaks a twin, or the nests of one, as flags --twin-fault say.
func breakTwin(rig interface{ Break(twin.RigFault) error }, faults []string) error {
	for _, text := range faults {
		fault, err := parseRigFault(text)
		if err == nil {
			err = rig.Break(fault)
		}
		if err != nil {
			return usage("a fault reads KIND:PART[:INDEX[:VALUE]], such as contact-welded:k_ccc:0 or supply-dead:csup", "--twin-fault %s: %w", text, err)
		}
	}
	return nil
}

// parseRigFault reads KIND:PART[:INDEX[:VALUE]]. What takes a time takes the
// value as one, in seconds.
func parseRigFault(text string) (twin.RigFault, error) {
	parts := strings.Split(text, ":")
	if len(parts) < 2 || len(parts) > 4 {
		return twin.RigFault{}, fmt.Errorf("it has %d parts between colons, 2 to 4 are wanted", len(parts))
	}
	f := twin.RigFault{Kind: twin.RigFaultKind(parts[0]), Part: parts[1]}
	var err error
	if len(parts) > 2 && parts[2] != "" {
		if f.Index, err = strconv.Atoi(parts[2]); err != nil {
			return f, fmt.Errorf("index: %w", err)
		}
	}
	if len(parts) > 3 {
		if f.Value, err = strconv.ParseFloat(parts[3], 64); err != nil {
			return f, fmt.Errorf("value: %w", err)
		}
		f.For = time.Duration(f.Value * float64(time.Second))
	} else if wants := valued[f.Kind]; wants != "" {
		return f, fmt.Errorf("%s wants a value, %s; without one nothing would be broken", f.Kind, wants)
	}
	return f, nil
}

// valued says what the value is of a fault that is none without one.
var valued = map[twin.RigFaultKind]string{
	twin.ChannelGain: "a proportion such as 0.02", twin.SupplyOff: "a proportion such as 0.06",
	twin.SupplyLate: "a time in seconds such as 0.7", twin.SupplySlowOff: "a time in seconds such as 0.7",
	twin.MainsHum: "volts such as 0.3", twin.BusSlow: "a factor such as 3", twin.PinWorn: "ohms such as 200",
}

// twinHands are the hands of the twin.
type twinHands struct {
	rig  *twin.Rig
	twin *twin.Twin // of the nest
}

func (h twinHands) Act(ctx context.Context, a proving.Action, rest func(context.Context) error) error {
	var err error
	switch a {
	case proving.EmptyNest, proving.TakeReceptacle:
		h.twin.Unseat()
	case proving.SeatReceptacle:
		err = h.twin.SeatCheck()
	case proving.PressStop:
		err = h.rig.Break(twin.RigFault{Kind: twin.StopPressed})
	case proving.OpenLid:
		err = h.twin.Break(twin.RigFault{Kind: twin.LidOpened})
	case proving.ReleaseStop, proving.CloseLid:
		h.rig.Release()
	}
	_ = rest(ctx) // what the rig sees there it tells by itself
	return err
}

// tester is a person at the keyboard who is asked for what hands must do.
type tester struct {
	in   *answers
	out  io.Writer
	nest wiring.Nest
}

func (p *tester) Act(ctx context.Context, a proving.Action, rest func(context.Context) error) error {
	where := ""
	if p.nest.Number > 0 {
		where = p.nest.Name + ": "
	}
	fmt.Fprintf(p.out, "%sPlease %s and press Enter.\n", where, a)
	done := p.in.next()
	for {
		select {
		case err := <-done:
			if err != nil {
				return fmt.Errorf("wait for the operator: %w", err)
			}
			return nil
		default:
		}
		if err := rest(ctx); err != nil && ctx.Err() != nil {
			return ctx.Err()
		} else if err != nil {
			// The rig saw it; it is isolated and its run over. Enter still
			// tells that the hands are away.
			select {
			case err := <-done:
				return err
			case <-ctx.Done():
				return ctx.Err()
			}
		}
	}
}

// answers hands out one line of a person at a time.
type answers struct {
	lines chan error
}

// newAnswers reads lines in a goroutine that outlives a cancelled test by at
// most the program, which ends then.
func newAnswers(in io.Reader) *answers {
	a := &answers{lines: make(chan error)}
	go func() {
		one := make([]byte, 1)
		for {
			_, err := in.Read(one)
			if err != nil || one[0] == '\n' {
				a.lines <- err
			}
			if err != nil {
				return
			}
		}
	}()
	return a
}

func (a *answers) next() <-chan error { return a.lines }

// show prints the reports and writes them where that was asked for.
func (f *selftestFlags) show(w io.Writer, list []nestReport) error {
	var text, data strings.Builder
	for i := range list {
		if list[i].Nest != "" {
			fmt.Fprintf(&text, "%s\n", list[i].Nest)
		}
		if err := printSelftest(&text, &list[i].Report); err != nil {
			return err
		}
	}
	var program any = list
	if len(list) == 1 {
		program = list[0]
	}
	if err := printJSON(&data, program); err != nil {
		return err
	}
	if f.out != "" {
		if err := errors.Join(writeBelow(f.out, "selftest.txt", []byte(text.String())), writeBelow(f.out, "selftest.json", []byte(data.String()))); err != nil {
			return err
		}
	}
	shown := text.String()
	if f.json {
		shown = data.String()
	}
	if _, err := io.WriteString(w, shown); err != nil {
		return fmt.Errorf("print the self-test: %w", err)
	}
	return nil
}

// printSelftest prints the table for a person.
func printSelftest(w io.Writer, r *proving.Report) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "step\tat\tvalue\tread\tlimits\t\n")
	for _, s := range r.Steps {
		name, at := s.Name, fmt.Sprintf("%.2f s", s.At.Seconds())
		if s.Trouble != "" {
			fmt.Fprintf(t, "%s\t%s\t\t\t\t%s\n", name, at, "✗ "+s.Trouble)
			name, at = "", ""
		} else if len(s.Items) == 0 { // a stop, a lid, an alert: it did what it must
			fmt.Fprintf(t, "%s\t%s\t\t\t\t✓\n", name, at)
		}
		for _, x := range s.Items {
			mark := "✓"
			if !x.OK {
				mark = "✗"
			}
			fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\n", name, at, x.Name, x.Text, x.Limits, mark)
			name, at = "", ""
		}
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the self-test: %w", err)
	}
	fmt.Fprint(w, "\nLimits are those of the true value: ✓ where it may lie between them, within the worst of the errors that the reading can have.\n")
	fmt.Fprintf(w, "%s, version %s: %d steps in %.1f s of bench time", r.Rig, r.Version, len(r.Steps), r.Bench.Seconds())
	if r.Seated {
		fmt.Fprint(w, ", nest empty and with the check receptacle\n")
	} else {
		fmt.Fprint(w, ", nest empty\n")
	}
	for _, u := range r.Unproved {
		fmt.Fprintf(w, "not proved: %s\n", u)
	}
	for _, x := range r.Findings {
		fmt.Fprintf(w, "finding: %s\n  measured: %s\n  next: %s\n", x, x.Evidence, x.Rework)
	}
	if r.Healthy() {
		fmt.Fprintln(w, "nothing found")
	}
	return nil
}

// selftestOutcome is the exit code: a stop or a lid that cannot be trusted
// refuses the bench, every other fault means that it could not judge.
func selftestOutcome(r *proving.Report) error {
	if r.Healthy() {
		return nil
	}
	for _, x := range r.Findings {
		for _, s := range x.Suspects {
			if s.Fault == proving.NotCut {
				return refused(fmt.Errorf("the safety chain is not proved: %s", x), x.Rework)
			}
		}
	}
	return noJudge(fmt.Errorf("the rig has a fault: %s", r.Findings[0]), r.Findings[0].Rework)
}
