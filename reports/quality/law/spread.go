package law

import (
	"math"

	"sinkproof/reports/quality/internal/root"
)

// C4 returns the expected sample standard deviation, in units of the true one,
// of normal samples with df degrees of freedom (n-1 for a sample of n). It is
// what control charts name c4. Domain: df > 0, whole or not; NaN outside.
//
// Method: sqrt(2/df) Gamma((df+1)/2) / Gamma(df/2), by Stirling errors, so that
// no gamma function overflows.
func C4(df float64) float64 {
	if !(df > 0) {
		return math.NaN()
	}
	a := df / 2
	// ln of the ratio of the leading terms: a ln(1+1/2a) - 1/2, kept together.
	lead := a*math.Log1p(1/(2*a)) - 0.5
	return math.Exp(lead + stirlingError(a+0.5) - stirlingError(a))
}

// Degrees returns the degrees of freedom of the sample standard deviation that
// has the given relative variance (of the unbiased estimate): what an estimate
// from ranges is worth. Domain: variance > 0; NaN outside.
//
// Source: Patnaik, Biometrika 37 (1950) 78, who matches the moments of chi.
func Degrees(variance float64) float64 {
	if !(variance > 0) || math.IsInf(variance, 0) {
		return math.NaN()
	}
	excess := func(logDF float64) float64 {
		c := C4(math.Exp(logDF))
		return math.Log((1-c)*(1+c)/(c*c)) - math.Log(variance)
	}
	return math.Exp(root.In(excess, math.Log(1e-3), math.Log(1e12)))
}

// Range is the law of the range (largest minus smallest) of N standard normal
// values. Domain: N >= 2.
type Range struct {
	N int
}

// reach is where the normal law ends for a double: Phi(-reach) is 1e-17.
const reach = 8.5

// Mean returns the expected range, d2 of the control charts; NaN outside the
// domain.
//
// Source: Tippett, Biometrika 17 (1925) 364: the integral of
// 1 - Phi^n - (1-Phi)^n.
func (r Range) Mean() float64 {
	if r.N < 2 {
		return math.NaN()
	}
	n := float64(r.N)
	return 2 * newRule().evenly(func(x float64) float64 {
		p := Phi(-x) // the upper tail; by symmetry the half line is enough
		return -math.Expm1(n*math.Log1p(-p)) - math.Pow(p, n)
	}, 0, reach+1, 12)
}

// SD returns the standard deviation of the range, d3 of the control charts; NaN
// outside the domain.
//
// Source: Tippett (1925): half the expected square is the integral of
// 1 - Phi(y)^n - (1-Phi(x))^n + (Phi(y)-Phi(x))^n over all x < y.
func (r Range) SD() float64 {
	if r.N < 2 {
		return math.NaN()
	}
	n, g := float64(r.N), newRule()
	half := g.evenly(func(x float64) float64 {
		below := Phi(x)
		none := math.Pow(Phi(-x), n)
		return g.evenly(func(y float64) float64 {
			above := Phi(-y)
			between := math.Max(0, 1-above-below)
			return -math.Expm1(n*math.Log1p(-above)) - none + math.Pow(between, n)
		}, x, reach, 3)
	}, -reach, reach, 6)
	mean := r.Mean()
	return math.Sqrt(2*half - mean*mean)
}

// CDF returns the probability that the range is at most w; NaN outside the
// domain.
func (r Range) CDF(w float64) float64 {
	switch {
	case r.N < 2 || math.IsNaN(w):
		return math.NaN()
	case w <= 0:
		return 0
	}
	n := float64(r.N)
	p := newRule().evenly(func(x float64) float64 {
		return n * math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) * math.Pow(Phi(x+w)-Phi(x), n-1)
	}, -reach, reach, 24)
	return math.Min(1, p)
}
