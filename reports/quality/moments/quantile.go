package moments

import (
	"math"
	"slices"
)

// Definition says how a quantile is read off between two order statistics.
type Definition int

// Definitions 6 and 7 of Hyndman and Fan, The American Statistician 50 (1996)
// 361: Exclusive puts the k-th of n values at k/(n+1), Inclusive at
// (k-1)/(n-1), so that the ends are the smallest and the largest value.
const (
	Exclusive Definition = 6
	Inclusive Definition = 7
)

// Quantile returns the p-quantile of the values, which must be sorted. Domain:
// at least one value, 0 <= p <= 1; NaN outside. What falls below the first or
// above the last position is the first or the last value.
func Quantile(sorted []float64, p float64, d Definition) float64 {
	n := float64(len(sorted))
	if n == 0 || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	h := (n-1)*p + 1
	if d == Exclusive {
		h = (n + 1) * p
	}
	h = math.Min(math.Max(h, 1), n)
	// 4*eps forgives what rounding puts just below a whole position.
	low := math.Floor(h + 4e-16*h)
	share := math.Max(0, h-low)
	at := sorted[int(low)-1]
	if share == 0 || int(low) == len(sorted) {
		return at
	}
	return at + share*(sorted[int(low)]-at)
}

// Median returns the middle of the sorted values, or the mean of the middle two.
func Median(sorted []float64) float64 { return Quantile(sorted, 0.5, Inclusive) }

// normalMAD makes the median absolute deviation estimate the standard deviation
// of normal data: 1/0.6745, with the four decimals under which it is published
// (Hampel, JASA 69 (1974) 383, and R's mad).
const normalMAD = 1.4826

// Deviation returns the scaled median absolute deviation of the sorted values:
// a spread that a few wild values do not move. NaN for no values.
func Deviation(sorted []float64) float64 {
	m := Median(sorted)
	off := make([]float64, len(sorted))
	for i, v := range sorted {
		off[i] = math.Abs(v - m)
	}
	slices.Sort(off)
	return normalMAD * Median(off)
}
