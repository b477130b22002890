package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sinkproof/cmd/sinkproof/statistics"
	"sinkproof/fixtures/product"
	"sinkproof/reports/ledger"
	"sinkproof/reports/page"
	"sinkproof/reports/quality/sampling"
	"sinkproof/reports/record"
)

// newLot is the command for sampling plans, with incoming lots on the ledger.
func newLot() *cobra.Command {
	c := statistics.NewLot(ledgerTrouble)
	c.Short = "Plans samples; opens, follows and judges incoming lots"
	c.Long = `plan, curve, double, variables and sequential answer questions about sampling plans;
double, variables and sequential judge a sample as well. The others inspect incoming
lots by ISO 2859-1, with the ledger as the memory of every supplier:

open draws the units to test, and the draw is an entry of the signed chain
before any of them is tested. The plan follows from the lots of the supplier
before: normal, tightened or reduced inspection, or none.

sinkproof run --lot tests them. progress tells how far it is, judge accepts or
rejects. A unit counts by its first answer that could be trusted: a fault of the
bench asks for a retest, and no retest hides a first answer.`
	c.AddCommand(newLotOpen(), newLotProgress(), newLotJudge(), newLotList(), newLotResume())
	return c
}

// lotWords say which lot is meant.
type lotWords struct{ lot, supplier, product string }

func (w *lotWords) flags(fs *pflag.FlagSet) {
	fs.StringVar(&w.lot, "lot", "", "the `lot`, as the supplier names it")
	fs.StringVar(&w.supplier, "supplier", "", "the `supplier` of the lot; may be left out where the lot's name leaves no doubt")
	fs.StringVar(&w.product, "product", "", "product `file`, or the name of a shipped product; may be left out likewise")
}

// name is the lot that is meant.
func (w *lotWords) name() (record.LotName, error) {
	n := record.LotName{Lot: w.lot, Supplier: w.supplier}
	if w.lot == "" {
		return n, usage("--lot 2026-19; sinkproof lot list shows them", "no lot")
	}
	if w.product == "" {
		return n, nil
	}
	p, _, err := product.Load(w.product)
	if err != nil {
		return n, usage("", "--product: %w", err)
	}
	n.Product = p.Name
	return n, nil
}

// lotTrouble turns what the ledger says about lots into an outcome.
func lotTrouble(err error) error {
	switch {
	case errors.Is(err, ledger.ErrDiscontinued):
		return refused(err, "sinkproof lot resume, once the supplier has acted")
	case errors.Is(err, sampling.ErrPlan):
		return usage("sinkproof lot plan shows what the tables have", "%w", err)
	case errors.Is(err, ledger.ErrUndecided):
		return noJudge(err, "sinkproof lot progress names the units")
	case errors.Is(err, ledger.ErrLot):
		return usage("sinkproof lot list shows the lots", "%w", err)
	case errors.Is(err, record.ErrInvalid):
		return usage("", "%w", err)
	}
	return ledgerTrouble(err)
}

// lotOutputs are the ways of showing a lot.
type lotOutputs struct {
	json      bool
	page, pdf string
}

func (o *lotOutputs) flags(fs *pflag.FlagSet) {
	fs.BoolVar(&o.json, "json", false, "print the lot for a program")
	fs.StringVar(&o.page, "page", "", "write the lot's page into this HTML `file`")
	fs.StringVar(&o.pdf, "pdf", "", "write the same as PDF into this `file`")
}

// named refuses names that are not those of a page, before anything is kept: a
// slip must not write over the list of serials.
func (o *lotOutputs) named() error {
	switch ext := strings.ToLower(filepath.Ext(o.page)); {
	case o.page != "" && ext != ".html" && ext != ".htm":
		return usage("--page FILE.html", "--page %s is no name of a page", o.page)
	case o.pdf != "" && !strings.EqualFold(filepath.Ext(o.pdf), ".pdf"):
		return usage("--pdf FILE.pdf", "--pdf %s is no name of a PDF", o.pdf)
	}
	return nil
}

// shownLot is a lot with all that is shown of it.
type shownLot struct {
	ledger.Lot
	standing   record.LotStanding
	inspection ledger.Inspection
	// doubted are units whose answer fell under suspicion after the judgement.
	doubted []string
}

// showable reads what is shown of a lot.
func showable(ctx context.Context, v *ledger.View, name record.LotName) (shownLot, error) {
	l, err := v.Lot(ctx, name)
	if err != nil {
		return shownLot{}, lotTrouble(err)
	}
	s := shownLot{Lot: l}
	if s.standing, err = v.LotStanding(ctx, l); err == nil {
		s.inspection, err = v.Inspection(ctx, l.Supplier, l.Product)
	}
	if err == nil {
		s.doubted, err = v.LotDoubts(ctx, l)
	}
	if err != nil {
		return s, ledgerTrouble(err)
	}
	return s, nil
}

// show prints a lot and writes its pages.
func (o *lotOutputs) show(c *cobra.Command, s shownLot) error {
	if err := o.write(c.ErrOrStderr(), s); err != nil {
		return err
	}
	if o.json {
		return printJSON(c.OutOrStdout(), lotOf(s))
	}
	return printLot(c.OutOrStdout(), s)
}

func (o *lotOutputs) write(notes io.Writer, s shownLot) error {
	view := page.Lot{Standing: s.standing, Seq: s.Seq, Hash: s.Hash, Judged: s.Judged, Doubted: s.doubted, Next: s.inspection.Switching}
	for _, l := range s.inspection.Lots {
		view.Before = append(view.Before, page.LotBefore{LotDraw: l.LotDraw, Judged: l.Judged})
	}
	study := page.NewLot(view)
	for _, out := range []struct {
		path string
		make func() ([]byte, error)
	}{{o.page, study.HTML}, {o.pdf, study.PDF}} {
		if out.path == "" {
			continue
		}
		data, err := out.make()
		if err != nil {
			return fmt.Errorf("make %s: %w", out.path, err)
		}
		err = os.MkdirAll(filepath.Dir(out.path), 0o755)
		if err == nil {
			err = record.WriteFile(out.path, data, 0o644)
		}
		if err != nil {
			return usage("name a file in a folder that may be written", "write %s: %w", out.path, err)
		}
		if !o.json {
			fmt.Fprintln(notes, "written:", out.path)
		}
	}
	return nil
}

// against completes a unit that is run against an open lot, and says so where
// its answer will not count. It returns the lot; nil where the label is that of
// none that was opened.
func (s *station) against(ctx context.Context, u unit) (unit, *ledger.Lot, error) {
	if u.lot == "" {
		return u, nil, nil
	}
	lots, err := s.ledger.LotsNamed(ctx, record.LotName{Lot: u.lot, Supplier: u.supplier, Product: s.papers.product.Name})
	if err != nil {
		return u, nil, ledgerTrouble(err)
	}
	if len(lots) == 0 {
		return u, nil, nil
	}
	if len(lots) > 1 {
		return u, nil, usage("say --supplier", "lot %q may be %s or %s", u.lot, lots[0].LotName, lots[1].LotName)
	}
	l := &lots[0]
	u.supplier = l.Supplier
	switch {
	case l.Judged != nil:
		s.screen.line("%s was %s: this run does not change that", l.LotName, l.Judged.Outcome)
	case !drawnIn(l, u.serial):
		s.screen.line("%s is not among the %d units drawn of lot %s: its answer does not count", u.serial, len(l.Drawn), l.Lot)
	}
	return u, l, nil
}

func drawnIn(l *ledger.Lot, serial string) bool {
	for _, s := range l.Drawn {
		if s == serial {
			return true
		}
	}
	return false
}

// tellLot says how far the inspection of a lot is after a run.
func (s *station) tellLot(ctx context.Context, l *ledger.Lot) error {
	if l == nil || l.Judged != nil {
		return nil
	}
	standing, err := s.ledger.LotStanding(ctx, *l)
	if err != nil {
		return ledgerTrouble(err)
	}
	next := ""
	if standing.Outcome() != record.Undecided {
		next = "; sinkproof lot judge keeps that"
	}
	s.screen.line("lot %s: %s%s", l.Lot, standing.Reason(), next)
	return nil
}

// plural is a number with its noun.
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, strings.TrimSuffix(noun, "s"))
}
