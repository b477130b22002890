package conformance

import (
	"math"

	"sinkproof/reports/quality/law"
)

// Process is what units are like before they are measured: normal true values,
// and readings normal around them.
type Process struct {
	Mean, SD    float64
	Uncertainty float64 // standard uncertainty of a reading
}

// Risks are the shares of all units.
type Risks struct {
	Conforming    float64 // keep the limits
	Accepted      float64
	Consumer      float64 // accepted, and do not keep the limits
	Producer      float64 // rejected, though they keep the limits
	FalseAccepted float64 // of the accepted, the share that does not keep the limits
	Ratio         float64 // test uncertainty ratio: half the width of the limits over 2 u; NaN for open ones
}

// Global returns the risks of accepting by the rule. NaN for a process or a
// measurement without spread.
//
// Source: JCGM 106:2012, 9.5, by quadrature over the true value.
func (p Process) Global(r Rule) Risks {
	if !(p.SD > 0) || !(p.Uncertainty > 0) || math.IsInf(p.SD+p.Uncertainty, 0) || !r.valid() {
		nan := math.NaN()
		return Risks{nan, nan, nan, nan, nan, nan}
	}
	a := r.Acceptance()
	reading := Limits{a.Lower, a.Upper}
	whole := Limits{math.Inf(-1), math.Inf(1)}
	within := p.accepted(reading, r.Limits)
	out := Risks{
		Conforming: p.share(r.Limits),
		Accepted:   p.accepted(reading, whole),
		Consumer:   p.accepted(reading, Limits{math.Inf(-1), r.Lower}) + p.accepted(reading, Limits{r.Upper, math.Inf(1)}),
		Ratio:      (r.Upper - r.Lower) / (2 * 2 * p.Uncertainty),
	}
	out.Producer = math.Max(0, out.Conforming-within)
	out.FalseAccepted = out.Consumer / out.Accepted
	if math.IsInf(out.Ratio, 0) {
		out.Ratio = math.NaN()
	}
	return out
}

// share returns the share of true values within limits.
func (p Process) share(l Limits) float64 {
	return 1 - law.Phi((l.Lower-p.Mean)/p.SD) - law.Phi((p.Mean-l.Upper)/p.SD)
}

// accepted integrates over the true values within limits the probability that
// the reading is accepted. Panels are cut at the acceptance limits, around which
// that probability turns.
func (p Process) accepted(reading, within Limits) float64 {
	const far = 8.5
	low, high := math.Max(within.Lower, p.Mean-far*p.SD), math.Min(within.Upper, p.Mean+far*p.SD)
	if !(low < high) {
		return 0
	}
	f := func(v float64) float64 {
		z := (v - p.Mean) / p.SD
		pass := 1 - law.Phi((reading.Lower-v)/p.Uncertainty) - law.Phi((v-reading.Upper)/p.Uncertainty)
		return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) / p.SD * math.Max(0, pass)
	}
	sum, from := 0.0, low
	for _, cut := range []float64{reading.Lower - 6*p.Uncertainty, reading.Lower, reading.Lower + 6*p.Uncertainty,
		reading.Upper - 6*p.Uncertainty, reading.Upper, reading.Upper + 6*p.Uncertainty, high} {
		if cut > from && cut <= high {
			sum += law.Integral(f, from, cut, 12)
			from = cut
		}
	}
	return sum
}
