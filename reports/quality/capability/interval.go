package capability

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
)

// CpInterval returns the exact interval of a Cp or Pp whose spread has df
// degrees of freedom (n-1 for the overall one). Domain: df > 0; undefined
// outside, and for an infinite index.
//
// Source: Montgomery, 8.3.4: Cp sqrt(chi²/df).
func CpInterval(cp, df, confidence float64) quality.Interval {
	if !usable(cp, df, confidence) {
		return quality.Undefined()
	}
	chi := distuv.ChiSquared{K: df}
	return quality.Interval{
		Low:  cp * math.Sqrt(chi.Quantile((1-confidence)/2)/df),
		High: cp * math.Sqrt(chi.Quantile((1+confidence)/2)/df),
	}
}

func usable(index, df, confidence float64) bool {
	return df > 0 && !math.IsInf(df, 0) && quality.Probability(confidence) && !math.IsNaN(index) && !math.IsInf(index, 0)
}

// deviation is Bissell's standard error of a Cpk of n values whose spread has
// df degrees of freedom.
func deviation(cpk float64, n int, df float64) float64 {
	return math.Sqrt(1/(9*float64(n)) + cpk*cpk/(2*df))
}

// CpkInterval returns Bissell's interval of a Cpk or Ppk of n values whose
// spread has df degrees of freedom: the index plus and minus z standard errors.
// It is good from about 30 values on. For one limit use CpkExact.
//
// Source: Bissell, Applied Statistics 39 (1990) 331; Montgomery, 8.3.4.
func CpkInterval(cpk float64, n int, df, confidence float64) quality.Interval {
	if !usable(cpk, df, confidence) || n < 1 {
		return quality.Undefined()
	}
	half := mathext.NormalQuantile((1+confidence)/2) * deviation(cpk, n, df)
	return quality.Interval{Low: cpk - half, High: cpk + half}
}

// CpkLowerBound returns Bissell's one-sided lower bound.
func CpkLowerBound(cpk float64, n int, df, confidence float64) float64 {
	if !usable(cpk, df, confidence) || n < 1 {
		return math.NaN()
	}
	return cpk - mathext.NormalQuantile(confidence)*deviation(cpk, n, df)
}

// CpkExact returns the exact interval of an index with one limit: 3 sqrt(n)
// times the index follows the noncentral t law around 3 sqrt(n) times the true
// one. Domain as CpkInterval.
//
// Source: Owen, Technometrics 10 (1968) 445.
func CpkExact(cpk float64, n int, df, confidence float64) quality.Interval {
	if !usable(cpk, df, confidence) || n < 1 {
		return quality.Undefined()
	}
	scale := 3 * math.Sqrt(float64(n))
	return quality.Interval{
		Low:  law.DeltaOf(scale*cpk, df, (1+confidence)/2) / scale,
		High: law.DeltaOf(scale*cpk, df, (1-confidence)/2) / scale,
	}
}

// CpkExactBound returns the exact one-sided lower bound of an index with one
// limit.
func CpkExactBound(cpk float64, n int, df, confidence float64) float64 {
	if !usable(cpk, df, confidence) || n < 1 {
		return math.NaN()
	}
	scale := 3 * math.Sqrt(float64(n))
	return law.DeltaOf(scale*cpk, df, confidence) / scale
}

// CpmInterval returns the interval of a Cpm of n values with this mean and
// spread, by a chi-square of as many degrees of freedom as the mean square
// about the target is worth.
//
// Source: Boyles, Journal of Quality Technology 23 (1991) 17.
func CpmInterval(l Limits, mean, s float64, n int, confidence float64) quality.Interval {
	cpm := l.Cpm(mean, s)
	if !(s > 0) || n < 2 {
		return quality.Undefined()
	}
	a := (mean - l.Target) / s
	df := float64(n) * (1 + a*a) * (1 + a*a) / (1 + 2*a*a)
	return CpInterval(cpm, df, confidence)
}
