package chart

import (
	"math"

	"sinkproof/reports/quality/law"
)

// Constants are the factors of control charts for subgroups of n, computed and
// not looked up (definitions: Montgomery, Introduction to Statistical Quality
// Control, appendix VI).
type Constants struct {
	RangeMean     float64 // d2: expected range of n, in standard deviations
	RangeSD       float64 // d3: standard deviation of the range
	DeviationMean float64 // c4: expected sample standard deviation
	A, A2, A3     float64 // limits of means from sigma, mean range, mean deviation
	B3, B4        float64 // limits of deviations from their mean
	B5, B6        float64 // the same from sigma
	D1, D2        float64 // limits of ranges from sigma
	D3, D4        float64 // the same from the mean range
}

// Of returns the constants for subgroups of n; all NaN below 2.
func Of(n int) Constants {
	r, size := law.Range{N: n}, float64(n)
	c := Constants{RangeMean: r.Mean(), RangeSD: r.SD(), DeviationMean: law.C4(size - 1)}
	if n < 2 {
		c.DeviationMean = math.NaN()
	}
	wobble := 3 * math.Sqrt((1-c.DeviationMean)*(1+c.DeviationMean))
	c.A = 3 / math.Sqrt(size)
	if n < 2 {
		c.A = math.NaN()
	}
	c.A2, c.A3 = c.A/c.RangeMean, c.A/c.DeviationMean
	c.B5, c.B6 = floor(c.DeviationMean-wobble), c.DeviationMean+wobble
	c.B3, c.B4 = c.B5/c.DeviationMean, c.B6/c.DeviationMean
	c.D1, c.D2 = floor(c.RangeMean-3*c.RangeSD), c.RangeMean+3*c.RangeSD
	c.D3, c.D4 = c.D1/c.RangeMean, c.D2/c.RangeMean
	return c
}

// floor keeps a limit of what cannot be negative at 0.
func floor(v float64) float64 {
	if v < 0 {
		return 0
	}
	return v
}
