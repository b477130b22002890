package compare

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
)

// rank returns the ranks of the values, ties averaged, and the sum of t³-t over
// the groups of t tied values.
func rank(values []float64) (ranks []float64, ties float64) {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case values[a] < values[b]:
			return -1
		case values[a] > values[b]:
			return 1
		}
		return 0
	})
	ranks = make([]float64, len(values))
	for i := 0; i < len(order); {
		j := i + 1
		for j < len(order) && values[order[j]] == values[order[i]] {
			j++
		}
		for _, at := range order[i:j] {
			ranks[at] = float64(i+j+1) / 2
		}
		t := float64(j - i)
		ties += t*t*t - t
		i = j
	}
	return ranks, ties
}

// Ranks is the comparison of two samples by ranks.
type Ranks struct {
	U                float64 // pairs in which the first sample's value is the larger; ties count half
	P                float64
	PGreater         float64 // one-sided: the first sample tends to larger values
	Exact            bool    // whether P is exact
	Superiority      float64 // probability that a value of the first exceeds one of the second
	Shift            float64 // Hodges-Lehmann: median of all differences
	quality.Interval         // of the shift
}

// exactBelow is the sample size below which P is exact, when no values are tied
// (as in R's wilcox.test).
const exactBelow = 50

// MannWhitney compares two samples by their ranks, without trusting in normality.
// P is exact for samples below 50 without ties, else normal with corrections for
// continuity and ties. Each sample needs a value.
//
// Source: Mann and Whitney, Annals of Mathematical Statistics 18 (1947) 50;
// Hollander and Wolfe, Nonparametric Statistical Methods, 4.
func MannWhitney(x, y []float64, confidence float64) (Ranks, error) {
	if err := checkGroups([][]float64{x, y}, 1); err != nil {
		return Ranks{}, fmt.Errorf("rank test: %w", err)
	}
	ranks, ties := rank(slices.Concat(x, y))
	m, n := float64(len(x)), float64(len(y))
	u := -m * (m + 1) / 2
	for _, r := range ranks[:len(x)] {
		u += r
	}
	r := Ranks{U: u, Superiority: u / (m * n), Exact: ties == 0 && len(x) < exactBelow && len(y) < exactBelow}
	sd := spreadOfRanks(m, n, ties)
	sum := law.RankSum{M: len(x), N: len(y)}
	if r.Exact {
		at := int(math.Round(u))
		r.PGreater = sum.Above(at - 1)
		r.P = math.Min(1, 2*math.Min(r.PGreater, sum.CDF(at)))
	} else {
		r.P, r.PGreater = normalRanks(u-m*n/2, sd)
	}
	r.shift(x, y, sd, sum, confidence)
	return r, nil
}

// spreadOfRanks returns the standard deviation of U under the same law, less what
// ties take from it.
func spreadOfRanks(m, n, ties float64) float64 {
	return math.Sqrt(m * n / 12 * (m + n + 1 - ties/((m+n)*(m+n-1))))
}

// normalRanks returns the p-values of a centred U with continuity correction.
func normalRanks(off, sd float64) (two, greater float64) {
	if sd == 0 {
		return math.NaN(), math.NaN() // all values are tied
	}
	z := math.Max(0, math.Abs(off)-0.5) / sd
	return math.Min(1, 2*law.Phi(-z)), law.Phi(-(off - 0.5) / sd)
}

// shift estimates the shift and its interval: the order statistics of all
// differences at the quantiles of U.
func (r *Ranks) shift(x, y []float64, sd float64, sum law.RankSum, confidence float64) {
	x, y = slices.Clone(x), slices.Clone(y)
	slices.Sort(x)
	slices.Sort(y)
	pairs := len(x) * len(y)
	r.Shift = (difference(x, y, (pairs-1)/2) + difference(x, y, pairs/2)) / 2
	r.Interval = quality.Undefined()
	if !quality.Probability(confidence) {
		return
	}
	tail := (1 - confidence) / 2
	drop := 0
	if r.Exact {
		drop = sum.Quantile(tail)
	} else {
		drop = int(math.Round(float64(pairs)/2 + mathext.NormalQuantile(tail)*sd))
	}
	if drop = max(drop, 1); drop <= pairs-drop {
		r.Interval = quality.Interval{Low: difference(x, y, drop-1), High: difference(x, y, pairs-drop)}
	}
}

// difference returns the k-th smallest, from 0, of all differences of a sorted x
// and a sorted y, without forming them: it halves the range of values and counts
// pairs, then takes the nearest difference that there is.
func difference(x, y []float64, k int) float64 {
	low, high := x[0]-y[len(y)-1], x[len(x)-1]-y[0]
	for range 200 {
		mid := low + (high-low)/2
		if mid <= low || mid >= high {
			break
		}
		if count(x, y, mid) > k {
			high = mid
		} else {
			low = mid
		}
	}
	if count(x, y, low) > k {
		return low
	}
	return high
}

// count returns how many differences are at most d.
func count(x, y []float64, d float64) int {
	total, j := 0, 0
	for _, v := range x { // as x rises, fewer of y lie within d
		for j < len(y) && v-y[j] > d {
			j++
		}
		total += len(y) - j
	}
	return total
}
