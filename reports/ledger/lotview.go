package ledger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"sinkproof/reports/quality/sampling"
	"sinkproof/reports/record"
)

// Lot is an incoming lot as the ledger knows it.
type Lot struct {
	record.LotDraw
	// Seq and Hash are those of the entry that opened it.
	Seq  int64
	Hash string
	// Judged is set once the lot is judged, JudgedSeq and JudgedHash are those of
	// the entry.
	Judged     *record.LotJudgement
	JudgedSeq  int64
	JudgedHash string
}

// Inspection is the history of a supplier's lots of one product.
type Inspection struct {
	Supplier, Product string
	// Switching is where the switching rules of ISO 2859-1 stand.
	Switching sampling.Switching
	// Open is the lot that is not judged yet; nil for none.
	Open *Lot
	// Lots are all lots in the order of the chain.
	Lots []Lot
}

// Lots returns every lot in the order in which they were opened.
func (v *View) Lots(ctx context.Context) ([]Lot, error) {
	lots, _, err := v.lots(ctx, "", "")
	return lots, explain("ledger "+v.path+": read the lots", err)
}

// Inspection returns the history of a supplier's lots of one product. It is
// empty for a supplier that the ledger does not know.
func (v *View) Inspection(ctx context.Context, supplier, product string) (Inspection, error) {
	lots, switching, err := v.lots(ctx, supplier, product)
	in := Inspection{Supplier: supplier, Product: product, Switching: switching, Lots: lots}
	for i := range lots {
		if lots[i].Judged == nil {
			in.Open = &lots[i]
		}
	}
	return in, explain(fmt.Sprintf("ledger %s: read the lots of %q from %q", v.path, product, supplier), err)
}

// LotsNamed returns the lots of a name, in the order in which they were opened.
// Its supplier and its product may be left out.
func (v *View) LotsNamed(ctx context.Context, name record.LotName) ([]Lot, error) {
	lots, err := v.Lots(ctx)
	return slices.DeleteFunc(lots, func(l Lot) bool { return !meant(name, l.LotName) }), err
}

// Lot returns the one lot of a name. Its supplier and its product may be left
// out where the lot's own name leaves no doubt. It wraps ErrLot where there is
// none, or more than one.
func (v *View) Lot(ctx context.Context, name record.LotName) (Lot, error) {
	lots, err := v.LotsNamed(ctx, name)
	if err != nil {
		return Lot{}, err
	}
	switch len(lots) {
	case 0:
		return Lot{}, fmt.Errorf("ledger %s: lot %q was never opened: %w", v.path, name.Lot, ErrLot)
	case 1:
		return lots[0], nil
	}
	return Lot{}, fmt.Errorf("ledger %s: lot %q may be %s or %s: %w", v.path, name.Lot, lots[0].LotName, lots[1].LotName, ErrLot)
}

// meant tells whether a name that may leave out supplier and product means a lot.
func meant(name, lot record.LotName) bool {
	return name.Lot == lot.Lot && (name.Supplier == "" || name.Supplier == lot.Supplier) && (name.Product == "" || name.Product == lot.Product)
}

// lots reads the lots of a supplier and a product, empty for all, and where the
// switching rules stand after them, which says nothing for all.
func (v *View) lots(ctx context.Context, supplier, product string) ([]Lot, sampling.Switching, error) {
	rows, err := v.db.QueryContext(ctx, `select e.entry from history h join entries e on e.seq = h.seq
		where h.kind in ($1, $2, $3) and `+rare+` and ($4 = '' or h.supplier = $4 and h.product = $5) order by h.seq`,
		string(record.LotOpened), string(record.LotJudged), string(record.SupplierResumed), supplier, product)
	if err != nil {
		return nil, sampling.Switching{}, err
	}
	defer rows.Close()
	var b lotBook
	for rows.Next() {
		var data []byte
		if err := rows.Scan(&data); err != nil {
			return nil, b.switching, err
		}
		e, err := record.DecodeEntry(data)
		if err != nil {
			return nil, b.switching, err
		}
		doc, err := e.Document()
		if err != nil {
			return nil, b.switching, fmt.Errorf("entry %d: %w", e.Seq, err)
		}
		b.add(e, doc)
	}
	return b.lots, b.switching, rows.Err()
}

// lotBook follows lots through the chain.
type lotBook struct {
	lots      []Lot
	switching sampling.Switching
}

func (b *lotBook) add(e record.Entry, doc record.Document) {
	switch d := doc.(type) {
	case record.LotDraw:
		b.lots = append(b.lots, Lot{LotDraw: d, Seq: e.Seq, Hash: e.Hash})
	case record.LotJudgement:
		for i := range b.lots {
			if b.lots[i].ID == d.Draw {
				b.lots[i].Judged, b.lots[i].JudgedSeq, b.lots[i].JudgedHash = &d, e.Seq, e.Hash
				counted(&b.switching, b.lots[i].LotDraw, d)
			}
		}
	case record.SupplierResumption:
		b.switching.Resume()
	}
}

// counted lets a judged lot count for the switching rules. An abandoned one was
// never inspected.
func counted(s *sampling.Switching, d record.LotDraw, j record.LotJudgement) {
	if j.Outcome == record.Abandoned {
		return
	}
	s.Next(sampling.Judged{Accepted: j.Outcome == record.Accepted, Accept: d.Plan.Accept, Tighter: j.Tighter, Steady: j.Steady})
}

// admit is the severity of a new lot, where one may be opened.
func (in Inspection) admit(name record.LotName) (sampling.Severity, error) {
	for _, l := range in.Lots {
		if l.LotName == name {
			return 0, fmt.Errorf("entry %d opened it already: a sample is drawn once: %w", l.Seq, ErrLot)
		}
	}
	if in.Open != nil {
		return 0, fmt.Errorf("%s is open, and its outcome says how hard the next one is inspected: %w", in.Open.LotName, ErrLot)
	}
	if in.Switching.Severity == sampling.Discontinued {
		return 0, fmt.Errorf("five lots were rejected on tightened inspection: %w", ErrDiscontinued)
	}
	return in.Switching.Severity, nil
}

// LotStanding is how far the inspection of a lot is: of one that is judged, as
// it was judged.
func (v *View) LotStanding(ctx context.Context, l Lot) (record.LotStanding, error) {
	runs := map[string][]record.LotRun{}
	if l.Judged != nil {
		for _, u := range l.Judged.Units {
			for i := range u.Runs {
				if u.Runs[i].Run == u.Run {
					u.Runs[i].Failed = u.Failed
				}
			}
			runs[u.Serial] = u.Runs
		}
		return l.Standing(runs), nil
	}
	doing := fmt.Sprintf("ledger %s: read the runs of %s", v.path, l.LotName)
	suspects, err := v.Suspects(ctx)
	if err != nil {
		return record.LotStanding{}, err
	}
	for _, serial := range l.Drawn {
		list, err := v.lotRuns(ctx, l, serial, suspects)
		if err != nil {
			return record.LotStanding{}, explain(doing, err)
		}
		if len(list) > 0 {
			runs[serial] = list
		}
	}
	return l.Standing(runs), nil
}

// LotDoubts names the drawn units of a judged lot whose answer has fallen under a
// suspicion since, which nobody withdrew. The judgement stays as it is: somebody
// has to look at the lot again.
func (v *View) LotDoubts(ctx context.Context, l Lot) ([]string, error) {
	if l.Judged == nil {
		return nil, nil
	}
	suspects, err := v.Suspects(ctx)
	var list []string
	for _, u := range l.Judged.Units {
		if u.Run != "" && standing(suspects[u.Run]) {
			list = append(list, u.Serial)
		}
	}
	return list, err
}

// lotRuns are the ended runs of a unit against a lot, in the order in which
// they were closed.
func (v *View) lotRuns(ctx context.Context, l Lot, serial string, suspects map[string][]Suspicion) ([]record.LotRun, error) {
	rows, err := v.db.QueryContext(ctx, `select c.seq, c.run, c.kind, c.verdict, c.failed, c.reason
		from history o join history c on c.serial = o.serial and c.run = o.run and c.kind in ($1, $2)
		where o.serial = $3 and o.kind = $4 and o.seq > $5 and o.lot = $6 and o.supplier = $7 and o.product = $8
		order by c.seq`,
		string(record.RunClosed), string(record.RunInterrupted), serial, string(record.RunOpened), l.Seq, l.Lot, l.Supplier, l.Product)
	if err != nil {
		return nil, err
	}
	var list []record.LotRun
	for rows.Next() {
		var r record.LotRun
		var kind, names string
		if err := rows.Scan(&r.Seq, &r.Run, &kind, &r.Verdict, &names, &r.Reason); err != nil {
			return nil, errors.Join(err, rows.Close())
		}
		if kind == string(record.RunInterrupted) {
			r.Verdict = record.None
		}
		r.Failed, r.Suspect = strings.FieldsFunc(names, lineEnd), standing(suspects[r.Run])
		list = append(list, r)
	}
	return list, errors.Join(rows.Err(), rows.Close())
}

// lineEnd parts the names in the column of failed checks.
func lineEnd(r rune) bool { return r == '\n' }
