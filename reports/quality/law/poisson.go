package law

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality/internal/root"
)

// Poisson is the law of a count of rare events with the given Mean >= 0.
type Poisson struct {
	Mean float64
}

// Mass returns the probability of exactly k; NaN for a negative mean.
// Method: Loader (2000).
func (p Poisson) Mass(k int) float64 {
	switch x := float64(k); {
	case !(p.Mean >= 0):
		return math.NaN()
	case k < 0:
		return 0
	case k == 0 || p.Mean == 0:
		return math.Exp(-p.Mean) * boolean(k == 0)
	default:
		return math.Exp(-stirlingError(x)-deviance(x, p.Mean)) / math.Sqrt(2*math.Pi*x)
	}
}

// CDF returns the probability of at most k; NaN for a negative mean.
// Method: regularized incomplete gamma function, Abramowitz and Stegun 26.4.21.
func (p Poisson) CDF(k int) float64 {
	switch {
	case !(p.Mean >= 0):
		return math.NaN()
	case k < 0:
		return 0
	case p.Mean == 0:
		return 1
	}
	return mathext.GammaIncRegComp(float64(k+1), p.Mean)
}

// Above returns the probability of more than k without cancellation; NaN for a
// negative mean.
func (p Poisson) Above(k int) float64 {
	switch {
	case !(p.Mean >= 0):
		return math.NaN()
	case k < 0:
		return 1
	case p.Mean == 0:
		return 0
	}
	return mathext.GammaIncReg(float64(k+1), p.Mean)
}

// Quantile returns the smallest k with CDF(k) >= q: 0 for q <= 0, the largest
// int for q >= 1 and for a negative mean.
func (p Poisson) Quantile(q float64) int {
	if q >= 1 || !(p.Mean >= 0) {
		return math.MaxInt
	}
	high := 1
	for p.CDF(high) < q*reached {
		high *= 2
	}
	return root.First(func(k int) bool { return p.CDF(k) >= q*reached }, 0, high)
}

func boolean(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
