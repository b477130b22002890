package law

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Phi returns the probability that a standard normal value is at most z, with
// all digits in the lower tail.
func Phi(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// FAbove returns the probability that a ratio of two independent mean squares of
// d1 and d2 degrees of freedom exceeds f, with all digits far out, where gonum's
// Survival forms 1 - CDF. Domain: d1, d2 > 0; NaN outside.
//
// Source: Abramowitz and Stegun 26.6.2.
func FAbove(f, d1, d2 float64) float64 {
	switch {
	case !(d1 > 0) || !(d2 > 0) || math.IsNaN(f):
		return math.NaN()
	case f <= 0:
		return 1
	case math.IsInf(f, 1):
		return 0
	}
	return mathext.RegIncBeta(d2/2, d1/2, d2/(d2+d1*f))
}
