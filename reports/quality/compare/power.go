package compare

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
	"sinkproof/reports/quality/law"
)

// Power returns the probability that a two-sided comparison of the means of n
// and n units at the level alpha finds a difference of delta, for normal values
// of standard deviation sd. n need not be whole. Only the side of the difference
// counts (as in R's power.t.test). Domain: n >= 2, sd > 0, 0 < alpha < 1; NaN
// outside.
func Power(n, delta, sd, alpha float64) float64 {
	if !(n >= 2) || !(sd > 0) || !quality.Probability(alpha) || math.IsNaN(delta) {
		return math.NaN()
	}
	df := 2 * (n - 1)
	limit := distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(1 - alpha/2)
	return law.NoncentralT{DF: df, Delta: math.Sqrt(n/2) * math.Abs(delta) / sd}.Above(limit)
}

// Size returns how many units per group a comparison needs to find a difference
// of delta with the power; round it up. NaN outside the domain of Power, for no
// difference, and beyond a billion units.
func Size(delta, sd, alpha, power float64) float64 {
	if !quality.Probability(power) || math.IsNaN(Power(2, delta, sd, alpha)) || delta == 0 {
		return math.NaN()
	}
	return atLeast(func(n float64) float64 { return Power(n, delta, sd, alpha) - power })
}

// EquivalencePower returns the probability that two one-sided tests at the level
// alpha call two groups of n and n units equivalent within the margin, when their
// means differ by delta. Normal values of equal standard deviation sd. Domain: n
// >= 2, margin > 0, sd > 0, 0 < alpha < 0.5; NaN outside.
//
// Method: given the sample standard deviation the difference must fall into an
// interval, which is a normal probability; averaged over the law of the standard
// deviation (Owen, Biometrika 52 (1965) 437). Exact.
func EquivalencePower(n, delta, margin, sd, alpha float64) float64 {
	if !(n >= 2) || !(margin > 0) || !(sd > 0) || !(alpha > 0 && alpha < 0.5) || math.IsNaN(delta) {
		return math.NaN()
	}
	df, se := 2*(n-1), sd*math.Sqrt(2/n)
	limit := distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(1 - alpha)
	return law.OverSpread(df, func(s float64) float64 {
		half := margin/se - limit*s
		if half <= 0 {
			return 0
		}
		return law.Phi(half-delta/se) - law.Phi(-half-delta/se)
	})
}

// EquivalenceSize returns how many units per group two one-sided tests need to
// call groups equivalent with the power; round it up. NaN outside the domain, for
// a difference beyond the margin, and beyond a billion units.
func EquivalenceSize(delta, margin, sd, alpha, power float64) float64 {
	if !quality.Probability(power) || math.IsNaN(EquivalencePower(2, delta, margin, sd, alpha)) || math.Abs(delta) >= margin {
		return math.NaN()
	}
	return atLeast(func(n float64) float64 { return EquivalencePower(n, delta, margin, sd, alpha) - power })
}

// atLeast returns the smallest n from 2 on at which lack, which rises with n, is
// no longer negative.
func atLeast(lack func(float64) float64) float64 {
	low, high := 2.0, 4.0
	if lack(low) >= 0 {
		return low
	}
	for lack(high) < 0 {
		if high > 1e9 {
			return math.NaN()
		}
		low, high = high, 2*high
	}
	return root.In(lack, low, high)
}

// FractionsPower returns the probability that a two-sided test of fractions of n
// and n units at the level alpha tells p from q, by the normal law (Fleiss,
// Statistical Methods for Rates and Proportions, 3). Exact tests need a few units
// more. NaN outside n >= 1, 0 < p, q < 1, 0 < alpha < 1.
func FractionsPower(n, p, q, alpha float64) float64 {
	if !(n >= 1) || !quality.Probability(p) || !quality.Probability(q) || !quality.Probability(alpha) {
		return math.NaN()
	}
	z := distuv.UnitNormal.Quantile(1 - alpha/2)
	mean := (p + q) / 2
	return law.Phi((math.Abs(p-q)*math.Sqrt(n) - z*math.Sqrt(2*mean*(1-mean))) / math.Sqrt(p*(1-p)+q*(1-q)))
}

// FractionsSize returns how many units per group FractionsPower needs to tell p
// from q with the power; round it up. NaN outside its domain and for p = q.
func FractionsSize(p, q, alpha, power float64) float64 {
	if !quality.Probability(power) || math.IsNaN(FractionsPower(1, p, q, alpha)) || p == q {
		return math.NaN()
	}
	return atLeast(func(n float64) float64 { return FractionsPower(n, p, q, alpha) - power })
}
