package capability

import (
	"math"

	"sinkproof/reports/quality/moments"
)

// outer is the fraction that a normal process has beyond three standard
// deviations on one side, rounded as ISO 22514-2 rounds it.
const outer = 0.00135

// Percentiles are indices of a process that need not be normal: distances from
// the median in units of the distance to the 0.135 % and 99.865 % quantiles.
type Percentiles struct {
	Low, Median, High float64 // the quantiles
	Pp, Ppl, Ppu, Ppk float64 // NaN for what an open side leaves undefined
}

// FromQuantiles returns the percentile indices of a process of which quantile
// is the quantile function: that of a fitted law, or Empirical of a sample.
//
// Source: ISO 22514-2, the geometric method.
func (l Limits) FromQuantiles(quantile func(p float64) float64) Percentiles {
	r := Percentiles{Low: quantile(outer), Median: quantile(0.5), High: quantile(1 - outer)}
	r.Pp = l.Cp((r.High - r.Low) / 6)
	r.Ppl = l.CPL(r.Median, (r.Median-r.Low)/3)
	r.Ppu = l.CPU(r.Median, (r.High-r.Median)/3)
	r.Ppk = math.Min(r.Ppl, r.Ppu)
	if math.IsNaN(r.Ppl) {
		r.Ppk = r.Ppu
	} else if math.IsNaN(r.Ppu) {
		r.Ppk = r.Ppl
	}
	return r
}

// Empirical returns the quantile function of the sorted sample itself
// (definition 6, which does not pretend that its ends are the ends of the
// process). It cannot see farther than the sample: below 740 values the outer
// quantiles are the extreme values, and indices come out too good.
func Empirical(sorted []float64) func(p float64) float64 {
	return func(p float64) float64 { return moments.Quantile(sorted, p, moments.Exclusive) }
}
