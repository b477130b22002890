package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

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
	boards, gauge        []testedBoard
	// runs counts the records by serial, over all suppliers of the product.
	runs map[string]int
	// suppliers counts boards by supplier, for whoever mistyped one.
	suppliers map[string]int
	// columns are the checks in the order in which records first show them.
	columns []*column
	at      map[string]int
	// suspect and unjudged are records left out: under suspicion, and without
	// verdict, which ask for a retest.
	suspect, unjudged int
	twin              bool
	// first and last are the instants between which boards were tested.
	first, last string
}

// column is a check that has values.
type column struct {
	name, title, unit string
	limits            capability.Limits
	// mixed tells that limits or units changed between records.
	mixed bool
}

// testedBoard is a record as far as the decision needs it.
type testedBoard struct {
	qualification.Board
	supplier string
	ownCell  bool
	values   map[int]float64
}

// gather reads the records of the product.
func (f *qualifyFlags) gather(ctx context.Context, q ledger.Question) (g *gathered, err error) {
	view, err := ledger.OpenView(ctx, f.ledger)
	if err != nil {
		return nil, ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, view.Close()) }()
	g = &gathered{candidate: f.candidate, incumbent: f.incumbent, runs: map[string]int{}, suppliers: map[string]int{}, at: map[string]int{}}
	var all []testedBoard
	for kept, err := range view.Records(ctx, q) {
		switch {
		case err != nil:
			return nil, ledgerTrouble(err)
		case kept.Suspect:
			g.suspect++
		case kept.Verdict == record.None:
			g.unjudged++
		default:
			g.runs[kept.Serial]++
			all = append(all, g.take(kept))
		}
	}
	g.part(all)
	return g, nil
}

// take reads one record.
func (g *gathered) take(kept ledger.Kept) testedBoard {
	r := kept.Run
	b := testedBoard{supplier: r.Supplier, values: map[int]float64{}}
	day, _, _ := strings.Cut(r.Started, "T")
	b.Board = qualification.Board{
		Serial: r.Serial, Lot: r.Lot, Tested: kept.Seq, Good: r.Verdict == record.Pass, Kinds: kindsOf(r),
		Place: qualification.Place{Bench: r.Bench.Name, Nest: strconv.Itoa(max(r.Nest, 1)), Day: day, Papers: papersOf(r)},
	}
	g.twin = g.twin || r.Bench.Kind == record.Twin
	for _, reading := range r.Readings {
		b.ownCell = b.ownCell || reading.Name == "open-circuit"
	}
	for _, c := range r.Checks {
		if c.Control || c.Value == nil || c.Value.Bound != "" || c.Answer == record.Unanswered || c.Lower == nil && c.Upper == nil {
			continue
		}
		b.values[g.column(c)] = c.Value.Value
	}
	return b
}

// column finds the column of a check.
func (g *gathered) column(c record.Check) int {
	limits := capability.Limits{Lower: math.Inf(-1), Upper: math.Inf(1), Target: math.NaN()}
	if c.Lower != nil {
		limits.Lower = c.Lower.Value
	}
	if c.Upper != nil {
		limits.Upper = c.Upper.Value
	}
	i, known := g.at[c.Name]
	if !known {
		i = len(g.columns)
		g.at[c.Name] = i
		g.columns = append(g.columns, &column{name: c.Name, title: c.Title, unit: c.Value.Unit, limits: limits})
	}
	col := g.columns[i]
	if col.unit != c.Value.Unit || col.limits.Lower != limits.Lower || col.limits.Upper != limits.Upper {
		col.mixed = true
	}
	return i
}

// papersOf names the versions of the files that a run was made from.
func papersOf(r record.Run) string {
	var names []string
	for _, f := range r.Files {
		names = append(names, fmt.Sprintf("%s %s %.8s", f.Name, f.Version, f.SHA256))
	}
	return strings.Join(names, ", ")
}

// kindsOf is what is most likely wrong with a bad board: what the diagnosis
// found, else the first check that failed.
func kindsOf(r record.Run) []string {
	if r.Verdict != record.Fail {
		return nil
	}
	if len(r.Suspects) > 0 {
		return []string{r.Suspects[0].Title}
	}
	for _, c := range r.Checks {
		if c.Answer == record.Failed {
			return []string{c.Title}
		}
	}
	return []string{"failed without a check"}
}

// part separates the gauge study from the boards. Of a board the first record
// with a verdict counts: no retest hides it.
func (g *gathered) part(all []testedBoard) {
	seen := map[string]bool{}
	for _, b := range all {
		if g.runs[b.Serial] >= leastGaugeRuns {
			g.gauge = append(g.gauge, b)
			continue
		}
		if seen[b.Serial] {
			continue
		}
		seen[b.Serial] = true
		g.suppliers[b.supplier]++
		switch b.supplier {
		case g.candidate:
			b.Side = qualification.Candidate
		case g.incumbent:
			b.Side = qualification.Incumbent
		default:
			continue
		}
		g.boards = append(g.boards, b)
		if g.first == "" || b.Place.Day < g.first {
			g.first = b.Place.Day
		}
		g.last = max(g.last, b.Place.Day)
	}
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
func (g *gathered) sample(t qualification.Terms, margins map[string]float64, only []string) (s qualification.Sample, left []string) {
	s.Terms = t
	var columns []int
	for i, c := range g.columns {
		if len(only) > 0 && !slices.Contains(only, c.name) {
			continue
		}
		if why := g.unfitColumn(i); why != "" {
			left = append(left, c.name+": "+why)
			continue
		}
		columns = append(columns, i)
		s.Characteristics = append(s.Characteristics, qualification.Characteristic{
			Name: c.name, Title: c.title, Unit: c.unit, Limits: c.limits, Margin: margins[c.name],
		})
	}
	values := func(b testedBoard) []float64 {
		list := make([]float64, len(columns))
		for k, i := range columns {
			v, ok := b.values[i]
			if !ok {
				v = math.NaN()
			}
			list[k] = v
		}
		return list
	}
	for _, b := range g.boards {
		b.Values = values(b)
		s.Boards = append(s.Boards, b.Board)
	}
	for _, b := range g.gauge {
		s.Gauge = append(s.Gauge, qualification.Trial{Part: b.Serial, Place: b.Place, OwnCell: b.ownCell, Values: values(b)})
	}
	return s, left
}

// unfitColumn says why a check cannot be compared.
func (g *gathered) unfitColumn(i int) string {
	if g.columns[i].mixed {
		return "its limits or its unit changed between the records"
	}
	var good, with [2]int
	for _, b := range g.boards {
		if b.Good {
			good[b.Side]++
			if _, ok := b.values[i]; ok {
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
