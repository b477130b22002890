package capability

import (
	"fmt"
	"math"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
)

// Limits is a specification. An open side is infinite, a missing target NaN.
type Limits struct {
	Lower, Upper, Target float64
}

// Between returns the limits with both sides and no target.
func Between(lower, upper float64) Limits { return Limits{lower, upper, math.NaN()} }

// AtLeast returns the limits with a lower side only.
func AtLeast(lower float64) Limits { return Limits{lower, math.Inf(1), math.NaN()} }

// AtMost returns the limits with an upper side only.
func AtMost(upper float64) Limits { return Limits{math.Inf(-1), upper, math.NaN()} }

// Check returns an error that wraps quality.ErrSample for limits that limit
// nothing: both open, the lower not below the upper, one that is NaN.
func (l Limits) Check() error {
	switch {
	case math.IsNaN(l.Lower) || math.IsNaN(l.Upper):
		return fmt.Errorf("limits %v to %v: %w", l.Lower, l.Upper, quality.ErrSample)
	case math.IsInf(l.Lower, -1) && math.IsInf(l.Upper, 1):
		return fmt.Errorf("neither a lower nor an upper limit: %w", quality.ErrSample)
	case !(l.Lower < l.Upper):
		return fmt.Errorf("the lower limit %v is not below the upper limit %v: %w", l.Lower, l.Upper, quality.ErrSample)
	}
	return nil
}

// OneSided reports whether one side is open.
func (l Limits) OneSided() bool { return math.IsInf(l.Lower, 0) || math.IsInf(l.Upper, 0) }

// Outside reports whether a value violates the limits; one on a limit does not.
func (l Limits) Outside(v float64) bool { return v < l.Lower || v > l.Upper }

// Cp returns (U-L)/6s, the index of a process in the middle; NaN with an open
// side or for a negative s. (Montgomery, Introduction to Statistical Quality
// Control, section 8.3.)
func (l Limits) Cp(s float64) float64 {
	if l.OneSided() || !(s >= 0) {
		return math.NaN()
	}
	return (l.Upper - l.Lower) / (6 * s)
}

// CPL returns (mean-L)/3s; NaN when the lower side is open or s is negative.
func (l Limits) CPL(mean, s float64) float64 {
	if math.IsInf(l.Lower, 0) || !(s >= 0) {
		return math.NaN()
	}
	return (mean - l.Lower) / (3 * s)
}

// CPU returns (U-mean)/3s; NaN when the upper side is open or s is negative.
func (l Limits) CPU(mean, s float64) float64 {
	if math.IsInf(l.Upper, 0) || !(s >= 0) {
		return math.NaN()
	}
	return (l.Upper - mean) / (3 * s)
}

// Cpk returns the smaller of CPL and CPU, or the one that there is. It is
// negative when the mean lies outside the limits.
func (l Limits) Cpk(mean, s float64) float64 {
	low, high := l.CPL(mean, s), l.CPU(mean, s)
	switch {
	case math.IsNaN(low):
		return high
	case math.IsNaN(high):
		return low
	}
	return math.Min(low, high)
}

// Cpm returns (U-L) / 6 sqrt(s² + (mean-target)²), with s² as given (divisor
// n-1, as in NIST/SEMATECH e-Handbook, section 6.1.6); NaN without a target or with an
// open side.
func (l Limits) Cpm(mean, s float64) float64 {
	return l.Cp(math.Hypot(s, mean-l.Target))
}

// Offset returns how far the mean lies from the middle, as a share of half the
// width: 0 in the middle, 1 on a limit. It is the k of Cpk = (1-k) Cp; NaN with
// an open side.
func (l Limits) Offset(mean float64) float64 {
	if l.OneSided() {
		return math.NaN()
	}
	return math.Abs((l.Upper+l.Lower)/2-mean) / ((l.Upper - l.Lower) / 2)
}

// Nonconforming returns the fractions below and above the limits of a normal
// process.
func (l Limits) Nonconforming(mean, s float64) (below, above float64) {
	if !(s >= 0) {
		return math.NaN(), math.NaN()
	}
	if s == 0 {
		return count(mean < l.Lower), count(mean > l.Upper)
	}
	return law.Phi((l.Lower - mean) / s), law.Phi((mean - l.Upper) / s)
}

func count(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
