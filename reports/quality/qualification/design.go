package qualification

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Level is one place with the boards of both sides there.
type Level struct {
	Factor, Name string
	Count        [2]int
}

// Design is how the boards were spread over lots, places and time.
type Design struct {
	// Lots are the boards of each side by lot, in the order of their names.
	Lots   [2][]Level
	Levels []Level
	// Runs counts the stretches of boards of one side in the order of testing;
	// RunsExpected is what a drawn order gives, RunsP the probability of as few.
	Runs         int
	RunsExpected float64
	RunsP        float64
	// Apart is, by factor, how differently the sides are spread over its places:
	// 0 for alike, 1 for nowhere together.
	Apart []Spreading
	// Confounded says what stands in for the supplier; empty when nothing does.
	Confounded []string
}

// Spreading is how differently the sides are spread over a factor.
type Spreading struct {
	Factor string
	Apart  float64
}

// The limits of a confounded design. Common practice, no source: a drawn order
// of a hundred boards stays below a tenth, and one in a thousand drawn orders
// has so few stretches.
const (
	mostApart  = 0.25
	leastRunsP = 0.001
)

// NewDesign looks at how boards were spread.
func NewDesign(all []Board, t Terms) Design {
	boards := pointers(all)
	var d Design
	for _, side := range []Side{Candidate, Incumbent} {
		d.Lots[side] = levels("lot", boards, func(b *Board) (string, bool) { return b.Lot, b.Side == side })
	}
	for _, f := range []struct {
		name string
		of   func(Place) string
	}{
		{"bench", func(p Place) string { return p.Bench }},
		{"nest", Place.nest},
		{"day", func(p Place) string { return p.Day }},
		{"papers", func(p Place) string { return p.Papers }},
	} {
		list := levels(f.name, boards, func(b *Board) (string, bool) { return f.of(*b.Place), true })
		d.Levels = append(d.Levels, list...)
		d.Apart = append(d.Apart, Spreading{f.name, apart(list)})
	}
	d.order(boards)
	d.judge(t)
	return d
}

// levels counts boards by name.
func levels(factor string, boards []*Board, of func(*Board) (string, bool)) []Level {
	var list []Level
	at := map[string]int{}
	for _, b := range boards {
		name, ok := of(b)
		if !ok {
			continue
		}
		i, known := at[name]
		if !known {
			i = len(list)
			at[name] = i
			list = append(list, Level{Factor: factor, Name: name})
		}
		list[i].Count[b.Side]++
	}
	slices.SortFunc(list, func(a, b Level) int { return strings.Compare(a.Name, b.Name) })
	return list
}

// apart is the total variation distance of the sides over the levels.
func apart(list []Level) float64 {
	var n [2]float64
	for _, l := range list {
		n[0] += float64(l.Count[0])
		n[1] += float64(l.Count[1])
	}
	sum := 0.0
	for _, l := range list {
		sum += math.Abs(float64(l.Count[0])/n[0]-float64(l.Count[1])/n[1]) / 2
	}
	return sum
}

// order counts the stretches of one side in the order of testing and holds them
// against a drawn order (Wald and Wolfowitz, Annals of Mathematical Statistics
// 11 (1940) 147, by the normal law).
func (d *Design) order(boards []*Board) {
	sorted := slices.Clone(boards)
	slices.SortStableFunc(sorted, func(a, b *Board) int {
		if a.Tested != b.Tested {
			if a.Tested < b.Tested {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Serial, b.Serial)
	})
	var n [2]float64
	for i, b := range sorted {
		n[b.Side]++
		if i == 0 || sorted[i-1].Side != b.Side {
			d.Runs++
		}
	}
	product, all := 2*n[0]*n[1], n[0]+n[1]
	d.RunsExpected = product/all + 1
	sd := math.Sqrt(product * (product - all) / (all * all * (all - 1)))
	d.RunsP = distuv.UnitNormal.CDF((float64(d.Runs) + 0.5 - d.RunsExpected) / sd)
}

// judge says what stands in for the supplier.
func (d *Design) judge(t Terms) {
	for _, side := range []Side{Candidate, Incumbent} {
		list := d.Lots[side]
		named := slices.DeleteFunc(slices.Clone(list), func(l Level) bool { return l.Name == "" })
		if len(named) < len(list) {
			d.Confounded = append(d.Confounded, fmt.Sprintf("boards of the %s stand in the ledger without their lot", side))
		}
		if len(named) < t.Lots {
			d.Confounded = append(d.Confounded, fmt.Sprintf("%d lots of the %s: a difference between suppliers could be one between lots; %d each are the least", len(named), side, t.Lots))
		}
	}
	for _, l := range d.Levels {
		for _, side := range []Side{Candidate, Incumbent} {
			if l.Count[side] == 0 {
				d.Confounded = append(d.Confounded, fmt.Sprintf("%s %s saw %d boards of the %s and none of the %s", l.Factor, l.Name, l.Count[1-side], 1-side, side))
			}
		}
	}
	for _, s := range d.Apart {
		if s.Apart > mostApart {
			d.Confounded = append(d.Confounded, fmt.Sprintf("the sides are spread over %ss differently: %.0f %% would have to move, %.0f %% are the most", s.Factor, 100*s.Apart, 100*mostApart))
		}
	}
	if d.RunsP < leastRunsP {
		d.Confounded = append(d.Confounded, fmt.Sprintf("the sides were not interleaved: %d changes of side in the order of testing, a drawn order gives about %.0f; what changed with time could pass for the supplier", d.Runs-1, d.RunsExpected-1))
	}
}
