package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

func newUnit() *cobra.Command {
	var path string
	var asJSON bool
	c := described(&cobra.Command{
		Use:   "unit SERIAL",
		Short: "Shows the history of a serial: every run, the first answer first",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) (err error) {
			view, err := ledger.OpenView(c.Context(), path)
			if err != nil {
				return ledgerTrouble(err)
			}
			defer func() { err = errors.Join(err, view.Close()) }()
			rows, err := view.History(c.Context(), args[0])
			if err != nil {
				return fmt.Errorf("history of %s: %w", args[0], err)
			}
			if len(rows) == 0 && !asJSON {
				return usage("check the serial and the --ledger", "ledger %s: no run of serial %q", path, args[0])
			}
			if asJSON {
				return printJSON(c.OutOrStdout(), episodes(rows))
			}
			return printHistory(c.OutOrStdout(), rows)
		},
	}, `  sinkproof unit HL-0001
  sinkproof unit --ledger sinkproof-demo/ledger.db --json HL-0001`)
	c.Flags().StringVar(&path, "ledger", "sinkproof-runs/ledger.db", "the ledger's `file`")
	c.Flags().BoolVar(&asJSON, "json", false, "print the history for a program")
	return c
}

// episode is one run of a serial, for a program.
type episode struct {
	Run         string   `json:"run"`
	Serial      string   `json:"serial"`
	Product     string   `json:"product"`
	Lot         string   `json:"lot,omitempty"`
	Supplier    string   `json:"supplier,omitempty"`
	Attempt     int      `json:"attempt"`
	AllowedBy   string   `json:"allowed_by,omitempty"`
	Bench       string   `json:"bench"`
	BenchKind   string   `json:"bench_kind"`
	Started     string   `json:"started"`
	State       string   `json:"state"`
	Verdict     string   `json:"verdict,omitempty"`
	Bin         string   `json:"bin,omitempty"`
	Reason      string   `json:"reason,omitempty"`
	Failed      []string `json:"checks_failed"`
	Hash        string   `json:"hash,omitempty"`
	OpenedEntry int64    `json:"opened_entry"`
	ClosedEntry int64    `json:"closed_entry,omitempty"`
	// Suspect tells that a suspicion falls on the record that nobody withdrew.
	Suspect    bool            `json:"suspect"`
	Suspicions []heldSuspicion `json:"suspicions,omitempty"`
}

func episodes(rows []ledger.Row) []episode {
	list := make([]episode, 0, len(rows))
	for _, r := range rows {
		list = append(list, episode{
			Run: r.Run, Serial: r.Serial, Product: r.Product, Lot: r.Lot, Supplier: r.Supplier,
			Attempt: r.Attempt, AllowedBy: r.AllowedBy, Bench: r.Bench, BenchKind: r.BenchKind,
			Started: record.Instant(r.Started), State: state(r), Verdict: string(r.Verdict), Bin: string(r.Bin),
			Reason: r.Reason, Failed: append([]string{}, r.Failed...), Hash: r.ClosedHash,
			OpenedEntry: r.OpenedSeq, ClosedEntry: r.ClosedSeq, Suspect: r.Suspect(),
		})
		for _, s := range r.Suspicions {
			last := &list[len(list)-1]
			last.Suspicions = append(last.Suspicions, heldOf(s))
		}
	}
	return list
}

func state(r ledger.Row) string {
	switch {
	case r.Interrupted:
		return "interrupted"
	case r.Open:
		return "open"
	}
	return "closed"
}

func printHistory(w io.Writer, rows []ledger.Row) error {
	first := rows[0]
	fmt.Fprintf(w, "%s  %s", first.Serial, first.Product)
	if first.Lot != "" {
		fmt.Fprintf(w, "  lot %s", first.Lot)
	}
	if first.Supplier != "" {
		fmt.Fprintf(w, "  from %s", first.Supplier)
	}
	fmt.Fprintln(w)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "ATTEMPT\tSTARTED\tBENCH\tVERDICT\tBIN\tFAILED BY, OR WHY")
	for _, r := range rows {
		why := strings.Join(r.Failed, ", ")
		if why == "" {
			why = r.Reason
		}
		if r.AllowedBy != "" {
			why = strings.TrimSpace(why + " (allowed by " + r.AllowedBy + ")")
		}
		verdict := string(r.Verdict)
		if state(r) != "closed" {
			verdict = state(r)
		}
		fmt.Fprintf(t, "%d\t%s\t%s\t%s\t%s\t%s\n", r.Attempt, r.Started.UTC().Format("2006-01-02 15:04:05Z"), r.Bench, verdict, r.Bin, why)
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the history: %w", err)
	}
	return printDoubts(w, rows)
}

// printDoubts names the suspicions that fall on the records of a serial.
func printDoubts(w io.Writer, rows []ledger.Row) error {
	var b strings.Builder
	for _, r := range rows {
		for _, s := range r.Suspicions {
			word := "UNDER SUSPICION"
			if s.Withdrawn != nil {
				word = "suspicion withdrawn " + withdrawnWords(*s.Withdrawn) + ". It was"
			}
			fmt.Fprintf(&b, "attempt %d %s: golden unit %s deviated on %s: %s\n", r.Attempt, word, s.Serial, s.Made, record.Brief(s.Why))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}
