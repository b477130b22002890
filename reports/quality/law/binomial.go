package law

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality/internal/root"
)

// reached is how far below a probability a CDF may stay and still count as
// having reached it: rounding alone must not move a quantile by one.
const reached = 1 - 1e-13

// Binomial is the law of the number of bad units among N, each bad with
// probability P, independently. Domain: N >= 0, 0 <= P <= 1.
type Binomial struct {
	N int
	P float64
}

func (b Binomial) valid() bool { return b.N >= 0 && b.P >= 0 && b.P <= 1 }

// Mass returns the probability of exactly k; NaN outside the domain.
// Method: Loader (2000), accurate to about 14 digits also far out.
func (b Binomial) Mass(k int) float64 {
	if !b.valid() {
		return math.NaN()
	}
	return binomialMass(float64(k), float64(b.N), b.P, 1-b.P)
}

// CDF returns the probability of at most k; NaN outside the domain.
// Method: regularized incomplete beta function of gonum, Abramowitz and Stegun
// 26.5.24.
func (b Binomial) CDF(k int) float64 {
	switch {
	case !b.valid():
		return math.NaN()
	case k < 0:
		return 0
	case k >= b.N || b.P == 0:
		return 1
	case b.P == 1:
		return 0
	}
	return mathext.RegIncBeta(float64(b.N-k), float64(k+1), 1-b.P)
}

// Above returns the probability of more than k, without the cancellation of
// 1 - CDF(k); NaN outside the domain.
func (b Binomial) Above(k int) float64 {
	switch {
	case !b.valid():
		return math.NaN()
	case k < 0:
		return 1
	case k >= b.N || b.P == 0:
		return 0
	case b.P == 1:
		return 1
	}
	return mathext.RegIncBeta(float64(k+1), float64(b.N-k), b.P)
}

// Quantile returns the smallest k with CDF(k) >= p: 0 for p <= 0, N for p >= 1
// and outside the domain of the law.
func (b Binomial) Quantile(p float64) int {
	return root.First(func(k int) bool { return b.CDF(k) >= p*reached }, 0, b.N-1)
}
