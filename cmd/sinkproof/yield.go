package main

import (
	"errors"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/cmd/sinkproof/statistics"
	"sinkproof/reports/ledger"
	"sinkproof/reports/quality/proportion"
)

// yieldFlags are the flags of sinkproof ledger yield.
type yieldFlags struct {
	ledger                 string
	product, lot, supplier string
	since, until           string
	json                   bool
	files                  studyFiles
}

func newYield() *cobra.Command {
	var f yieldFlags
	c := described(&cobra.Command{
		Use:   "yield --ledger FILE",
		Short: "Counts what passed, and which checks failed most",
		Long: `Counts the runs in the ledger by verdict, the first runs of their serials among
them (first-pass yield, with its exact interval at 95 %), and the runs in which
each check failed. Records under suspicion are left out. Where runs were simulated,
the answer says so, and how many.

Answers come from a file of columns beside the ledger (its name with -values), which
follows the ledger at each start, proves nothing and may be deleted.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof ledger yield --ledger line/ledger.db
  sinkproof ledger yield --ledger line/ledger.db --since 2026-05-01 --pdf may.pdf
  sinkproof ledger yield --ledger line/ledger.db --supplier "Board house A" --since 2026-05-01 --until 2026-06-01 --json`)
	fs := c.Flags()
	fs.StringVar(&f.ledger, "ledger", "sinkproof-runs/ledger.db", "the ledger's `file`")
	fs.StringVar(&f.product, "product", "", "only units of this `product`")
	fs.StringVar(&f.lot, "lot", "", "only units of this `lot`")
	fs.StringVar(&f.supplier, "supplier", "", "only units of this `supplier`")
	fs.StringVar(&f.since, "since", "", "only runs from this `date` on, as 2026-05-31 or 2026-05-31T07:30:00Z")
	fs.StringVar(&f.until, "until", "", "only runs before this `date`")
	fs.BoolVar(&f.json, "json", false, "print it for a program")
	f.files.add(fs, "the answer")
	return c
}

// yieldReport is the answer.
type yieldReport struct {
	// Simulated tells that a twin made at least one of the runs, Twin how many.
	Simulated   bool             `json:"simulated"`
	Twin        int              `json:"simulated_runs"`
	Runs        int              `json:"runs"`
	Passed      int              `json:"passed"`
	Failed      int              `json:"failed"`
	NoVerdict   int              `json:"no_verdict"`
	First       int              `json:"first_runs"`
	FirstPassed int              `json:"first_passed"`
	Yield       *float64         `json:"first_pass_yield,omitempty"`
	Low         *float64         `json:"first_pass_yield_low,omitempty"`
	High        *float64         `json:"first_pass_yield_high,omitempty"`
	Fails       []ledger.Failing `json:"fails"`
}

// instant reads a date or an instant; the zero time for none.
func instant(flag, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	for _, layout := range []string{time.DateOnly, time.RFC3339} {
		if at, err := time.Parse(layout, text); err == nil {
			return at, nil
		}
	}
	return time.Time{}, usage("a date as 2026-05-31, or 2026-05-31T07:30:00Z", "--%s %q is no date", flag, text)
}

func (f *yieldFlags) run(c *cobra.Command) (err error) {
	q := ledger.Question{Product: f.product, Lot: f.lot, Supplier: f.supplier}
	if q.Since, err = instant("since", f.since); err != nil {
		return err
	}
	if q.Until, err = instant("until", f.until); err != nil {
		return err
	}
	if err := f.files.check(); err != nil {
		return err
	}
	values, err := ledger.OpenValues(c.Context(), f.ledger, statistics.Behind(c.ErrOrStderr(), f.ledger))
	if err != nil {
		return ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, values.Close()) }()
	y, err := values.Yield(c.Context(), q)
	if err != nil {
		return ledgerTrouble(err)
	}
	fails, err := values.Pareto(c.Context(), q)
	if err != nil {
		return ledgerTrouble(err)
	}
	r := yieldReport{
		Simulated: y.Twin > 0, Twin: y.Twin,
		Runs: y.Runs, Passed: y.Passed, Failed: y.Failed, NoVerdict: y.NoVerdict, First: y.First, FirstPassed: y.FirstPassed,
		Yield: finite(proportion.Estimate(y.FirstPassed, y.First)), Fails: append([]ledger.Failing{}, fails...),
	}
	exact := proportion.ClopperPearson(y.FirstPassed, y.First, 0.95)
	r.Low, r.High = finite(exact.Low), finite(exact.High)
	if f.files.wanted() {
		if err := f.files.write(r.view(f.of())); err != nil {
			return err
		}
	}
	if f.json {
		return printJSON(c.OutOrStdout(), r)
	}
	return r.print(c.OutOrStdout())
}

// of says of which runs the answer is.
func (f *yieldFlags) of() string {
	text := ""
	for _, x := range [][2]string{{"product", f.product}, {"lot", f.lot}, {"supplier", f.supplier}, {"since", f.since}, {"until", f.until}} {
		if x[1] != "" {
			text += ", " + x[0] + " " + x[1]
		}
	}
	return text
}

// simulated says which of the runs are no evidence; empty where a unit that exists
// was in each of them.
func (r yieldReport) simulated() string {
	return statistics.Simulated(r.Twin, r.Runs, "runs were simulated")
}

func (r yieldReport) print(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "%d runs: %d passed, %d failed, %d without verdict\n", r.Runs, r.Passed, r.Failed, r.NoVerdict)
	if r.Simulated {
		fmt.Fprintln(t, r.simulated())
	}
	if r.Yield != nil {
		fmt.Fprintf(t, "first-pass yield %.2f %% (%.2f to %.2f %%), %d of %d\n", 100**r.Yield, 100**r.Low, 100**r.High, r.FirstPassed, r.First)
	}
	if len(r.Fails) > 0 {
		fmt.Fprintln(t, "\nFAILED CHECK\tRUNS\tOF ALL")
	}
	for _, f := range r.Fails {
		fmt.Fprintf(t, "%s\t%d\t%s\n", f.Check, f.Runs, share(float64(f.Runs)/float64(r.Runs)))
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the yield: %w", err)
	}
	return nil
}
