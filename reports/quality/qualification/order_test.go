package qualification

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// asked is three lots of each side, of so many boards, with five gauge boards.
func asked(boards int) OrderAsk {
	a := OrderAsk{Nests: 2, Days: 3, Seatings: 2}
	for _, side := range []Side{Candidate, Incumbent} {
		for lot := range 3 {
			d := Delivery{Side: side, Lot: fmt.Sprintf("lot %d", lot+1)}
			for i := range boards {
				d.Serials = append(d.Serials, fmt.Sprintf("%.1s%d-%03d", side, lot+1, i+1))
			}
			a.Deliveries = append(a.Deliveries, d)
		}
	}
	for i := range 5 {
		a.Gauge = append(a.Gauge, fmt.Sprintf("G-%02d", i+1))
	}
	return a
}

func TestOrderSpreadsEveryLotEvenly(t *testing.T) {
	a := asked(20)
	turns, err := Order([]byte("key"), a)
	require.NoError(t, err)
	require.NoError(t, a.Fit(turns, DefaultTerms()))
	require.Len(t, turns, 6*20+5*2*3*2)
	count := map[string]int{}
	of := map[string]string{}
	for _, d := range a.Deliveries {
		for _, s := range d.Serials {
			of[s] = fmt.Sprint(d.Side, d.Lot)
		}
	}
	for i, turn := range turns {
		if i > 0 {
			require.GreaterOrEqual(t, turn.Day, turns[i-1].Day)
		}
		name := of[turn.Serial]
		if name == "" {
			name = turn.Serial
		}
		count[fmt.Sprint(name, turn.Day, turn.Nest)]++
	}
	for name, n := range count {
		if name[0] == 'G' {
			require.Equal(t, 2, n, name)
		} else {
			require.Contains(t, []int{3, 4}, n, name)
		}
	}
	require.Len(t, count, 6*6+5*6)
}

func TestOrderFollowsFromTheKey(t *testing.T) {
	a := asked(20)
	one, err := Order([]byte("key"), a)
	require.NoError(t, err)
	slices.Reverse(a.Deliveries)
	slices.Reverse(a.Gauge)
	for i := range a.Deliveries {
		slices.Reverse(a.Deliveries[i].Serials)
	}
	again, err := Order([]byte("key"), a)
	require.NoError(t, err)
	require.Equal(t, one, again, "however boards are listed")
	other, err := Order([]byte("another key"), a)
	require.NoError(t, err)
	require.NotEqual(t, one, other)
	// Every later version draws this order: ledgers hold it.
	sum := sha256.Sum256([]byte(fmt.Sprint(one)))
	require.Equal(t, "3c0ccffedbe868f9", hex.EncodeToString(sum[:8]))
}

// TestOrderPlacesAreDrawnEvenly: over many keys each board is as often first of its
// day as another.
func TestOrderPlacesAreDrawnEvenly(t *testing.T) {
	a := asked(10)
	first := map[byte]int{}
	nest := map[int]int{}
	const keys = 300
	for k := range keys {
		turns, err := Order(fmt.Appendf(nil, "%d", k), a)
		require.NoError(t, err)
		first[turns[0].Serial[0]]++
		for _, turn := range turns {
			if turn.Serial == "c1-001" {
				nest[turn.Nest]++
			}
		}
	}
	// 30 gauge turns and 20 boards or so a day; half of 300 with a standard
	// deviation of 8.7, and 60/300 with 6.9.
	require.InDelta(t, keys/2, nest[1], 5*8.7)
	require.InDelta(t, 60, first['c'], 5*6.9)
	require.InDelta(t, 60, first['i'], 5*6.9)
}

func TestOrdersThatCannotBeDrawn(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*OrderAsk)
		says   string
	}{
		"no nest":         {func(a *OrderAsk) { a.Nests = 0 }, "0 nests"},
		"one day":         {func(a *OrderAsk) { a.Days = 1 }, "1 days"},
		"no re-seat":      {func(a *OrderAsk) { a.Seatings = 1 }, "1 seatings"},
		"one side":        {func(a *OrderAsk) { a.Deliveries = a.Deliveries[:3] }, "0 of the incumbent"},
		"a board twice":   {func(a *OrderAsk) { a.Gauge[1] = "c1-001" }, `"c1-001" stands in lot "lot 1" of the candidate and in the gauge study`},
		"a lot twice":     {func(a *OrderAsk) { a.Deliveries[1].Lot = "lot 1" }, "no name of its own"},
		"a lot unnamed":   {func(a *OrderAsk) { a.Deliveries[1].Lot = "" }, "no name of its own"},
		"an empty lot":    {func(a *OrderAsk) { a.Deliveries[1].Serials = nil }, "has no board"},
		"beyond all days": {func(a *OrderAsk) { a.Days = 1000 }, "1000 days"},
	} {
		a := asked(20)
		c.change(&a)
		_, err := Order([]byte("key"), a)
		require.ErrorIs(t, err, ErrOrder, name)
		require.ErrorContains(t, err, c.says, name)
	}
	for name, c := range map[string]struct {
		change func(*OrderAsk)
		says   string
	}{
		"two lots":         {func(a *OrderAsk) { a.Deliveries = a.Deliveries[1:] }, "2 lots of the candidate"},
		"four gauge parts": {func(a *OrderAsk) { a.Gauge = a.Gauge[1:] }, "4 boards for the gauge study"},
	} {
		a := asked(20)
		c.change(&a)
		turns, err := Order([]byte("key"), a)
		require.NoError(t, err, name)
		require.ErrorContains(t, a.Fit(turns, DefaultTerms()), c.says, name)
	}
}

// made are runs exactly as ordered, the days of May.
func made(turns []Turn) []Tested {
	var list []Tested
	for i, turn := range turns {
		list = append(list, Tested{Serial: turn.Serial, Nest: turn.Nest, Day: fmt.Sprintf("2026-05-%02d", turn.Day), Seq: int64(i), Judged: true})
	}
	return list
}

func TestFollow(t *testing.T) {
	turns, err := Order([]byte("key"), asked(10))
	require.NoError(t, err)
	gauge := slices.IndexFunc(turns, func(x Turn) bool { return x.Serial[0] == 'G' })
	board := slices.IndexFunc(turns, func(x Turn) bool { return x.Serial[0] != 'G' })
	last := len(turns) - 1
	for name, c := range map[string]struct {
		change func([]Tested) []Tested
		says   string
	}{
		"as ordered":             {func(r []Tested) []Tested { return r }, "followed"},
		"half of it":             {func(r []Tested) []Tested { return r[:60] }, fmt.Sprintf("followed; %d of 120 turns are not tested yet", 60)},
		"a retest has no turn":   {func(r []Tested) []Tested { return append(r, r[board]) }, "followed"},
		"a gauge run made again": {func(r []Tested) []Tested { x := r[gauge]; x.Judged = false; return slices.Insert(r, gauge, x) }, "followed"},
		"other boards":           {func(r []Tested) []Tested { return append(r, Tested{Serial: "X-1", Judged: true}) }, "followed"},
		"one board left for the end": {func(r []Tested) []Tested {
			x := r[board]
			return append(slices.Delete(r, board, board+1), x)
		}, "1 run out of turn"},
		"another nest":     {func(r []Tested) []Tested { r[board].Nest = 3 - r[board].Nest; return r }, "1 run in another nest; the first is " + turns[board].String()},
		"a gauge run more": {func(r []Tested) []Tested { return append(r, r[gauge]) }, "1 run of a gauge board beyond the order"},
		"two days in one":  {func(r []Tested) []Tested { r[last].Day = "2026-05-02"; return r }, "days 2 and 3 of the order on 2026-05-02"},
		"one day on two":   {func(r []Tested) []Tested { r[last].Day = "2026-05-04"; return r }, "day 3 of the order on 2026-05-03 and 2026-05-04"},
		"backwards":        {func(r []Tested) []Tested { slices.Reverse(r[board : board+8]); return r }, "out of turn"},
		"nests side by side": {func(r []Tested) []Tested {
			slices.SortStableFunc(r[:40], func(a, b Tested) int { return a.Nest - b.Nest })
			return r
		}, "followed"},
	} {
		f := Follow(turns, c.change(made(turns)))
		require.Contains(t, f.Words(), c.says, name)
		require.Equal(t, c.says[0] == 'f', f.Kept(), name)
	}
}
