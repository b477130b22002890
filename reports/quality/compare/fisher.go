package compare

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
	"sinkproof/reports/quality/law"
	"sinkproof/reports/quality/proportion"
)

// Counts are the bad and the good units of one group.
type Counts struct {
	Bad, Good int
}

// N returns the number of units.
func (c Counts) N() int { return c.Bad + c.Good }

// Fractions is the comparison of two fractions of bad units.
type Fractions struct {
	Difference       float64          // of the fractions
	DifferenceRange  quality.Interval // Newcombe's interval of it
	P                float64          // Fisher's exact test
	PLess, PGreater  float64          // one-sided: the first group has fewer, more
	OddsRatio        float64          // conditional estimate; 0 or +Inf at the ends
	OddsRange        quality.Interval // exact, of the odds ratio
	Z, ZP, ChiSquare float64          // large-sample test by the pooled fraction, without correction
}

// Fisher compares two fractions exactly. Each group needs a unit. Z, ZP and
// ChiSquare are NaN when all units are bad or all good.
//
// The two-sided p-value sums the tables that are no likelier than the observed
// one; the odds ratio is the conditional maximum-likelihood estimate with its
// exact interval, as in R's fisher.test. Newcombe's interval is that of method
// 10 of Statistics in Medicine 17 (1998) 873, without correction.
func Fisher(a, b Counts, confidence float64) (Fractions, error) {
	if a.Bad < 0 || a.Good < 0 || b.Bad < 0 || b.Good < 0 || a.N() == 0 || b.N() == 0 {
		return Fractions{}, fmt.Errorf("comparison of fractions %+v and %+v: %w", a, b, quality.ErrSample)
	}
	table := law.Hypergeometric{Lot: a.N() + b.N(), Bad: a.Bad + b.Bad, Drawn: a.N()}
	f := Fractions{
		Difference: proportion.Estimate(a.Bad, a.N()) - proportion.Estimate(b.Bad, b.N()),
		P:          twoSided(table, a.Bad),
		PLess:      table.CDF(a.Bad),
		PGreater:   table.Above(a.Bad - 1),
		OddsRatio:  conditional(table, a.Bad),
		OddsRange:  oddsRange(table, a.Bad, confidence),
	}
	f.DifferenceRange = newcombe(a, b, confidence)
	pooled := float64(a.Bad+b.Bad) / float64(a.N()+b.N())
	f.Z = f.Difference / math.Sqrt(pooled*(1-pooled)*(1/float64(a.N())+1/float64(b.N())))
	f.ZP = 2 * law.Phi(-math.Abs(f.Z))
	f.ChiSquare = f.Z * f.Z
	return f, nil
}

// newcombe combines Wilson's intervals of both groups.
func newcombe(a, b Counts, confidence float64) quality.Interval {
	if !quality.Probability(confidence) {
		return quality.Undefined()
	}
	pa, pb := proportion.Estimate(a.Bad, a.N()), proportion.Estimate(b.Bad, b.N())
	wa, wb := proportion.Wilson(a.Bad, a.N(), confidence), proportion.Wilson(b.Bad, b.N(), confidence)
	return quality.Interval{
		Low:  pa - pb - math.Hypot(pa-wa.Low, wb.High-pb),
		High: pa - pb + math.Hypot(wa.High-pa, pb-wb.Low),
	}
}

// twoSided sums what is no likelier than observed, but for rounding.
func twoSided(h law.Hypergeometric, observed int) float64 {
	limit := h.Mass(observed) * (1 + 1e-7)
	least, most := h.Support()
	sum := 0.0
	for k := least; k <= most; k++ {
		if m := h.Mass(k); m <= limit {
			sum += m
		}
	}
	return math.Min(1, sum)
}

// tilted is the law of a table under another odds ratio (Fisher's noncentral
// hypergeometric law): the masses times odds^k.
type tilted struct {
	least int
	logs  []float64
}

func newTilted(h law.Hypergeometric) tilted {
	least, most := h.Support()
	t := tilted{least: least}
	for k := least; k <= most; k++ {
		t.logs = append(t.logs, math.Log(h.Mass(k)))
	}
	return t
}

// at returns mean, probability of at most k, and of at least k.
func (t tilted) at(logOdds float64, k int) (mean, below, above float64) {
	top := math.Inf(-1)
	for i, l := range t.logs {
		top = math.Max(top, l+float64(i)*logOdds)
	}
	total := 0.0
	for i, l := range t.logs {
		m := math.Exp(l + float64(i)*logOdds - top)
		total += m
		mean += m * float64(t.least+i)
		if t.least+i <= k {
			below += m
		}
		if t.least+i >= k {
			above += m
		}
	}
	return mean / total, below / total, above / total
}

// widest is the logarithm of odds that no table of whole counts reaches.
const widest = 60

// conditional returns the odds ratio under which the observed count is the mean.
func conditional(h law.Hypergeometric, observed int) float64 {
	least, most := h.Support()
	switch {
	case least == most:
		return math.NaN() // one table only: nothing to learn
	case observed == least:
		return 0
	case observed == most:
		return math.Inf(1)
	}
	t := newTilted(h)
	return math.Exp(root.In(func(l float64) float64 {
		mean, _, _ := t.at(l, observed)
		return mean - float64(observed)
	}, -widest, widest))
}

// oddsRange inverts both tails.
func oddsRange(h law.Hypergeometric, observed int, confidence float64) quality.Interval {
	least, most := h.Support()
	if !quality.Probability(confidence) || least == most {
		return quality.Undefined()
	}
	t, risk := newTilted(h), (1-confidence)/2
	i := quality.Interval{Low: 0, High: math.Inf(1)}
	if observed > least {
		i.Low = math.Exp(root.In(func(l float64) float64 { _, _, above := t.at(l, observed); return above - risk }, -widest, widest))
	}
	if observed < most {
		i.High = math.Exp(root.In(func(l float64) float64 { _, below, _ := t.at(l, observed); return below - risk }, -widest, widest))
	}
	return i
}

// Ordinary returns the plain odds ratio ad/bc of a table, with Woolf's interval
// by logarithms, half a unit added to every cell where one is empty.
func Ordinary(a, b Counts, confidence float64) (float64, quality.Interval) {
	cells := [4]float64{float64(a.Bad), float64(a.Good), float64(b.Bad), float64(b.Good)}
	if a.Bad == 0 || a.Good == 0 || b.Bad == 0 || b.Good == 0 {
		for i := range cells {
			cells[i] += 0.5
		}
	}
	ratio := cells[0] * cells[3] / (cells[1] * cells[2])
	if !quality.Probability(confidence) {
		return ratio, quality.Undefined()
	}
	sum := 0.0
	for _, c := range cells {
		sum += 1 / c
	}
	half := mathext.NormalQuantile((1+confidence)/2) * math.Sqrt(sum)
	return ratio, quality.Interval{Low: ratio * math.Exp(-half), High: ratio * math.Exp(half)}
}
