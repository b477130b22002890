package proportion

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
)

// Known reports whether bad of n at this confidence is in the domain.
func Known(bad, n int, confidence float64) bool {
	return n >= 1 && bad >= 0 && bad <= n && quality.Probability(confidence)
}

// Summary holds what is asked about one count.
type Summary struct {
	Bad, N         int
	Estimate       float64
	ClopperPearson quality.Interval
	Wilson         quality.Interval
	Jeffreys       quality.Interval
}

// Summarize returns the estimate and the intervals of bad among n.
func Summarize(bad, n int, confidence float64) Summary {
	return Summary{
		Bad: bad, N: n, Estimate: Estimate(bad, n),
		ClopperPearson: ClopperPearson(bad, n, confidence),
		Wilson:         Wilson(bad, n, confidence),
		Jeffreys:       Jeffreys(bad, n, confidence),
	}
}

// Estimate returns bad/n.
func Estimate(bad, n int) float64 {
	if !Known(bad, n, 0.5) {
		return math.NaN()
	}
	return float64(bad) / float64(n)
}

// ClopperPearson returns the exact interval, which covers the true fraction at
// least with the confidence for every n and fraction. Its lower end is 0 for
// no bad unit, its upper end 1 for none good, and the other end then still
// leaves half the risk.
//
// Source: Clopper and Pearson, Biometrika 26 (1934) 404, by beta quantiles.
func ClopperPearson(bad, n int, confidence float64) quality.Interval {
	if !Known(bad, n, confidence) {
		return quality.Undefined()
	}
	risk := (1 - confidence) / 2
	return quality.Interval{Low: lower(bad, n, risk), High: upper(bad, n, risk)}
}

// UpperBound returns the largest fraction that bad among n does not exclude at
// the confidence, one-sided and exact. For no bad unit it is
// 1 - (1-confidence)^(1/n), the base of a success run.
func UpperBound(bad, n int, confidence float64) float64 {
	if !Known(bad, n, confidence) {
		return math.NaN()
	}
	return upper(bad, n, 1-confidence)
}

// LowerBound returns the smallest fraction that bad among n does not exclude at
// the confidence, one-sided and exact.
func LowerBound(bad, n int, confidence float64) float64 {
	if !Known(bad, n, confidence) {
		return math.NaN()
	}
	return lower(bad, n, 1-confidence)
}

func lower(bad, n int, risk float64) float64 {
	if bad == 0 {
		return 0
	}
	return law.BetaQuantile(risk, float64(bad), float64(n-bad+1))
}

// upper works from the good units, whose small fraction keeps its digits.
func upper(bad, n int, risk float64) float64 {
	if bad == n {
		return 1
	}
	if bad == 0 {
		return -math.Expm1(math.Log(risk) / float64(n))
	}
	return law.BetaQuantile(1-risk, float64(bad+1), float64(n-bad))
}

// Wilson returns the score interval without continuity correction. It never
// leaves 0..1 and does not shrink to a point for no or all bad units.
//
// Source: Wilson, JASA 22 (1927) 209; Newcombe, Statistics in Medicine 17
// (1998) 857, method 3.
func Wilson(bad, n int, confidence float64) quality.Interval {
	if !Known(bad, n, confidence) {
		return quality.Undefined()
	}
	z := mathext.NormalQuantile((1 + confidence) / 2)
	x, m := float64(bad), float64(n)
	centre := x + z*z/2
	half := z * math.Sqrt(x*(m-x)/m+z*z/4)
	i := quality.Interval{Low: (centre - half) / (m + z*z), High: (centre + half) / (m + z*z)}
	if bad == 0 {
		i.Low = 0 // rounding leaves some 1e-17
	}
	if bad == n {
		i.High = 1
	}
	return i
}

// Jeffreys returns the equal-tailed interval of the posterior under the prior
// Beta(1/2, 1/2), with the lower end 0 for no bad unit and the upper end 1 for
// none good.
//
// Source: Brown, Cai and DasGupta, Statistical Science 16 (2001) 101, eq. 6.
func Jeffreys(bad, n int, confidence float64) quality.Interval {
	if !Known(bad, n, confidence) {
		return quality.Undefined()
	}
	a, b := float64(bad)+0.5, float64(n-bad)+0.5
	i := quality.Interval{Low: 0, High: 1}
	if bad > 0 {
		i.Low = law.BetaQuantile((1-confidence)/2, a, b)
	}
	if bad < n {
		i.High = law.BetaQuantile((1+confidence)/2, a, b)
	}
	return i
}

// AgrestiCoull returns the adjusted normal interval. It may leave 0..1 and is
// kept as published for comparison with other programs, not for judgement.
//
// Source: Agresti and Coull, The American Statistician 52 (1998) 119.
func AgrestiCoull(bad, n int, confidence float64) quality.Interval {
	if !Known(bad, n, confidence) {
		return quality.Undefined()
	}
	z := mathext.NormalQuantile((1 + confidence) / 2)
	m := float64(n) + z*z
	p := (float64(bad) + z*z/2) / m
	half := z * math.Sqrt(p*(1-p)/m)
	return quality.Interval{Low: p - half, High: p + half}
}
