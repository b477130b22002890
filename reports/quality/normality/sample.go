package normality

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
	"sinkproof/reports/quality/moments"
)

// Result is the answer of one test.
type Result struct {
	Statistic float64
	P         float64
}

// sorted returns the usable sample in order with its mean and standard
// deviation.
func sorted(data []float64, least int) (x []float64, m moments.Moments, err error) {
	if err := quality.Usable(data, least); err != nil {
		return nil, m, err
	}
	m = moments.Of(data).Moments()
	if !(m.Max > m.Min) {
		return nil, m, fmt.Errorf("all %d values are %v: %w", len(data), m.Min, quality.ErrSample)
	}
	x = slices.Clone(data)
	slices.Sort(x)
	return x, m, nil
}

// tails returns the normal probability below and above each of the sorted
// values at the sample's own mean and spread. A value 38 standard deviations out
// has the smallest double instead of 0, whose logarithm is no number.
func tails(x []float64, m moments.Moments) (below, above []float64) {
	below, above = make([]float64, len(x)), make([]float64, len(x))
	for i, v := range x {
		z := (v - m.Mean) / m.SD
		below[i] = max(law.Phi(z), math.SmallestNonzeroFloat64)
		above[i] = max(law.Phi(-z), math.SmallestNonzeroFloat64)
	}
	return below, above
}
