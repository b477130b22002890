package qualification

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sinkproof/reports/quality/compare"
	"sinkproof/reports/quality/proportion"
)

// Defects is the comparison of bad boards.
type Defects struct {
	Sides [2]proportion.Summary
	compare.Fractions
	// WorseP is the p-value of "the candidate has no more bad boards".
	WorseP float64
	// Clustered tells that the bad boards of a side stand together in few lots by
	// more than chance; WorseP then compares the fractions of lots.
	Clustered bool
	// Worse is the claim "more bad boards by less than the margin".
	Claim Claim
	// Needed is how many boards of each side find the claim proved with the power
	// where both sides have as many bad ones as the incumbent; Seen how many it
	// takes if the fractions stay as they are, 0 where no number would do. Differ
	// is how many it takes to find the difference that was seen.
	Needed, Seen, Differ int
	// Power is that of proving the claim with the boards that there are.
	Power float64
	// Kinds are the faults, the most frequent first.
	Kinds []Kind
}

// Kind is a kind of fault with the boards that had it.
type Kind struct {
	Name  string
	Count [2]int
	// P is Fisher's, over all kinds by Holm.
	P float64
	// Enough is how many boards show one such board with 95 % where the larger
	// fraction that was seen is the true one.
	Enough int
}

// clusterP is the risk of calling bad boards clustered that are not.
const clusterP = 0.01

// newDefects compares the bad boards. Newcombe's interval proves the claim,
// Fisher's exact test disproves it.
func newDefects(boards []*Board, t Terms) (Defects, error) {
	var d Defects
	var counts [2]compare.Counts
	for _, b := range boards {
		if b.Good {
			counts[b.Side].Good++
		} else {
			counts[b.Side].Bad++
		}
	}
	for side, c := range counts {
		d.Sides[side] = proportion.Summarize(c.Bad, c.N(), 1-t.Alpha)
	}
	var err error
	if d.Fractions, err = compare.Fisher(counts[Candidate], counts[Incumbent], 1-2*t.Alpha); err != nil {
		return d, fmt.Errorf("compare bad boards: %w", err)
	}
	d.WorseP = d.PGreater
	d.cluster(boards)
	switch {
	case d.WorseP <= t.Alpha:
		d.Claim = Disproved
	case d.DifferenceRange.High < t.BadMargin && !d.Clustered:
		d.Claim = Proved
	}
	d.size(counts, t)
	return d, d.kinds(boards, counts)
}

// size says how many boards it takes. A fraction that was not seen is taken as
// half a board, since no number tells zero from anything.
func (d *Defects) size(counts [2]compare.Counts, t Terms) {
	shrunk := func(c compare.Counts) float64 { return (float64(c.Bad) + 0.5) / (float64(c.N()) + 1) }
	p, q := shrunk(counts[Incumbent]), shrunk(counts[Candidate])
	n := float64(min(counts[0].N(), counts[1].N()))
	d.Needed = units(compare.FractionsSize(p, p+t.BadMargin, 2*t.Alpha, t.Power))
	d.Power = compare.FractionsPower(n, p, p+t.BadMargin, 2*t.Alpha)
	if q < p+t.BadMargin {
		d.Seen = units(compare.FractionsSize(q, p+t.BadMargin, 2*t.Alpha, t.Power))
	}
	d.Differ = units(compare.FractionsSize(q, p, 2*t.Alpha, t.Power))
}

// cluster looks whether bad boards stand together in lots. Where they do, a lot
// is one observation.
func (d *Defects) cluster(boards []*Board) {
	var means [2]compare.Sample
	for _, side := range []Side{Candidate, Incumbent} {
		groups := grouped(boards, side, func(b *Board) float64 {
			if b.Good {
				return 0
			}
			return 1
		})
		if test, err := compare.KruskalWallis(groups); err == nil && test.P < clusterP {
			d.Clustered = true
		}
		means[side] = ofMeans(groups)
	}
	if d.Clustered {
		m := compare.Welch(means[Candidate], means[Incumbent], 0.95)
		d.WorseP = m.P / 2
		if m.Difference < 0 {
			d.WorseP = 1 - m.P/2
		}
	}
}

// kinds counts the faults by kind. A board with two faults counts for both.
func (d *Defects) kinds(boards []*Board, counts [2]compare.Counts) error {
	at := map[string]int{}
	for _, b := range boards {
		for _, name := range b.Kinds {
			if _, known := at[name]; !known {
				at[name] = len(d.Kinds)
				d.Kinds = append(d.Kinds, Kind{Name: name})
			}
			d.Kinds[at[name]].Count[b.Side]++
		}
	}
	slices.SortFunc(d.Kinds, func(a, b Kind) int {
		if x, y := a.Count[0]+a.Count[1], b.Count[0]+b.Count[1]; x != y {
			return y - x
		}
		return strings.Compare(a.Name, b.Name)
	})
	ps := make([]float64, len(d.Kinds))
	for i := range d.Kinds {
		k := &d.Kinds[i]
		var c [2]compare.Counts
		most := 0.0
		for side, n := range counts {
			c[side] = compare.Counts{Bad: k.Count[side], Good: n.N() - k.Count[side]}
			most = max(most, float64(k.Count[side])/float64(n.N()))
		}
		f, err := compare.Fisher(c[0], c[1], 0.95)
		if err != nil {
			return fmt.Errorf("compare fault %s: %w", k.Name, err)
		}
		ps[i] = f.P
		k.Enough = proportion.Needed(0, min(most, 1-1e-9), 0.95)
	}
	for i, p := range compare.Holm(ps) {
		d.Kinds[i].P = p
	}
	return nil
}

// grouped are the values of a side by lot, boards without a value left out.
func grouped(boards []*Board, side Side, value func(*Board) float64) [][]float64 {
	var groups [][]float64
	at := map[string]int{}
	for _, b := range boards {
		v := value(b)
		if b.Side != side || math.IsNaN(v) {
			continue
		}
		i, known := at[b.Lot]
		if !known {
			i = len(groups)
			at[b.Lot] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], v)
	}
	return groups
}

// ofMeans is the sample of the means of lots.
func ofMeans(groups [][]float64) compare.Sample {
	means := make([]float64, len(groups))
	for i, g := range groups {
		for _, v := range g {
			means[i] += v / float64(len(g))
		}
	}
	return sampled(means)
}

// sampled is compare.Of for samples of any size.
func sampled(values []float64) compare.Sample {
	s, err := compare.Of(values)
	if err != nil {
		s = compare.Sample{N: len(values), Mean: math.NaN(), SD: math.NaN()}
		if len(values) == 1 {
			s.Mean = values[0]
		}
	}
	return s
}
