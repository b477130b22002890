package ledger

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/qualification"
	"sinkproof/reports/record"
)

// orderAsk asks for the n-th order of the tests: three lots of six boards of each
// of two suppliers, five gauge boards, two days of two nests.
func orderAsk(n int) record.TestOrder {
	o := opening(n, "X")
	order := record.TestOrder{
		ID: o.ID, Bench: o.Bench, Made: o.Started, By: "B. Buyer", Product: o.Product, Candidate: "board house B", Incumbent: "board house A",
		Nests: 2, Days: 2, Seatings: 2, Seed: strings.Repeat("0a", 32),
	}
	for _, supplier := range []string{order.Candidate, order.Incumbent} {
		for lot := range 3 {
			l := record.OrderedLot{Supplier: supplier, Lot: fmt.Sprint("lot ", lot)}
			for i := range 6 {
				l.Serials = append(l.Serials, fmt.Sprintf("%s%d%d-%d", supplier[len(supplier)-1:], n, lot, i))
			}
			order.Lots = append(order.Lots, l)
		}
	}
	for i := range 5 {
		order.Gauge = append(order.Gauge, fmt.Sprintf("G-%02d", i+1))
	}
	return order
}

func drawOrder(l *Ledger, o record.TestOrder) (record.TestOrder, record.Entry, error) {
	return l.DrawOrder(context.Background(), o, qualification.DefaultTerms())
}

func TestAnOrderIsDrawnAtItsPlaceInTheChain(t *testing.T) {
	ctx := context.Background()
	turns := func(first, seed string) []record.OrderTurn {
		l := NewLedger(t)
		if first != "" {
			complete(t, l, 7, first, record.Pass)
		}
		ask := orderAsk(1)
		ask.Seed = strings.Repeat(seed, 32)
		o, e, err := drawOrder(l, ask)
		require.NoError(t, err)
		require.Len(t, o.Turns, 36+5*2*2*2)
		list, err := l.Orders(ctx)
		require.NoError(t, err)
		require.Equal(t, []Order{{o, e.Seq, e.Hash}}, list)
		require.EqualValues(t, 1, verify(t, l.path, VerifyOpts{}).Orders)
		return o.Turns
	}
	one := turns("", "0a")
	require.Equal(t, one, turns("", "0a"))
	require.NotEqual(t, one, turns("", "0b"))
	require.NotEqual(t, one, turns("LMP-1", "0a"), "another history draws another order")
}

func TestAnOrderIsDrawnOnceAndBeforeTesting(t *testing.T) {
	l := NewLedger(t)
	_, _, err := drawOrder(l, orderAsk(1))
	require.NoError(t, err)
	again := orderAsk(1)
	again.ID = opening(2, "X").ID
	_, _, err = drawOrder(l, again)
	require.ErrorIs(t, err, ErrOrder)
	require.ErrorContains(t, err, "stands in the order of entry 1")
	late := orderAsk(3)
	complete(t, l, 7, late.Lots[4].Serials[2], record.Pass)
	_, _, err = drawOrder(l, late)
	require.ErrorIs(t, err, ErrOrder)
	require.ErrorContains(t, err, "was run already")
	same := orderAsk(4)
	same.ID = orderAsk(1).ID
	_, _, err = drawOrder(l, same)
	require.ErrorIs(t, err, ErrRun)
	few := orderAsk(5)
	few.Lots = few.Lots[1:]
	_, _, err = drawOrder(l, few)
	require.ErrorIs(t, err, qualification.ErrOrder)
	nobody := orderAsk(6)
	nobody.By = ""
	_, _, err = drawOrder(l, nobody)
	require.ErrorIs(t, err, record.ErrInvalid)
	next := orderAsk(8)
	_, _, err = drawOrder(l, next)
	require.NoError(t, err, "gauge boards serve again")
	list, err := l.Orders(context.Background())
	require.NoError(t, err)
	require.Len(t, list, 2)
}

// What somebody with the bench's key and another program could write is refused
// all the same.
func TestVerificationDrawsOrdersAnew(t *testing.T) {
	ctx := context.Background()
	for name, c := range map[string]struct {
		change func(*record.TestOrder)
		says   string
	}{
		"in order":      {func(*record.TestOrder) {}, ""},
		"a chosen turn": {func(o *record.TestOrder) { o.Turns[0], o.Turns[1] = o.Turns[1], o.Turns[0] }, "names another"},
		"another nest":  {func(o *record.TestOrder) { o.Turns[0].Nest = 3 - o.Turns[0].Nest }, "names another"},
		"another seed":  {func(o *record.TestOrder) { o.Seed = strings.Repeat("0b", 32) }, "names another"},
	} {
		path := filepath.Join(t.TempDir(), "bench.ledger")
		l := reopen(t, path)
		o := orderAsk(1)
		previous, err := l.previous(ctx)
		require.NoError(t, err)
		o.Turns, err = turnsOf(o, previous, nil)
		require.NoError(t, err)
		c.change(&o)
		_, err = l.append(ctx, o)
		require.NoError(t, err)
		require.NoError(t, l.Close())
		_, err = tryVerify(t, path, VerifyOpts{})
		if c.says == "" {
			require.NoError(t, err, name)
			continue
		}
		require.ErrorIs(t, err, ErrOrder, name)
		require.ErrorContains(t, err, c.says, name)
	}
}
