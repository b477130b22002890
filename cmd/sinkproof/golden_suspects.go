package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

// goldenSuspects are the flags of sinkproof rig golden suspects.
type goldenSuspects struct {
	goldenPlace
	all, json bool
}

func newGoldenSuspects() *cobra.Command {
	var f goldenSuspects
	c := described(&cobra.Command{
		Use:   "suspects",
		Short: "Lists the records that golden units have put under suspicion",
		Long: `Lists every suspicion that stands, with the serials whose records were made since
the last good answer of the golden unit that then deviated.

Exit code 1 says that a suspicion stands.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig golden suspects
  sinkproof rig golden suspects --ledger line/ledger.db --all --json`)
	f.flags(c.Flags())
	c.Flags().BoolVar(&f.all, "all", false, "withdrawn ones, too")
	c.Flags().BoolVar(&f.json, "json", false, "print it for a program")
	return c
}

// heldSuspicion is a suspicion for a program.
type heldSuspicion struct {
	Run       string           `json:"run"`
	Golden    string           `json:"golden_unit"`
	Bench     string           `json:"bench"`
	Made      string           `json:"made"`
	Why       []string         `json:"why"`
	Entry     int64            `json:"entry"`
	Since     int64            `json:"since_entry"`
	Serials   []string         `json:"serials"`
	Records   []record.Suspect `json:"records"`
	Withdrawn string           `json:"withdrawn,omitempty"`
}

func heldOf(s ledger.Suspicion) heldSuspicion {
	h := heldSuspicion{
		Run: s.Run, Golden: s.Serial, Bench: s.Bench.Name, Made: s.Made, Why: s.Why, Entry: s.Entry, Since: s.Since,
		Serials: append([]string{}, s.Serials()...), Records: append([]record.Suspect{}, s.Suspects...),
	}
	if s.Withdrawn != nil {
		h.Withdrawn = withdrawnWords(*s.Withdrawn)
	}
	return h
}

func withdrawnWords(w record.Withdrawal) string {
	return fmt.Sprintf("%s by %s: %s", w.Made, w.By, w.Reason)
}

func (f *goldenSuspects) run(c *cobra.Command) (err error) {
	view, err := ledger.OpenView(c.Context(), f.path())
	if err != nil {
		return ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, view.Close()) }()
	all, err := view.Suspicions(c.Context())
	if err != nil {
		return ledgerTrouble(err)
	}
	list, standing := []heldSuspicion{}, false
	for _, s := range all {
		if s.Withdrawn == nil || f.all {
			list = append(list, heldOf(s))
		}
		standing = standing || s.Withdrawn == nil
	}
	if f.json {
		err = printJSON(c.OutOrStdout(), list)
	} else {
		err = printSuspicions(c.OutOrStdout(), list)
	}
	if err == nil && standing {
		err = judgedBad()
	}
	return err
}

func printSuspicions(w io.Writer, list []heldSuspicion) error {
	if len(list) == 0 {
		_, err := fmt.Fprintln(w, "no record is under suspicion")
		return err
	}
	var b strings.Builder
	for _, s := range list {
		fmt.Fprintf(&b, "%s  golden unit %s on %s, %s: %s\n", s.Run, s.Golden, s.Bench, s.Made, record.Brief(s.Why))
		fmt.Fprintf(&b, "  records since entry %d: %s\n", s.Since, suspectWords(s.Serials))
		if s.Withdrawn != "" {
			fmt.Fprintf(&b, "  withdrawn %s\n", s.Withdrawn)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// goldenWithdraw are the flags of sinkproof rig golden withdraw.
type goldenWithdraw struct {
	goldenPlace
	signed
	golden string
}

func newGoldenWithdraw() *cobra.Command {
	var f goldenWithdraw
	c := described(&cobra.Command{
		Use:   "withdraw --run ID --by PERSON --reason WHY",
		Short: "Says that the records of a suspicion stand after all",
		Args:  noArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig golden withdraw --run 019b91e4-0b00-7758-9a43-4c211bc6c6bf --by "Q. Engineer" --reason "the golden unit was dirty; all suspects were tested again"`)
	f.goldenPlace.flags(c.Flags())
	f.signed.flags(c.Flags())
	c.Flags().StringVar(&f.golden, "run", "", "`id` of the golden run that deviated, as suspects prints it")
	return c
}

func (f *goldenWithdraw) run(c *cobra.Command) (err error) {
	if f.golden == "" {
		return usage("sinkproof rig golden suspects prints it: --run ID", "no golden run")
	}
	if err := f.complete(); err != nil {
		return err
	}
	s, err := f.atRig(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	w := record.Withdrawal{Run: f.golden, Bench: s.bench, Made: record.Instant(s.now()), By: f.by, Reason: f.reason}
	if _, err := s.ledger.Withdraw(c.Context(), w); err != nil {
		return goldenTrouble(err)
	}
	all, err := s.ledger.Suspicions(c.Context())
	if err != nil {
		return ledgerTrouble(err)
	}
	for _, held := range all {
		if held.Run != f.golden {
			continue
		}
		if err := s.republish(c.Context(), held.Suspicion); err != nil {
			return noJudge(err, "the withdrawal is safe in the ledger, only the reports do not say so: mend the output folder")
		}
		_, err = fmt.Fprintf(c.OutOrStdout(), "withdrawn for %s\n", suspectWords(held.Serials()))
	}
	return err
}
