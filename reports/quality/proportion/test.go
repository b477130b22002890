package proportion

import (
	"math"

	"sinkproof/reports/quality/law"
)

// Test is the answer to "is the fraction p0?" for one count.
type Test struct {
	TwoSided float64 // p-value against "another fraction"
	Less     float64 // p-value against "a smaller one"
	Greater  float64 // p-value against "a greater one"
	Score    float64 // (estimate - p0) in standard errors at p0
}

// likelier is how much likelier than the observed an outcome must be to count
// as likelier; rounding must not split outcomes of equal probability.
const likelier = 1 + 1e-7

// Against tests bad among n against the fraction p0, exactly.
//
// The two-sided p-value sums the outcomes that are no likelier than the
// observed one, as R's binom.test does. Domain: 0 <= bad <= n, n >= 1,
// 0 < p0 < 1; all fields are NaN outside.
func Against(bad, n int, p0 float64) Test {
	if !Known(bad, n, p0) {
		return Test{math.NaN(), math.NaN(), math.NaN(), math.NaN()}
	}
	b := law.Binomial{N: n, P: p0}
	m := float64(n)
	return Test{
		TwoSided: twoSided(b, bad),
		Less:     b.CDF(bad),
		Greater:  b.Above(bad - 1),
		Score:    (float64(bad) - m*p0) / math.Sqrt(m*p0*(1-p0)),
	}
}

// twoSided finds on the other side of the mode the first outcome that is no
// likelier than bad, and adds both tails.
func twoSided(b law.Binomial, bad int) float64 {
	limit := b.Mass(bad) * likelier
	mode := int(float64(b.N+1) * b.P)
	switch {
	case bad == mode:
		return 1
	case bad < mode:
		k := bad
		low, high := mode, b.N+1
		for low < high { // masses fall from the mode upwards
			if mid := low + (high-low)/2; b.Mass(mid) <= limit {
				high = mid
			} else {
				low = mid + 1
			}
		}
		return math.Min(1, b.CDF(k)+b.Above(low-1))
	default:
		low, high := -1, mode
		for low < high { // masses rise up to the mode
			if mid := low + (high-low+1)/2; b.Mass(mid) <= limit {
				low = mid
			} else {
				high = mid - 1
			}
		}
		return math.Min(1, b.CDF(low)+b.Above(bad-1))
	}
}
