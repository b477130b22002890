package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"sinkproof/reports/ledger"
	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/qualification"
	"sinkproof/reports/record"
)

// leastGaugeRuns is how many runs of one serial make it a board of the gauge
// study: a retest gives two, and three with an engineer's name.
const leastGaugeRuns = 4

// gathered is what a ledger holds for a qualification.
type gathered struct {
	candidate, incumbent string
	// only names the checks that are compared; none for all.
	only []string
	// boards are those of both sides, with values by the slots of the columns; NaN, or
	// not there, for none. gauge are the boards of the gauge study.
	boards []qualification.Board
	gauge  []testedBoard
	// runs counts the records of the serials that were run more than once, over all
	// suppliers of the product.
	runs map[string]int
	// suppliers counts boards by supplier, for whoever mistyped one.
	suppliers map[string]int
	// columns are the checks in the order in which records first show them.
	columns []*column
	at      map[string]int
	// slots counts the columns whose values are kept.
	slots int
	// suspect and unjudged are records left out: under suspicion, and without
	// verdict, which ask for a retest.
	suspect, unjudged int
	twin              bool
	// first and last are the days between which boards were tested.
	first, last string
	// day is the one that was written last, at midnight.
	day      string
	midnight time.Time
	// places holds each place once.
	places map[qualification.Place]*qualification.Place
	// slab is where values are put: there may be some hundred thousand boards.
	slab []float64
}

// column is a check that has values.
type column struct {
	name, title, unit string
	limits            capability.Limits
	// slot is where boards have its value; -1 where the values are not compared.
	slot int
	// mixed tells that limits or units changed between records.
	mixed bool
	// terms are those that were seen last.
	terms *ledger.Terms
}

// testedBoard is a record as far as the decision needs it.
type testedBoard struct {
	qualification.Board
	supplier string
	ownCell  bool
}

// valueAt is the value in a slot; NaN for none.
func valueAt(values []float64, slot int) float64 {
	if slot < len(values) {
		return values[slot]
	}
	return math.NaN()
}

// gather reads the records of the product.
func (f *qualifyFlags) gather(ctx context.Context, q ledger.Question, only []string) (g *gathered, err error) {
	values, err := ledger.OpenValues(ctx, f.ledger, f.told)
	if err != nil {
		return nil, ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, values.Close()) }()
	g = &gathered{
		candidate: f.candidate, incumbent: f.incumbent, only: only,
		runs: map[string]int{}, suppliers: map[string]int{}, at: map[string]int{},
		places: map[qualification.Place]*qualification.Place{},
	}
	q.Names = true
	err = values.Runs(ctx, q, false, func(t *ledger.Tested, _ []ledger.Answered) error {
		if t.Attempt > 1 {
			g.runs[t.Serial] = 0
		}
		return nil
	})
	if err != nil {
		return nil, ledgerTrouble(err)
	}
	var again []testedBoard
	err = values.Runs(ctx, q, true, func(t *ledger.Tested, answers []ledger.Answered) error {
		switch _, repeated := g.runs[t.Serial]; {
		case t.Suspect:
			g.suspect++
		case t.Verdict == record.None:
			g.unjudged++
		case repeated:
			g.runs[t.Serial]++
			again = append(again, g.take(t, answers, true))
		default:
			g.count(g.take(t, answers, t.Supplier == g.candidate || t.Supplier == g.incumbent))
		}
		return nil
	})
	if err != nil {
		return nil, ledgerTrouble(err)
	}
	g.part(again)
	return g, nil
}

// placed returns the one copy of a place.
func (g *gathered) placed(p qualification.Place) *qualification.Place {
	known, ok := g.places[p]
	if !ok {
		known = &p
		g.places[p] = known
	}
	return known
}

// take reads one record, with its values where they are to be kept.
func (g *gathered) take(t *ledger.Tested, answers []ledger.Answered, keep bool) testedBoard {
	b := testedBoard{supplier: t.Supplier, ownCell: t.OwnCell}
	b.Board = qualification.Board{
		Serial: t.Serial, Lot: t.Lot, Tested: t.Seq, Good: t.Verdict == record.Pass,
		Place: g.placed(qualification.Place{Bench: t.Bench, Nest: strconv.Itoa(t.Nest), Day: g.dayOf(t.Started), Papers: t.Papers}),
	}
	if t.Verdict == record.Fail {
		b.Kinds = []string{cmp.Or(t.Wrong, "failed without a check")}
	}
	g.twin = g.twin || t.Twin
	for _, a := range answers {
		if a.Control || !a.Measured() || a.Lower == nil && a.Upper == nil {
			continue
		}
		slot := g.column(a.Terms).slot
		if !keep || slot < 0 {
			continue
		}
		if b.Values == nil {
			b.Values = g.room(g.slots)
		}
		for len(b.Values) <= slot {
			b.Values = append(b.Values, math.NaN())
		}
		b.Values[slot] = a.Value
	}
	return b
}

// dayOf writes the day of an instant, most often the same one as before.
func (g *gathered) dayOf(at time.Time) string {
	if midnight := at.Truncate(24 * time.Hour); g.day == "" || !midnight.Equal(g.midnight) {
		g.day, g.midnight = at.Format(time.DateOnly), midnight
	}
	return g.day
}

// slabSize is how many values are allocated together.
const slabSize = 1 << 16

// room is room for the values of a board.
func (g *gathered) room(n int) []float64 {
	if len(g.slab) < n {
		g.slab = make([]float64, max(slabSize, n))
	}
	values := g.slab[:n:n]
	g.slab = g.slab[n:]
	for i := range values {
		values[i] = math.NaN()
	}
	return values
}

// column finds the column of a check.
func (g *gathered) column(t *ledger.Terms) *column {
	i, known := g.at[t.Check]
	if known && g.columns[i].terms == t {
		return g.columns[i]
	}
	limits := capability.Limits{Lower: math.Inf(-1), Upper: math.Inf(1), Target: math.NaN()}
	if t.Lower != nil {
		limits.Lower = *t.Lower
	}
	if t.Upper != nil {
		limits.Upper = *t.Upper
	}
	if !known {
		i = len(g.columns)
		g.at[t.Check] = i
		slot := -1
		if len(g.only) == 0 || slices.Contains(g.only, t.Check) {
			slot = g.slots
			g.slots++
		}
		g.columns = append(g.columns, &column{name: t.Check, title: t.Title, unit: t.Unit, limits: limits, slot: slot})
	}
	col := g.columns[i]
	col.terms = t
	if col.unit != t.Unit || col.limits.Lower != limits.Lower || col.limits.Upper != limits.Upper {
		col.mixed = true
	}
	return col
}

// part separates the gauge study from the boards, among those that were run again.
// Of a board the first record with a verdict counts: no retest hides it.
func (g *gathered) part(again []testedBoard) {
	seen := map[string]bool{}
	for _, b := range again {
		if g.runs[b.Serial] >= leastGaugeRuns {
			g.gauge = append(g.gauge, b)
			continue
		}
		if !seen[b.Serial] {
			seen[b.Serial] = true
			g.count(b)
		}
	}
	slices.SortFunc(g.boards, func(a, b qualification.Board) int { return cmp.Compare(a.Tested, b.Tested) })
}

// count adds a board to its side.
func (g *gathered) count(b testedBoard) {
	g.suppliers[b.supplier]++
	switch b.supplier {
	case g.candidate:
		b.Side = qualification.Candidate
	case g.incumbent:
		b.Side = qualification.Incumbent
	default:
		return
	}
	g.boards = append(g.boards, b.Board)
	if g.first == "" || b.Place.Day < g.first {
		g.first = b.Place.Day
	}
	g.last = max(g.last, b.Place.Day)
}

// known lists the suppliers in the ledger.
func (g *gathered) known() string {
	var names []string
	for name, n := range g.suppliers {
		if name == "" {
			name = "no supplier"
		}
		names = append(names, fmt.Sprintf("%s (%d)", name, n))
	}
	slices.Sort(names)
	return strings.Join(names, ", ")
}

// leastAnswered is the share of a side's good boards that must have a value.
const leastAnswered = 0.9

// sample makes the sample of the decision; left names the checks that are not
// compared, with the reason.
func (g *gathered) sample(t qualification.Terms, margins map[string]float64) (s qualification.Sample, left []string) {
	s.Terms = t
	var slots []int
	for _, c := range g.columns {
		if c.slot < 0 {
			continue
		}
		if why := g.unfitColumn(c); why != "" {
			left = append(left, c.name+": "+why)
			continue
		}
		slots = append(slots, c.slot)
		s.Characteristics = append(s.Characteristics, qualification.Characteristic{
			Name: c.name, Title: c.title, Unit: c.unit, Limits: c.limits, Margin: margins[c.name],
		})
	}
	values := func(of []float64) []float64 {
		list := of // slots ascend: what is moved was read before
		if len(of) < len(slots) {
			list = g.room(len(slots))
		}
		for k, slot := range slots {
			list[k] = valueAt(of, slot)
		}
		return list[:len(slots)]
	}
	s.Boards = g.boards
	for i := range s.Boards {
		s.Boards[i].Values = values(s.Boards[i].Values)
	}
	for _, b := range g.gauge {
		s.Gauge = append(s.Gauge, qualification.Trial{Part: b.Serial, Place: *b.Place, OwnCell: b.ownCell, Values: values(b.Values)})
	}
	g.boards, g.gauge, g.slab = nil, nil, nil // all is in the sample
	return s, left
}

// unfitColumn says why a check cannot be compared.
func (g *gathered) unfitColumn(c *column) string {
	if c.mixed {
		return "its limits or its unit changed between the records"
	}
	var good, with [2]int
	for _, b := range g.boards {
		if b.Good {
			good[b.Side]++
			if !math.IsNaN(valueAt(b.Values, c.slot)) {
				with[b.Side]++
			}
		}
	}
	for side := range good {
		if float64(with[side]) < leastAnswered*float64(good[side]) || with[side] < 2 {
			return fmt.Sprintf("%d of %d good boards of the %s have a value", with[side], good[side], qualification.Side(side))
		}
	}
	return ""
}
