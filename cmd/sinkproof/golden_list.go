package main

import (
	"errors"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/golden"
)

// goldenList are the flags of sinkproof rig golden list.
type goldenList struct {
	goldenPlace
	all, json bool
}

func newGoldenList() *cobra.Command {
	var f goldenList
	c := described(&cobra.Command{
		Use:   "list",
		Short: "Lists the golden units of a rig with their latest answers",
		Args:  noArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig golden list
  sinkproof rig golden list --rig bench.hcl --ledger line/ledger.db --all`)
	f.flags(c.Flags())
	c.Flags().BoolVar(&f.all, "all", false, "retired ones, too")
	c.Flags().BoolVar(&f.json, "json", false, "print it for a program")
	return c
}

// listedGolden is a golden unit for a program.
type listedGolden struct {
	Serial     string          `json:"serial"`
	Title      string          `json:"title"`
	Product    string          `json:"product"`
	Fault      string          `json:"fault,omitempty"`
	Expected   record.Expected `json:"expected"`
	ValidHours float64         `json:"valid_hours"`
	Runs       int             `json:"runs"`
	Answer     string          `json:"answer,omitempty"`
	Started    string          `json:"started,omitempty"`
	Deviations []string        `json:"deviations,omitempty"`
	Until      string          `json:"stands_until,omitempty"`
	Retired    string          `json:"retired,omitempty"`
}

func (f *goldenList) run(c *cobra.Command) (err error) {
	view, rig, units, err := f.units(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, view.Close()) }()
	list := []listedGolden{}
	for _, u := range units {
		if u.Retired == nil || f.all {
			list = append(list, listedOf(u))
		}
	}
	if f.json {
		return printJSON(c.OutOrStdout(), list)
	}
	return printGoldens(c.OutOrStdout(), rig, list)
}

func listedOf(u ledger.GoldenUnit) listedGolden {
	g := listedGolden{
		Serial: u.Serial, Title: u.Title, Product: u.Product, Fault: u.Fault, Expected: u.Expected,
		ValidHours: float64(u.ValidS) / 3600, Runs: u.Runs,
	}
	if u.Retired != nil {
		g.Retired = fmt.Sprintf("%s by %s: %s", u.Retired.Made, u.Retired.By, u.Retired.Reason)
	}
	if u.Last == nil {
		return g
	}
	g.Answer, g.Started, g.Deviations = answerWord(u.Last.Answer), u.Last.Started, u.Last.Deviations
	// The time alone: whether it also stands for a scenario is for a run to say.
	terms := golden.Terms{Product: u.Product, Calibration: u.Last.Bench.Calibration}
	for _, d := range golden.NewShift([]golden.Unit{{Golden: u.Golden, Last: goldenRun(u.Last)}}, terms, time.Time{}).Duties {
		if d.Err == nil {
			g.Until = record.Instant(d.Until)
		}
	}
	return g
}

func printGoldens(w io.Writer, rig string, list []listedGolden) error {
	if len(list) == 0 {
		_, err := fmt.Fprintf(w, "rig %s has no golden unit; sinkproof rig golden add registers one\n", rig)
		return err
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "SERIAL\tWHAT\tPRODUCT\tEXPECTED\tRUNS\tLATEST ANSWER\tSTANDS UNTIL")
	for _, g := range list {
		answer, until := g.Answer, g.Until
		if answer == "" {
			answer = "never run"
		}
		if g.Retired != "" {
			answer, until = "retired", g.Retired
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%d\t%s\t%s\n", g.Serial, g.Title, g.Product, clipped(expectedWords(g.Expected), 60), g.Runs, answer, until)
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the golden units: %w", err)
	}
	return nil
}

// goldenRetire are the flags of sinkproof rig golden retire.
type goldenRetire struct {
	goldenPlace
	signed
	serial string
}

func newGoldenRetire() *cobra.Command {
	var f goldenRetire
	c := described(&cobra.Command{
		Use:   "retire --serial S --by PERSON --reason WHY",
		Short: "Takes a golden unit out of use",
		Args:  noArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig golden retire --serial GOLD-1 --by "A. Engineer" --reason "its receptacle is worn out"`)
	f.goldenPlace.flags(c.Flags())
	f.signed.flags(c.Flags())
	c.Flags().StringVar(&f.serial, "serial", "", "the unit's `serial`")
	return c
}

func (f *goldenRetire) run(c *cobra.Command) (err error) {
	if f.serial == "" {
		return usage("give the unit's serial: --serial S", "no serial")
	}
	if err := f.complete(); err != nil {
		return err
	}
	s, err := f.atRig(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	if _, err := s.ledger.RetireGolden(c.Context(), record.GoldenRetirement{Serial: f.serial, Made: record.Instant(s.now()), By: f.by, Reason: f.reason}); err != nil {
		return goldenTrouble(err)
	}
	_, err = fmt.Fprintf(c.OutOrStdout(), "%s is out of use\n", f.serial)
	return err
}
