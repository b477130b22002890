package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"sinkproof/fixtures/product"
	"sinkproof/reports/ledger"
	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

// lotView says whose lots are looked at.
type lotView struct{ ledger string }

func (v *lotView) open(c *cobra.Command) (*ledger.View, error) {
	view, err := ledger.OpenView(c.Context(), v.ledger)
	if err != nil {
		return nil, ledgerTrouble(err)
	}
	return view, nil
}

const ledgerUsage = "the ledger's `file`"

// lotProgress are the flags of sinkproof lot progress.
type lotProgress struct {
	lotView
	lotWords
	lotOutputs
}

func newLotProgress() *cobra.Command {
	var f lotProgress
	c := described(&cobra.Command{
		Use:   "progress --lot L",
		Short: "Shows a lot: the drawn units with their answers, and what is left to test",
		Args:  noArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof lot progress --lot 2026-19
  sinkproof lot progress --lot 2026-19 --supplier "Board House" --page lot.html --pdf lot.pdf`)
	c.Flags().StringVar(&f.ledger, "ledger", "sinkproof-runs/ledger.db", ledgerUsage)
	f.lotWords.flags(c.Flags())
	f.lotOutputs.flags(c.Flags())
	return c
}

func (f *lotProgress) run(c *cobra.Command) (err error) {
	name, err := f.name()
	if err != nil {
		return err
	}
	if err := f.named(); err != nil {
		return err
	}
	view, err := f.open(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, view.Close()) }()
	shown, err := showable(c.Context(), view, name)
	if err != nil {
		return err
	}
	return f.show(c, shown)
}

// lotJudge are the flags of sinkproof lot judge.
type lotJudge struct {
	goldenPlace
	lotWords
	lotOutputs
	by, abandon string
	steady      bool
}

func newLotJudge() *cobra.Command {
	var f lotJudge
	c := described(&cobra.Command{
		Use:   "judge --lot L --by PERSON",
		Short: "Accepts or rejects a lot by the first answers of its drawn units",
		Long: `Accepts the lot once every drawn unit has its answer, rejects it as soon as more
units are bad than may be, and commits that to the ledger. Only faults of units
count: a unit of which the bench could not tell is to be tested again, with
sinkproof run --lot. The first answer that could be trusted stands.

--steady says that production is steady and that reduced inspection is wanted:
without it inspection is never reduced. --abandon REASON closes a lot that has no
answer yet and never will; it counts for nothing, and the reason is kept.

Ends with code 0 where the lot is accepted or abandoned, 1 where it is rejected, 3
where it cannot be judged yet.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof lot judge --lot 2026-19 --by "Q. Engineer" --pdf lot-2026-19.pdf
  sinkproof lot judge --lot 2026-20 --by "A. Buyer" --abandon "sent back, wet on arrival"`)
	fs := c.Flags()
	f.goldenPlace.flags(fs)
	f.lotWords.flags(fs)
	f.lotOutputs.flags(fs)
	fs.StringVar(&f.by, "by", "", "`person` who judges")
	fs.BoolVar(&f.steady, "steady", false, "production is steady, and reduced inspection is wanted where the rules allow it")
	fs.StringVar(&f.abandon, "abandon", "", "`reason` to close the lot without an answer")
	return c
}

func (f *lotJudge) run(c *cobra.Command) (err error) {
	name, err := f.name()
	if err != nil {
		return err
	}
	if err := f.named(); err != nil {
		return err
	}
	if f.by == "" {
		return usage(`--by "Q. Engineer"`, "somebody must answer for it: --by")
	}
	if f.abandon != "" && f.steady {
		return usage("one of the two", "--abandon and --steady contradict each other")
	}
	s, err := f.atRig(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	given := record.LotJudgement{LotName: name, Bench: s.bench, Made: record.Instant(s.now()), By: f.by, Steady: f.steady}
	if f.abandon != "" {
		given.Outcome, given.Reason = record.Abandoned, f.abandon
	}
	_, _, judged := s.ledger.JudgeLot(c.Context(), given)
	if judged != nil && !errors.Is(judged, ledger.ErrUndecided) {
		return lotTrouble(judged)
	}
	shown, err := showable(c.Context(), &s.ledger.View, name)
	if err != nil {
		return err
	}
	if err := f.show(c, shown); err != nil {
		return err
	}
	if judged != nil {
		return noJudge(fmt.Errorf("lot %s: %w", plot.Visible(shown.Lot.Lot), ledger.ErrUndecided), "sinkproof run --lot "+shown.Lot.Lot+" --serial "+nextSerial(shown.standing))
	}
	if shown.Judged.Outcome == record.Rejected {
		return judgedBad()
	}
	return nil
}

// nextSerial is the unit to test next.
func nextSerial(s record.LotStanding) string {
	for _, u := range s.Units {
		if u.Answer == "" {
			return u.Serial
		}
	}
	return ""
}

// lotList are the flags of sinkproof lot list.
type lotList struct {
	lotView
	supplier, product string
	json              bool
}

func newLotList() *cobra.Command {
	var f lotList
	c := described(&cobra.Command{
		Use:   "list",
		Short: "Lists the lots, and how the next one of each supplier is inspected",
		Args:  noArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof lot list
  sinkproof lot list --supplier "Board House" --json`)
	c.Flags().StringVar(&f.ledger, "ledger", "sinkproof-runs/ledger.db", ledgerUsage)
	c.Flags().StringVar(&f.supplier, "supplier", "", "the lots of this `supplier` only")
	c.Flags().StringVar(&f.product, "product", "", "the lots of this product only: a `file`, or the name of a shipped one")
	c.Flags().BoolVar(&f.json, "json", false, "print them for a program")
	return c
}

// sourceLine is how a supplier's next lot is inspected, for a program.
type sourceLine struct {
	Supplier string `json:"supplier"`
	Product  string `json:"product"`
	Next     string `json:"next_severity"`
	Score    int    `json:"switching_score"`
	Open     string `json:"open_lot,omitempty"`
	words    string
}

func (f *lotList) run(c *cobra.Command) (err error) {
	var only string
	if f.product != "" {
		p, _, err := product.Load(f.product)
		if err != nil {
			return usage("", "--product: %w", err)
		}
		only = p.Name
	}
	view, err := f.open(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, view.Close()) }()
	lots, err := view.Lots(c.Context())
	if err != nil {
		return ledgerTrouble(err)
	}
	out := struct {
		Lots    []lotLine    `json:"lots"`
		Sources []sourceLine `json:"suppliers"`
	}{[]lotLine{}, []sourceLine{}}
	seen := map[[2]string]bool{}
	for _, l := range lots {
		if f.supplier != "" && l.Supplier != f.supplier || only != "" && l.Product != only {
			continue
		}
		s, err := view.LotStanding(c.Context(), l)
		if err != nil {
			return ledgerTrouble(err)
		}
		out.Lots = append(out.Lots, lineOf(l, s))
		if seen[[2]string{l.Supplier, l.Product}] {
			continue
		}
		seen[[2]string{l.Supplier, l.Product}] = true
		in, err := view.Inspection(c.Context(), l.Supplier, l.Product)
		if err != nil {
			return ledgerTrouble(err)
		}
		out.Sources = append(out.Sources, sourceOf(in))
	}
	if f.json {
		return printJSON(c.OutOrStdout(), out)
	}
	return printLots(c.OutOrStdout(), out.Lots, out.Sources)
}

func sourceOf(in ledger.Inspection) sourceLine {
	s := sourceLine{Supplier: in.Supplier, Product: in.Product, Next: in.Switching.Severity.String(), Score: in.Switching.Score, words: page.NextText(in.Switching)}
	if in.Open != nil {
		s.Open = in.Open.Lot
		s.words = fmt.Sprintf("Lot %s is open; its outcome says how the next one is inspected.", in.Open.Lot)
	}
	return s
}

func printLots(w io.Writer, lots []lotLine, sources []sourceLine) error {
	if len(lots) == 0 {
		_, err := fmt.Fprintln(w, "no lot was opened; sinkproof lot open opens one")
		return err
	}
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "LOT\tSUPPLIER\tPRODUCT\tOPENED\tUNITS\tINSPECTION\tTESTED\tBAD\tACCEPT\tOUTCOME")
	for _, l := range lots {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%d\t%s\t%d of %d\t%d\t%d\t%s\n",
			plot.Visible(l.Lot), plot.Visible(l.Supplier), plot.Visible(l.Product), l.Opened, l.Size, l.Severity, l.Tested, l.SampleSize, l.Bad, l.Accept, l.Outcome)
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the lots: %w", err)
	}
	fmt.Fprintln(&b)
	for _, s := range sources {
		fmt.Fprintf(&b, "%s, %s: %s\n", plot.Visible(s.Supplier), plot.Visible(s.Product), plot.Visible(s.words))
	}
	_, err := io.WriteString(w, trimmed(b.String()))
	return err
}

// lotResume are the flags of sinkproof lot resume.
type lotResume struct {
	goldenPlace
	signed
	supplier, product string
}

func newLotResume() *cobra.Command {
	var f lotResume
	c := described(&cobra.Command{
		Use:   "resume --supplier S --by PERSON --reason WHY",
		Short: "Inspects the lots of a discontinued supplier again, tightened",
		Long: `The switching rules end the inspection of a supplier after five lots were rejected
on tightened inspection. Once the supplier has acted, a named person says what it
did, and the next lot is inspected, tightened.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof lot resume --supplier "Board House" --by "Q. Engineer" --reason "new stencil, first-article report 14"`)
	f.goldenPlace.flags(c.Flags())
	f.signed.flags(c.Flags())
	c.Flags().StringVar(&f.supplier, "supplier", "", "the `supplier`")
	c.Flags().StringVar(&f.product, "product", defaultProduct, "product `file`, or the name of a shipped product")
	return c
}

func (f *lotResume) run(c *cobra.Command) (err error) {
	if f.supplier == "" {
		return usage(`--supplier "Board House"; sinkproof lot list shows them`, "no supplier")
	}
	if err := f.complete(); err != nil {
		return err
	}
	prod, _, err := product.Load(f.product)
	if err != nil {
		return usage("", "--product: %w", err)
	}
	s, err := f.atRig(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	if _, err := s.ledger.ResumeSupplier(c.Context(), record.SupplierResumption{
		Supplier: f.supplier, Product: prod.Name, Bench: s.bench, Made: record.Instant(s.now()), By: f.by, Reason: f.reason,
	}); err != nil {
		return lotTrouble(err)
	}
	_, err = fmt.Fprintf(c.OutOrStdout(), "%s: the next lot is on tightened inspection\n", plot.Visible(f.supplier))
	return err
}
