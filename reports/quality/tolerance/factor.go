package tolerance

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
	"sinkproof/reports/quality/law"
)

func known(n int, coverage, confidence float64) bool {
	return n >= 2 && quality.Probability(coverage) && quality.Probability(confidence)
}

// OneSided returns the exact factor of one limit, for a sample of n.
//
// Method: quantile of the noncentral t law (ISO 16269-6; Owen, Technometrics 10
// (1968) 445).
func OneSided(n int, coverage, confidence float64) float64 {
	if !known(n, coverage, confidence) {
		return math.NaN()
	}
	size := math.Sqrt(float64(n))
	t := law.NoncentralT{DF: float64(n - 1), Delta: mathext.NormalQuantile(coverage) * size}
	return t.Quantile(confidence) / size
}

// TwoSided returns the exact factor of two limits, of which both together hold
// the coverage (not each its half), for a sample of n.
//
// Method: for a sample mean off by x the half width that holds the coverage is
// r(x), the root of Phi(x+r) - Phi(x-r) = coverage; the confidence that a
// factor k reaches it is the chi-square probability of (n-1) r²/k², averaged
// over the law of x, which is normal with variance 1/n (ISO 16269-6; Wald and
// Wolfowitz, Annals of Mathematical Statistics 17 (1946) 208).
func TwoSided(n int, coverage, confidence float64) float64 {
	if !known(n, coverage, confidence) {
		return math.NaN()
	}
	grid := newGrid(n, coverage)
	guess := TwoSidedHowe(n, coverage, confidence)
	short := func(k float64) float64 { return grid.confidence(k) - confidence }
	low, high := 0.5*guess, 2*guess
	for short(low) > 0 {
		low /= 2
	}
	for short(high) < 0 {
		high *= 2
	}
	return root.In(short, low, high)
}

// grid holds half widths and weights at the nodes of the average over the
// sample mean, which do not depend on k.
type grid struct {
	df         float64
	half, mass []float64
}

// panels over the half line of the sample mean up to 8.5 standard deviations.
const panels, far = 6, 8.5

func newGrid(n int, coverage float64) grid {
	g := grid{df: float64(n - 1)}
	size := math.Sqrt(float64(n))
	law.Integral(func(z float64) float64 {
		density := 2 * math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
		g.half = append(g.half, halfWidth(z/size, coverage))
		g.mass = append(g.mass, density)
		return 0
	}, 0, far, panels)
	return g
}

// confidence integrates again over the same nodes, in the same order.
func (g grid) confidence(k float64) float64 {
	i := -1
	return law.Integral(func(float64) float64 {
		i++
		return g.mass[i] * mathext.GammaIncRegComp(g.df/2, g.df*g.half[i]*g.half[i]/(2*k*k))
	}, 0, far, panels)
}

// halfWidth returns the r with Phi(x+r) - Phi(x-r) = coverage, for x >= 0.
func halfWidth(x, coverage float64) float64 {
	short := func(r float64) float64 {
		return 1 - coverage - law.Phi(-x-r) - law.Phi(x-r)
	}
	z := mathext.NormalQuantile((1 + coverage) / 2)
	return root.In(short, z*(1-1e-12), x+z)
}

// TwoSidedHowe returns Howe's approximation of TwoSided, as the NIST/SEMATECH
// e-Handbook, section 7.2.6.3 gives it; within about 1 % from n = 5 on.
//
// Source: Howe, JASA 64 (1969) 610, without his second-order correction.
func TwoSidedHowe(n int, coverage, confidence float64) float64 {
	if !known(n, coverage, confidence) {
		return math.NaN()
	}
	df := float64(n - 1)
	z := mathext.NormalQuantile((1 + coverage) / 2)
	return z * math.Sqrt(df*(1+1/float64(n))/distuv.ChiSquared{K: df}.Quantile(1-confidence))
}

// OneSidedNatrella returns Natrella's approximation of OneSided, as the
// NIST/SEMATECH e-Handbook, section 7.2.6.3 gives it; NaN where it has none (few units
// and much confidence).
//
// Source: Natrella, Experimental Statistics, NBS Handbook 91 (1963), 2-5.
func OneSidedNatrella(n int, coverage, confidence float64) float64 {
	if !known(n, coverage, confidence) {
		return math.NaN()
	}
	zp, zc := mathext.NormalQuantile(coverage), mathext.NormalQuantile(confidence)
	a := 1 - zc*zc/(2*float64(n-1))
	b := zp*zp - zc*zc/float64(n)
	if a <= 0 {
		return math.NaN()
	}
	return (zp + math.Sqrt(zp*zp-a*b)) / a
}

// Limits returns the interval of k standard deviations around the mean.
func Limits(mean, sd, k float64) quality.Interval {
	return quality.Interval{Low: mean - k*sd, High: mean + k*sd}
}
