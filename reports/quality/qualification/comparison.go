package qualification

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/compare"
	"sinkproof/reports/quality/gauge"
	"sinkproof/reports/quality/spread"
)

// Comparison is one characteristic of both sides. Values are those of good
// boards: what a fault does to a board is judged as a fault, once, and not
// averaged into a mean.
type Comparison struct {
	Characteristic
	// Margin is the one that was used.
	Margin float64
	Sides  [2]capability.Report
	// ByLots tells that lots differ by more than their boards explain, so that the
	// means of lots are compared; LotP is that of each side.
	ByLots bool
	LotP   [2]float64
	compare.Means
	Equivalence compare.Equivalence
	// Over all characteristics, by Holm: the p-values against "alike within the
	// margin", "apart by more than the margin" and "the same".
	EquivalentP, BeyondP, DifferentP float64
	// Alike is the claim about the means.
	Alike Claim
	// Power is that of finding boards equivalent that are alike, with the units
	// that there are; Needed is how many of each side it takes, Seen how many if
	// the difference stays as it was seen, 0 where no number would do.
	Power        float64
	Units        int
	Needed, Seen int
	// Drifts are those in the order of serials, Rig the incumbent's in the order
	// of testing: what the rig did meanwhile.
	Drifts [2]Drift
	Rig    Drift
	Steady Claim
	// PpkLow is the lower bound of the candidate's Ppk.
	PpkLow  float64
	Capable Claim
	// CapableNeeded is how many boards prove the capability that was seen.
	CapableNeeded int
}

// Drift is how far a value moves from the first board to the last.
type Drift struct {
	compare.Means
	// Over all characteristics, by Holm, as in Comparison.
	BeyondP, DifferentP float64
	inside, beyond      float64
}

// unit is what is counted.
func (c *Comparison) unit() string {
	if c.ByLots {
		return "lot"
	}
	return "board"
}

// newComparisons compares every characteristic.
func newComparisons(s Sample) ([]Comparison, error) {
	list := make([]Comparison, len(s.Characteristics))
	for i, ch := range s.Characteristics {
		c := &list[i]
		c.Characteristic = ch
		if err := c.compare(s, i); err != nil {
			return nil, fmt.Errorf("characteristic %s: %w", ch.Name, err)
		}
	}
	share(list, s.Terms.Alpha)
	return list, nil
}

// share holds the p-values of all characteristics against one risk. What speaks
// for a candidate is one family, what speaks against another.
func share(list []Comparison, alpha float64) {
	k := len(list)
	alike, differ := make([]float64, k), make([]float64, 3*k)
	beyond := make([]float64, 2*k)
	for i, c := range list {
		alike[i] = c.Equivalence.P
		beyond[i], beyond[k+i] = 1-c.Equivalence.P, c.Drifts[Candidate].beyond
		differ[i], differ[k+i], differ[2*k+i] = c.Means.P, c.Drifts[Candidate].P, c.Drifts[Incumbent].P
	}
	alike, beyond, differ = compare.Holm(alike), compare.Holm(beyond), compare.Holm(differ)
	for i := range list {
		c := &list[i]
		c.EquivalentP, c.BeyondP, c.DifferentP = alike[i], beyond[i], differ[i]
		c.Drifts[Candidate].BeyondP = beyond[k+i]
		c.Drifts[Candidate].DifferentP, c.Drifts[Incumbent].DifferentP = differ[k+i], differ[2*k+i]
		c.Alike = claimed(c.EquivalentP, c.BeyondP, alpha)
		c.Steady = c.Drifts[Candidate].claim(alpha)
	}
}

// claim is steady where no drift is seen, or one that stays within the margin.
func (d Drift) claim(alpha float64) Claim {
	switch {
	case d.BeyondP <= alpha:
		return Disproved
	case d.DifferentP <= alpha && d.inside > alpha:
		return Open
	}
	return Proved
}

func (c *Comparison) compare(s Sample, i int) error {
	t := s.Terms
	good := slices.DeleteFunc(pointers(s.Boards), func(b *Board) bool { return !b.Good || math.IsNaN(b.Values[i]) })
	value := func(b *Board) float64 { return b.Values[i] }
	var groups [2][][]float64
	var boards, lots [2]compare.Sample
	for _, side := range []Side{Candidate, Incumbent} {
		groups[side] = grouped(good, side, value)
		boards[side], lots[side] = sampled(slices.Concat(groups[side]...)), ofMeans(groups[side])
		if boards[side].N < 2 {
			return fmt.Errorf("%d good boards of the %s have a value; two are the least", boards[side].N, side)
		}
		c.LotP[side] = math.NaN()
		if test, err := compare.OneWay(groups[side]); err == nil {
			c.LotP[side] = test.P
			c.ByLots = c.ByLots || test.P < gauge.Pooling
		}
		var err error
		if c.Sides[side], err = capability.Study(groups[side], c.Limits, spread.Pooled, 1-t.Alpha); err != nil {
			return err
		}
	}
	c.Margin = c.marginAround(boards[Incumbent].Mean)
	compared := boards
	if c.ByLots {
		compared = lots
	}
	c.means(compared, t, len(s.Characteristics))
	c.capable(t, len(s.Characteristics))
	for _, side := range []Side{Candidate, Incumbent} {
		c.Drifts[side] = newDrift(ordered(good, side, bySerial), value, c.Margin, t.Alpha)
	}
	c.Rig = newDrift(ordered(good, Incumbent, byTime), value, c.Margin, t.Alpha)
	return nil
}

// means compares means of boards or of lots. Values without any spread are alike
// or not, without a test.
func (c *Comparison) means(x [2]compare.Sample, t Terms, family int) {
	c.Means = compare.Welch(x[Candidate], x[Incumbent], 1-t.Alpha)
	c.Equivalence = c.Means.Equivalent(c.Margin, t.Alpha)
	if c.SE == 0 {
		c.Equivalence.P = 0
		if math.Abs(c.Difference) >= c.Margin {
			c.Equivalence.P = 1
		}
	}
	sd := math.Sqrt((x[0].SD*x[0].SD + x[1].SD*x[1].SD) / 2)
	c.Units = min(x[0].N, x[1].N)
	// The first of Holm's steps, so that the power holds for each.
	alpha := t.Alpha / float64(family)
	if !(sd > 0) {
		c.Power, c.Needed, c.Seen = 1, 2, 2
		return
	}
	c.Power = compare.EquivalencePower(float64(c.Units), 0, c.Margin, sd, alpha)
	c.Needed = units(compare.EquivalenceSize(0, c.Margin, sd, alpha, t.Power))
	if math.Abs(c.Difference) < c.Margin {
		c.Seen = units(compare.EquivalenceSize(c.Difference, c.Margin, sd, alpha, t.Power))
	}
}

// capable judges the candidate's Ppk. To qualify every characteristic must pass,
// so that each may take the whole risk; to disprove they share it.
func (c *Comparison) capable(t Terms, family int) {
	r := c.Sides[Candidate]
	ppk, df := r.Ppk.Value, float64(r.N-1)
	bound := capability.CpkLowerBound
	if c.Limits.OneSided() {
		bound = capability.CpkExactBound
	}
	if math.IsInf(ppk, 1) {
		c.PpkLow, c.Capable, c.CapableNeeded = ppk, Proved, 2
		return
	}
	c.PpkLow = bound(ppk, r.N, df, 1-t.Alpha)
	switch {
	case c.PpkLow >= t.Ppk:
		c.Capable = Proved
	case capability.CpkInterval(ppk, r.N, df, 1-2*t.Alpha/float64(family)).High < t.Ppk:
		c.Capable = Disproved
	}
	if ppk <= t.Ppk {
		return
	}
	low, high := 2, 2
	for ; high < 1e6 && !(bound(ppk, high, float64(high-1), 1-t.Alpha) >= t.Ppk); high *= 2 {
		low = high
	}
	for low < high {
		if n := (low + high) / 2; bound(ppk, n, float64(n-1), 1-t.Alpha) >= t.Ppk {
			high = n
		} else {
			low = n + 1
		}
	}
	c.CapableNeeded = high
}
