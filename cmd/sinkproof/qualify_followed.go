package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sinkproof/reports/ledger"
	"sinkproof/reports/page"
	"sinkproof/reports/quality/qualification"
	"sinkproof/reports/record"
)

// orderKept is an order of testing with how the runs kept to it.
type orderKept struct {
	ledger.Order
	followed qualification.Followed
	// before counts earlier orders of the same two suppliers.
	before int
	// outside counts boards of the two that stand in no turn of it.
	outside int
}

// ordered finds the last order that was drawn for the question, and holds the runs
// against it; nil where none was drawn.
func (f *qualifyFlags) ordered(ctx context.Context, q ledger.Question) (o *orderKept, err error) {
	view, err := ledger.OpenView(ctx, f.ledger)
	if err != nil {
		return nil, ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, view.Close()) }()
	orders, err := view.Orders(ctx)
	if err != nil {
		return nil, ledgerTrouble(err)
	}
	for _, x := range orders {
		if x.Product != f.product || x.Candidate != f.candidate || x.Incumbent != f.incumbent {
			continue
		}
		next := &orderKept{Order: x}
		if o != nil {
			next.before = o.before + 1
		}
		o = next
	}
	if o == nil {
		return nil, nil
	}
	return o, f.follow(ctx, q, o)
}

// follow reads the runs since the order.
func (f *qualifyFlags) follow(ctx context.Context, q ledger.Question, o *orderKept) (err error) {
	in := map[string]bool{}
	turns := make([]qualification.Turn, len(o.Turns))
	for i, t := range o.Turns {
		turns[i] = qualification.Turn(t)
		in[t.Serial] = true
	}
	values, err := ledger.OpenValues(ctx, f.ledger, f.told)
	if err != nil {
		return ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, values.Close()) }()
	q.Names = true
	var runs []qualification.Tested
	outside := map[string]bool{}
	err = values.Runs(ctx, q, false, func(t *ledger.Tested, _ []ledger.Answered) error {
		switch {
		case in[t.Serial] && t.Seq > o.Seq:
			runs = append(runs, qualification.Tested{Serial: t.Serial, Nest: max(t.Nest, 1), Day: t.Started.Format(time.DateOnly), Seq: t.Seq,
				Judged: t.Verdict != record.None && !t.Suspect})
		case !in[t.Serial] && (t.Supplier == f.candidate || t.Supplier == f.incumbent):
			outside[t.Serial] = true
		}
		return nil
	})
	if err != nil {
		return ledgerTrouble(err)
	}
	o.followed, o.outside = qualification.Follow(turns, runs), len(outside)
	return nil
}

// orderJSON is the order of testing for a program.
type orderJSON struct {
	Entry     int64    `json:"entry"`
	Hash      string   `json:"hash"`
	Drawn     string   `json:"drawn"`
	By        string   `json:"by"`
	Before    int      `json:"orders_before"`
	Turns     int      `json:"turns"`
	Made      int      `json:"turns_tested"`
	Followed  bool     `json:"followed"`
	OutOfTurn int      `json:"out_of_turn"`
	Elsewhere int      `json:"in_another_nest"`
	Further   int      `json:"gauge_runs_beyond"`
	Days      []string `json:"days_not_kept"`
	First     string   `json:"first_deviation,omitempty"`
	Outside   int      `json:"boards_outside"`
}

func (o *orderKept) forProgram() *orderJSON {
	if o == nil {
		return nil
	}
	k := o.followed
	return &orderJSON{o.Seq, o.Hash, o.Made, o.By, o.before, k.Turns, k.Made, o.kept(), k.OutOfTurn, k.Elsewhere, k.Further,
		append([]string{}, k.Days...), k.First, o.outside}
}

// kept tells that every board was tested as ordered.
func (o *orderKept) kept() bool { return o.followed.Kept() && o.outside == 0 }

// words tell of the order.
func (o *orderKept) words() string {
	if o == nil {
		return "none was drawn before testing (sinkproof qualify order draws one); the runs alone say whether the sides were interleaved"
	}
	text := fmt.Sprintf("entry %d, drawn %s by %s before any board was tested: %s", o.Seq, o.Made[:len(time.DateOnly)], o.By, o.followed.Words())
	if o.outside > 0 {
		text += fmt.Sprintf("; %s of the two suppliers outside of it", counted(o.outside, "board"))
	}
	if o.before > 0 {
		text += fmt.Sprintf("; %s before it", counted(o.before, "order"))
	}
	return text
}

// row is the order as a fact of the page.
func (o *orderKept) row() page.Row { return page.Row{Label: "order", Text: o.words()} }
