package ledger

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"sinkproof/reports/quality/qualification"
	"sinkproof/reports/record"
)

// ErrOrder is the cause when an order of testing does not fit the ledger: one of
// its boards was run already, or stands in another order.
var ErrOrder = errors.New("order does not fit the ledger")

// Order is an order of testing as the ledger knows it.
type Order struct {
	record.TestOrder
	// Seq and Hash are those of its entry.
	Seq  int64
	Hash string
}

// DrawOrder commits the order in which the boards of two suppliers are tested: when
// it returns, the order is on the disk. It fills in the turns by the seed and the
// head of the chain, so that nobody can choose them. It wraps ErrOrder,
// qualification.ErrOrder where the boards make no comparison under the terms,
// ErrRun when the id is known, record.ErrInvalid or a trouble of the store; nothing
// was written then.
func (l *Ledger) DrawOrder(ctx context.Context, o record.TestOrder, terms qualification.Terms) (record.TestOrder, record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	fail := func(err error) (record.TestOrder, record.Entry, error) {
		return o, record.Entry{}, explain(fmt.Sprintf("ledger %s: draw the %s", l.path, o), err)
	}
	if err := l.untouched(ctx, o); err != nil {
		return fail(err)
	}
	if err := unknown(ctx, l.w, o.ID); err != nil {
		return fail(err)
	}
	previous, err := l.previous(ctx)
	if err != nil {
		return fail(err)
	}
	if o.Turns, err = turnsOf(o, previous, &terms); err != nil {
		return fail(err)
	}
	e, err := l.append(ctx, o)
	if err != nil {
		return fail(err)
	}
	return o, e, nil
}

// turnsOf draws the turns of an order at its place in the chain. Terms, where they
// are given, say what it must serve.
func turnsOf(o record.TestOrder, previous string, terms *qualification.Terms) ([]record.OrderTurn, error) {
	ask := qualification.OrderAsk{Gauge: o.Gauge, Nests: o.Nests, Days: o.Days, Seatings: o.Seatings}
	for _, l := range o.Lots {
		side := qualification.Candidate
		if l.Supplier == o.Incumbent {
			side = qualification.Incumbent
		}
		ask.Deliveries = append(ask.Deliveries, qualification.Delivery{Side: side, Lot: l.Lot, Serials: l.Serials})
	}
	drawn, err := qualification.Order(o.Key(previous), ask)
	if err == nil && terms != nil {
		err = ask.Fit(drawn, *terms)
	}
	if err != nil {
		return nil, err
	}
	turns := make([]record.OrderTurn, len(drawn))
	for i, t := range drawn {
		turns[i] = record.OrderTurn(t)
	}
	return turns, nil
}

// delivered are the boards of an order that are compared. Those of the gauge study
// may serve again.
func delivered(o record.TestOrder) (list []string) {
	for _, l := range o.Lots {
		list = append(list, l.Serials...)
	}
	return list
}

// untouched demands that no delivered board of the order was run before, or stands in another
// order: who has seen answers, or can draw again, could choose.
func (l *Ledger) untouched(ctx context.Context, o record.TestOrder) error {
	before, err := l.Orders(ctx)
	if err != nil {
		return err
	}
	in := map[string]int64{}
	for _, b := range before {
		for _, s := range delivered(b.TestOrder) {
			in[s] = b.Seq
		}
	}
	for _, s := range delivered(o) {
		if seq, ok := in[s]; ok {
			return fmt.Errorf("serial %q stands in the order of entry %d: an order is drawn once: %w", s, seq, ErrOrder)
		}
		var runs int64
		if err := l.w.QueryRowContext(ctx, `select count(*) from history where serial = $1 and kind = $2`, s, string(record.RunOpened)).Scan(&runs); err != nil {
			return err
		}
		if runs > 0 {
			return fmt.Errorf("serial %q was run already; its order is drawn before: %w", s, ErrOrder)
		}
	}
	return nil
}

// Orders returns every order of testing, in the order in which they were drawn.
func (v *View) Orders(ctx context.Context) (list []Order, err error) {
	fail := func(err error) ([]Order, error) {
		return nil, explain("ledger "+v.path+": read the orders", err)
	}
	rows, err := v.db.QueryContext(ctx, `select e.entry from history h join entries e on e.seq = h.seq
		where h.kind = $1 and `+rare+` order by h.seq`, string(record.OrderDrawn))
	if err != nil {
		return fail(err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var data []byte
		if err := rows.Scan(&data); err != nil {
			return fail(err)
		}
		e, err := record.DecodeEntry(data)
		if err != nil {
			return fail(err)
		}
		o, err := record.DecodeTestOrder(e.Body)
		if err != nil {
			return fail(fmt.Errorf("entry %d: %w", e.Seq, err))
		}
		list = append(list, Order{o, e.Seq, e.Hash})
	}
	return list, explain("ledger "+v.path+": read the orders", rows.Err())
}

// order draws an order of testing anew.
func (a *audit) order(e record.Entry, o record.TestOrder) error {
	if err := a.allowed(o.Bench, o.String()); err != nil {
		return err
	}
	if a.ids[o.ID] {
		return fmt.Errorf("draws order %s a second time: %w", o.ID, ErrRun)
	}
	turns, err := turnsOf(o, e.Previous, nil)
	if err != nil {
		return err
	}
	if !slices.Equal(turns, o.Turns) {
		return fmt.Errorf("names another %s than its seed draws: %w", o, ErrOrder)
	}
	a.ids[o.ID] = true
	a.report.Orders++
	return nil
}
