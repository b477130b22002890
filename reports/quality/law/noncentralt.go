package law

import (
	"math"
	"slices"

	"sinkproof/reports/quality/internal/root"
)

// NoncentralT is the law of (Z + Delta) / S, where Z is standard normal and
// DF·S² is chi-square with DF degrees of freedom. The distance of a limit from
// a sample mean, in sample standard deviations, follows it; so exact tolerance
// factors, bounds on one-sided capability indices and the operating
// characteristic of variables plans come from it. Domain: DF > 0, finite Delta.
//
// gonum's law of this name falls back to a normal approximation when
// exp(-Delta²/2) underflows (Delta above 38, which is a sample of 160 at a
// limit 3 sigma away), and is right to 1e-3 only there. This one integrates
// the normal probability over the law of S, to 1e-12 absolute everywhere;
// probabilities below that are not to be trusted.
type NoncentralT struct {
	DF, Delta float64
}

func (n NoncentralT) valid() bool {
	return n.DF > 0 && !math.IsInf(n.DF, 0) && !math.IsNaN(n.Delta) && !math.IsInf(n.Delta, 0)
}

// CDF returns the probability of at most t; NaN outside the domain.
func (n NoncentralT) CDF(t float64) float64 {
	if !n.valid() || math.IsNaN(t) {
		return math.NaN()
	}
	return n.mix(t, func(s float64) float64 { return Phi(t*s - n.Delta) })
}

// Above returns the probability of more than t, without cancellation.
func (n NoncentralT) Above(t float64) float64 {
	if !n.valid() || math.IsNaN(t) {
		return math.NaN()
	}
	return n.mix(t, func(s float64) float64 { return Phi(n.Delta - t*s) })
}

// mix integrates the conditional probability over the law of S. The panels
// are even over the 12.5 standard deviations on either side of 1 that hold all
// but 1e-17 of S, and finer around the place where the probability turns.
func (n NoncentralT) mix(t float64, given func(float64) float64) float64 {
	width := 12.5 / math.Sqrt(2*n.DF)
	mode := math.Sqrt(math.Max(0, n.DF-1) / n.DF)
	low, high := math.Max(0, mode-width), mode+width
	r, density := newRule(), chiDensity(n.DF)
	cuts := turns(low, high, n.Delta/t, 1/math.Abs(t))
	sum := 0.0
	for i := 1; i < len(cuts); i++ {
		sum += r.over(func(s float64) float64 { return density(s) * given(s) }, cuts[i-1], cuts[i])
	}
	return math.Min(1, sum)
}

// OverSpread returns the mean of f(S) over S, where df·S² is chi-square with df
// degrees of freedom: what a rule that uses a sample standard deviation comes to
// before the sample is drawn. f must be bounded and may bend, not jump. NaN unless
// df is positive and finite.
func OverSpread(df float64, f func(float64) float64) float64 {
	n := NoncentralT{DF: df}
	if !n.valid() {
		return math.NaN()
	}
	width := 12.5 / math.Sqrt(2*df)
	mode := math.Sqrt(math.Max(0, df-1) / df)
	density := chiDensity(df)
	return newRule().evenly(func(s float64) float64 { return density(s) * f(s) }, math.Max(0, mode-width), mode+width, 60)
}

// turns returns 10 even cuts of low..high, and cuts at distances of unit,
// doubled each time, on both sides of the turn. Towards a low of 0, where the
// density of S is a broken power, panels shrink by halves.
func turns(low, high, turn, unit float64) []float64 {
	const even = 10
	cuts := make([]float64, 0, 2*even)
	for i := 0; i <= even; i++ {
		cuts = append(cuts, low+(high-low)*float64(i)/even)
	}
	for d := unit; d < high-low && len(cuts) < 120; d *= 2 {
		for _, c := range []float64{turn - d, turn + d} {
			if c > low && c < high {
				cuts = append(cuts, c)
			}
		}
	}
	if low == 0 {
		for c, k := high/(2*even), 0; k < 10; c, k = c/2, k+1 {
			cuts = append(cuts, c)
		}
	}
	slices.Sort(cuts)
	return cuts
}

// chiDensity returns the density of S, where df·S² is chi-square. Everything
// large is formed as a difference about 1 before it is multiplied by df.
func chiDensity(df float64) func(float64) float64 {
	a := df / 2
	scale := 2 * math.Sqrt(a/(2*math.Pi)) * math.Exp(-stirlingError(a)) // a! = a Gamma(a)
	return func(s float64) float64 {
		if s <= 0 {
			return 0
		}
		u := s - 1
		return scale / s * math.Exp(a*(2*(math.Log1p(u)-u)-u*u))
	}
}

// Quantile returns the t with CDF(t) = p; NaN unless 0 < p < 1.
func (n NoncentralT) Quantile(p float64) float64 {
	if !n.valid() || !(p > 0 && p < 1) {
		return math.NaN()
	}
	return around(func(t float64) float64 { return n.CDF(t) - p }, n.Delta, 1+math.Abs(n.Delta)/4)
}

// DeltaOf returns the Delta under which a value of at most t has the
// probability p: the end of an exact interval for a noncentrality. NaN outside
// df > 0, 0 < p < 1.
func DeltaOf(t, df, p float64) float64 {
	if !(NoncentralT{df, 0}).valid() || !(p > 0 && p < 1) || math.IsNaN(t) || math.IsInf(t, 0) {
		return math.NaN()
	}
	return around(func(d float64) float64 { return NoncentralT{df, d}.CDF(t) - p }, t, 1+math.Abs(t)/4)
}

// around returns the zero of the monotone f, whose bracket it widens from
// guess by step to both sides, doubled each time.
func around(f func(float64) float64, guess, step float64) float64 {
	at := f(guess)
	for ; !math.IsInf(step, 0); step *= 2 {
		for _, end := range []float64{guess - step, guess + step} {
			if v := f(end); (v < 0) != (at < 0) {
				return root.In(f, math.Min(guess, end), math.Max(guess, end))
			}
		}
	}
	return math.NaN()
}
