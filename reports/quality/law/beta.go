package law

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality/internal/root"
)

// BetaQuantile returns the x at which the regularized incomplete beta function
// with parameters a, b > 0 reaches p; NaN outside 0 <= p <= 1.
//
// gonum's inverse gives the start, a bracket around it the last digits: the
// inverse alone is good to about 8 digits where exact intervals are asked for
// more.
func BetaQuantile(p, a, b float64) float64 {
	switch {
	case !(p >= 0 && p <= 1) || !(a > 0) || !(b > 0):
		return math.NaN()
	case p == 0 || p == 1:
		return p
	}
	off := func(x float64) float64 { return mathext.RegIncBeta(a, b, x) - p }
	start := mathext.InvRegIncBeta(a, b, p)
	if !(start > 0 && start < 1) {
		return root.In(off, 0, 1)
	}
	low, high := start*(1-1e-6), math.Min(1, start*(1+1e-6))
	if off(low) > 0 || off(high) < 0 {
		return root.In(off, 0, 1)
	}
	return root.In(off, low, high)
}
