package lifetime

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
	"sinkproof/reports/quality/law"
)

// Truncation is how a test ended.
type Truncation int

// A test ends after a time that was set, or with a failure.
const (
	ByTime Truncation = iota
	ByFailure
)

// MTBF is a mean time between failures that come by chance alone.
type MTBF struct {
	Estimate         float64 // NaN without a failure
	LowerBound       float64 // one-sided
	quality.Interval         // two-sided; the upper end is +Inf without a failure
}

// Between returns the mean time between failures from the total time on test,
// exactly. Domain: total > 0, failures >= 0 (at least 1 when the test ended with
// a failure); NaN outside.
//
// Source: Epstein and Sobel, JASA 48 (1953) 486: chi-square limits;
// NIST/SEMATECH e-Handbook, section 8.4.5.1.
func Between(total float64, failures int, ended Truncation, confidence float64) MTBF {
	none := MTBF{math.NaN(), math.NaN(), quality.Undefined()}
	if !(total > 0) || math.IsInf(total, 1) || failures < 0 || (ended == ByFailure && failures == 0) || !quality.Probability(confidence) {
		return none
	}
	df := 2 * float64(failures)
	lowDF := df
	if ended == ByTime {
		lowDF += 2
	}
	chi := distuv.ChiSquared{K: lowDF}
	m := MTBF{Estimate: math.NaN(), LowerBound: 2 * total / chi.Quantile(confidence)}
	m.Interval = quality.Interval{Low: 2 * total / chi.Quantile((1+confidence)/2), High: math.Inf(1)}
	if failures > 0 {
		m.Estimate = total / float64(failures)
		m.High = 2 * total / distuv.ChiSquared{K: df}.Quantile((1-confidence)/2)
	}
	return m
}

// Run plans a test that shows a reliability at a life with a confidence.
type Run struct {
	Reliability, Confidence float64
	Ratio                   float64 // test time over the life asked for; 1 tests just that life
	Shape                   float64 // Weibull shape that is trusted in where Ratio is not 1
	Failures                int     // that the test may have
}

// perUnit returns the reliability over the test time.
func (r Run) perUnit() float64 {
	return math.Pow(r.Reliability, math.Pow(r.Ratio, r.Shape))
}

// Units returns how many units to test, and the confidence that they reach.
// Domain: Reliability and Confidence strictly between 0 and 1, Ratio and Shape
// above 0, Failures not negative; 0 and NaN outside.
//
// Source: success run, 1 - R^n at least the confidence, n the smaller the longer
// the test (Weibayes: Abernethy, The New Weibull Handbook, 6); with failures by
// the binomial law.
func (r Run) Units() (n int, reached float64) {
	if !quality.Probability(r.Reliability) || !quality.Probability(r.Confidence) || !(r.Ratio > 0) || !(r.Shape > 0) || r.Failures < 0 {
		return 0, math.NaN()
	}
	shown := func(n int) float64 { return law.Binomial{N: n, P: 1 - r.perUnit()}.Above(r.Failures) }
	high := r.Failures + 1
	for shown(high) < r.Confidence {
		if high > math.MaxInt32 {
			return 0, math.NaN() // a test too short to show anything
		}
		high *= 2
	}
	n = root.First(func(n int) bool { return shown(n) >= r.Confidence }, r.Failures+1, high)
	return n, shown(n)
}
