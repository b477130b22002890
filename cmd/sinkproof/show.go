package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"sinkproof/bench/linux"
	"sinkproof/bench/wiring"
)

// showFlags are the flags of sinkproof rig show.
type showFlags struct {
	rig  string
	json bool
}

func newShow() *cobra.Command {
	var f showFlags
	c := described(&cobra.Command{
		Use:   "show [--rig FILE]",
		Short: "Shows what this computer offers and how a wiring file fits it",
		Long: `Lists the computer's chips of digital lines, each line with who holds it, the I2C
buses and the addresses that answer. With --rig it then shows where each line,
bus and chip of the wiring file is found, and why what does not work does not.

The addresses are asked by reading a byte. While a program of this name holds a
line nothing is asked, since a read may disturb a run.

Exit code 3 says that the rig could not be used as it is, 4 that another program
holds it.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig show
  sinkproof rig show --rig bench.hcl`)
	c.Flags().StringVar(&f.rig, "rig", "", "wiring `file` to fit to the computer")
	c.Flags().BoolVar(&f.json, "json", false, "print it for a program")
	return c
}

func (f *showFlags) run(c *cobra.Command) error {
	var rig *wiring.Rig
	if f.rig != "" {
		loaded, err := loadRig(f.rig, c.ErrOrStderr())
		if err != nil {
			return err
		}
		rig = loaded.Rig
	}
	k, err := startLinux(linux.Options{Consumer: "sinkproof show"})
	if err != nil {
		return err
	}
	o, err := lookAround(c.Context(), k)
	if err == nil && rig != nil {
		o.fit(k, rig)
	}
	if err := errors.Join(err, k.Close()); err != nil {
		return err
	}
	if f.json {
		err = printJSON(c.OutOrStdout(), o)
	} else {
		err = o.print(c.OutOrStdout())
	}
	if err != nil {
		return err
	}
	return o.outcome()
}

// outcome is the exit code: a rig in use is refused, one that does not fit
// cannot judge.
func (o *offer) outcome() error {
	if o.Fits {
		return nil
	}
	bad := 0
	code := exitRefused
	for _, f := range o.Fit {
		if f.Problem == nil {
			continue
		}
		bad++
		if f.Problem.Kind != string(linux.Busy) {
			code = exitNoJudge
		}
	}
	return &outcome{code: code, err: fmt.Errorf("rig %s: %d of %d things do not work on this computer", o.Rig, bad, len(o.Fit))}
}

// print shows it to a person.
func (o *offer) print(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	if len(o.Chips) == 0 {
		fmt.Fprintln(t, "no digital lines")
	}
	for _, c := range o.Chips {
		fmt.Fprintf(t, "%s\t%s\t%d lines\n", c.Device, c.Label, len(c.Lines))
		printProblem(t, c.Problem)
		for _, l := range c.Lines {
			state := "free"
			if l.Used {
				state = "held by " + cmp.Or(l.Holder, "somebody who gave no name")
			}
			fmt.Fprintf(t, "  line %d\t%s\t%s\t%s\n", l.Offset, cmp.Or(l.Name, "-"), l.Direction, strings.Join(append([]string{state}, l.Flags...), ", "))
		}
	}
	if len(o.Buses) == 0 {
		fmt.Fprintln(t, "no I2C bus")
	}
	for _, b := range o.Buses {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", b.Device, b.Name, cmp.Or(b.Clock, "clock not told"), b.answers())
		printProblem(t, b.Problem)
	}
	if o.Rig != "" {
		fmt.Fprintf(t, "\nrig %s on this computer\n", o.Rig)
	}
	for i, f := range o.Fit {
		if f.Problem == nil {
			fmt.Fprintf(t, "ok\t%s %s\t%s\t%s\n", f.Kind, f.Name, f.Wanted, f.Found)
			continue
		}
		fmt.Fprintf(t, "NO\t%s %s\t%s\t%s\n", f.Kind, f.Name, f.Wanted, f.Problem.What)
		// The next step is said once for all that share it.
		if i+1 == len(o.Fit) || o.Fit[i+1].Problem == nil || o.Fit[i+1].Problem.Next != f.Problem.Next {
			printNext(t, f.Problem)
		}
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("show the computer: %w", err)
	}
	return nil
}

func printProblem(w io.Writer, p *problem) {
	if p == nil {
		return
	}
	// No tab: a sentence must not widen the columns.
	fmt.Fprintf(w, "    %s\n", p.What)
	printNext(w, p)
}

func printNext(w io.Writer, p *problem) {
	if p.Next != "" {
		fmt.Fprintf(w, "    next: %s\n", p.Next)
	}
}

func (b *offeredBus) answers() string {
	if !b.Asked {
		if b.Problem != nil {
			return "cannot be used"
		}
		return "addresses not asked: a run holds the rig"
	}
	if len(b.Answers) == 0 {
		return "no address answers"
	}
	var all []string
	for _, a := range b.Answers {
		text := a.Address
		if a.Claimed {
			text += " (driver of the kernel)"
		}
		if a.Trouble != "" {
			text += " (" + a.Trouble + ")"
		}
		all = append(all, text)
	}
	return strings.Join(all, " ")
}
