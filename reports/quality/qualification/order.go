package qualification

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// ErrOrder is the cause when no order can be drawn as asked.
var ErrOrder = errors.New("order cannot be drawn as asked")

// Delivery is what a side sent in one lot.
type Delivery struct {
	Side    Side
	Lot     string
	Serials []string
}

// OrderAsk says of what an order is drawn.
type OrderAsk struct {
	Deliveries []Delivery
	// Gauge are the boards of the gauge study: with a cell substitute, of no lot.
	Gauge []string
	// Nests and Days are how many there are, Seatings how often each board of the
	// gauge study is seated in each nest on each day.
	Nests, Days, Seatings int
}

// Turn is one run of an order: which board, in which nest, on which day, both
// counted from 1.
type Turn struct {
	Serial    string
	Nest, Day int
}

// mostDraws is how often an order is drawn until the sides are interleaved; about
// one draw in a thousand is not, by chance. Own choice.
const mostDraws = 100

// mostNests and mostOrderDays bound what is drawn; own choice.
const mostNests, mostOrderDays, mostSeatings = 64, 60, 20

// Order draws in which order boards are tested: both sides interleaved, every lot
// spread evenly over nests and days, and the boards of the gauge study seated in
// every nest on every day among them. The same key draws the same order, in
// whatever order boards are listed, with every later version: a ledger draws it
// again. It wraps ErrOrder.
//
// Method: within a lot, boards are ranked by their HMAC-SHA-256 (RFC 2104) under
// the key and dealt to the pairs of day and nest, which are ranked likewise; within
// a day, runs are ranked likewise. An order with so few stretches of one side as one
// in some thousand has is drawn again. To who does not know the key no board is
// likelier than another of its lot to have a place.
func Order(key []byte, a OrderAsk) ([]Turn, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	for n := range uint64(mostDraws) {
		d := draw{key: hmacOf(key, "order", strconv.FormatUint(n, 10))}
		turns := d.turns(a)
		if interleaved(a.boards(turns)) {
			return turns, nil
		}
	}
	return nil, fmt.Errorf("%d draws left the sides apart, more boards of the smaller side are wanted: %w", mostDraws, ErrOrder)
}

// interleaved tells that the stretches of one side are not fewer than three standard
// deviations below those of a drawn order (Wald and Wolfowitz, see Design), which is
// stricter than what NewDesign refuses. It stands apart, since what it says must
// never change.
func interleaved(boards []Board) bool {
	var n [2]float64
	runs := 0.0
	for i, b := range boards {
		n[b.Side]++
		if i == 0 || boards[i-1].Side != b.Side {
			runs++
		}
	}
	product, all := 2*n[0]*n[1], n[0]+n[1]
	expected := product/all + 1
	return runs >= expected-3*math.Sqrt(product*(product-all)/(all*all*(all-1)))
}

// Fit says whether an order of these boards can serve a decision: lots and gauge
// boards enough, and boards of both sides at every place. It wraps ErrOrder.
func (a OrderAsk) Fit(turns []Turn, t Terms) error {
	if len(a.Gauge) < t.Parts {
		return fmt.Errorf("%d boards for the gauge study, %d are the least: %w", len(a.Gauge), t.Parts, ErrOrder)
	}
	if c := NewDesign(a.boards(turns), t).Confounded; len(c) > 0 {
		return fmt.Errorf("%s: %w", c[0], ErrOrder)
	}
	return nil
}

// check refuses what no order makes comparable.
func (a OrderAsk) check() error {
	fail := func(format string, args ...any) error {
		return fmt.Errorf(format+": %w", append(args, ErrOrder)...)
	}
	switch {
	case a.Nests < 1 || a.Nests > mostNests:
		return fail("%d nests, 1 to %d are possible", a.Nests, mostNests)
	case a.Days < 2 || a.Days > mostOrderDays:
		return fail("%d days, 2 to %d are possible: what differs between days must be seen", a.Days, mostOrderDays)
	case a.Seatings < 2 || a.Seatings > mostSeatings:
		return fail("%d seatings, 2 to %d are possible: what a re-seat changes must be seen", a.Seatings, mostSeatings)
	}
	seen := map[string]string{}
	named := func(serial, where string) error {
		if before, ok := seen[serial]; ok {
			return fail("board %q stands in %s and in %s", serial, before, where)
		}
		seen[serial] = where
		return nil
	}
	lots, names := [2]int{}, map[string]bool{}
	for _, d := range a.Deliveries {
		where := fmt.Sprintf("lot %q of the %s", d.Lot, d.Side)
		if d.Lot == "" || names[where] {
			return fail("%s has no name of its own", where)
		}
		names[where] = true
		lots[d.Side]++
		if len(d.Serials) == 0 {
			return fail("%s has no board", where)
		}
		for _, s := range d.Serials {
			if err := named(s, where); err != nil {
				return err
			}
		}
	}
	for _, s := range a.Gauge {
		if err := named(s, "the gauge study"); err != nil {
			return err
		}
	}
	if lots[Candidate] == 0 || lots[Incumbent] == 0 {
		return fail("%d lots of the candidate, %d of the incumbent", lots[Candidate], lots[Incumbent])
	}
	return nil
}

// boards are those of an order as a comparison sees them.
func (a OrderAsk) boards(turns []Turn) []Board {
	type home struct {
		side Side
		lot  string
	}
	of := map[string]home{}
	for _, d := range a.Deliveries {
		for _, s := range d.Serials {
			of[s] = home{d.Side, d.Lot}
		}
	}
	var list []Board
	for i, t := range turns {
		if h, ok := of[t.Serial]; ok {
			list = append(list, Board{Serial: t.Serial, Side: h.side, Lot: h.lot, Tested: int64(i),
				Place: &Place{Nest: strconv.Itoa(t.Nest), Day: strconv.Itoa(t.Day)}})
		}
	}
	return list
}

// draw ranks things under a key.
type draw struct{ key []byte }

// hmacOf is the HMAC of texts, each with its length before it, so that no two lists
// of texts are one.
func hmacOf(key []byte, texts ...string) []byte {
	mac := hmac.New(sha256.New, key)
	for _, t := range texts {
		var size [8]byte
		binary.BigEndian.PutUint64(size[:], uint64(len(t)))
		mac.Write(size[:])
		mac.Write([]byte(t))
	}
	return mac.Sum(nil)
}

// ranked puts a list into the order of the HMACs of its names.
func ranked[T any](d draw, list []T, name func(T) []string) []T {
	type one struct {
		of   T
		rank []byte
	}
	all := make([]one, len(list))
	for i, x := range list {
		all[i] = one{x, hmacOf(d.key, name(x)...)}
	}
	slices.SortFunc(all, func(a, b one) int { return bytes.Compare(a.rank, b.rank) })
	out := make([]T, len(list))
	for i, x := range all {
		out[i] = x.of
	}
	return out
}

// sitting is a turn with what tells it from others of its board.
type sitting struct {
	Turn
	seating int
}

// turns is one draw.
func (d draw) turns(a OrderAsk) []Turn {
	var cells []Turn
	for day := range a.Days {
		for nest := range a.Nests {
			cells = append(cells, Turn{Nest: nest + 1, Day: day + 1})
		}
	}
	days := make([][]sitting, a.Days+1)
	for _, lot := range a.Deliveries {
		where := []string{"cell", lot.Side.String(), lot.Lot}
		dealt := ranked(d, cells, func(c Turn) []string {
			return append(slices.Clone(where), strconv.Itoa(c.Day), strconv.Itoa(c.Nest))
		})
		boards := ranked(d, lot.Serials, func(s string) []string { return []string{"board", s} })
		for i, s := range boards {
			c := dealt[i%len(dealt)]
			c.Serial = s
			days[c.Day] = append(days[c.Day], sitting{Turn: c})
		}
	}
	for _, c := range cells {
		for _, s := range a.Gauge {
			for k := range a.Seatings {
				c.Serial = s
				days[c.Day] = append(days[c.Day], sitting{c, k + 1})
			}
		}
	}
	var out []Turn
	for _, list := range days {
		for _, s := range ranked(d, list, func(s sitting) []string {
			return []string{"turn", s.Serial, strconv.Itoa(s.Nest), strconv.Itoa(s.Day), strconv.Itoa(s.seating)}
		}) {
			out = append(out, s.Turn)
		}
	}
	return out
}

// String is the turn for a person.
func (t Turn) String() string {
	return strings.Join([]string{t.Serial, "nest " + strconv.Itoa(t.Nest), "day " + strconv.Itoa(t.Day)}, ", ")
}
