package capability

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/moments"
	"sinkproof/reports/quality/normality"
	"sinkproof/reports/quality/spread"
)

// Index is a capability index with its interval.
type Index struct {
	Value float64
	quality.Interval
}

// Report is a capability study. Fields that are undefined for the data or the
// limits are NaN.
type Report struct {
	N                     int
	Mean                  float64
	SDOverall, SDWithin   float64
	Cp, Cpk, Pp, Ppk, Cpm Index
	AndersonDarling       normality.Result
	ShapiroWilk           normality.Result
	NonconformingExpected float64 // fraction, of a normal process with the overall spread
	NonconformingObserved float64 // fraction of the values
}

// Study judges the values, in their order and by subgroup, against the limits.
// Without subgroups pass each value as a subgroup of its own, or all as one:
// then the spread within is that of moving ranges. The confidence is that of
// every interval. Errors wrap quality.ErrSample.
func Study(subgroups [][]float64, l Limits, by spread.Method, confidence float64) (Report, error) {
	data := slices.Concat(subgroups...)
	if err := quality.Usable(data, 2); err != nil {
		return Report{}, fmt.Errorf("capability: %w", err)
	}
	if err := l.Check(); err != nil {
		return Report{}, fmt.Errorf("capability: %w", err)
	}
	if !quality.Probability(confidence) {
		return Report{}, fmt.Errorf("capability: confidence %v is not between 0 and 1: %w", confidence, quality.ErrSample)
	}
	within, err := spread.Within(subgroups, by)
	if err != nil {
		return Report{}, fmt.Errorf("capability: %w", err)
	}
	m := moments.Of(data).Moments()
	r := Report{N: m.N, Mean: m.Mean, SDOverall: m.SD, SDWithin: within.SD}
	r.Cp = index(l.Cp(within.SD), func(v float64) quality.Interval { return CpInterval(v, within.DF, confidence) })
	r.Cpk = index(l.Cpk(m.Mean, within.SD), func(v float64) quality.Interval { return l.cpk(v, m.N, within.DF, confidence) })
	df := float64(m.N - 1)
	r.Pp = index(l.Cp(m.SD), func(v float64) quality.Interval { return CpInterval(v, df, confidence) })
	r.Ppk = index(l.Cpk(m.Mean, m.SD), func(v float64) quality.Interval { return l.cpk(v, m.N, df, confidence) })
	r.Cpm = index(l.Cpm(m.Mean, m.SD), func(float64) quality.Interval { return CpmInterval(l, m.Mean, m.SD, m.N, confidence) })
	below, above := l.Nonconforming(m.Mean, m.SD)
	r.NonconformingExpected = below + above
	r.NonconformingObserved = observed(data, l)
	r.AndersonDarling = unless(normality.AndersonDarling(data))
	r.ShapiroWilk = unless(normality.ShapiroWilk(data))
	return r, nil
}

func index(v float64, interval func(float64) quality.Interval) Index {
	return Index{Value: v, Interval: interval(v)}
}

// cpk chooses the exact interval where there is one.
func (l Limits) cpk(v float64, n int, df, confidence float64) quality.Interval {
	if l.OneSided() {
		return CpkExact(v, n, df, confidence)
	}
	return CpkInterval(v, n, df, confidence)
}

func observed(data []float64, l Limits) float64 {
	out := 0
	for _, v := range data {
		if l.Outside(v) {
			out++
		}
	}
	return float64(out) / float64(len(data))
}

// unless turns a test that the sample cannot be put to into an undefined one:
// a study of seven values has indices all the same.
func unless(r normality.Result, err error) normality.Result {
	if err != nil {
		return normality.Result{Statistic: math.NaN(), P: math.NaN()}
	}
	return r
}

// Equivalent returns the Ppk of the normal process that has the fraction beyond
// its nearer limit: -z/3. Domain: 0 < fraction < 1; +Inf for 0, -Inf for 1.
func Equivalent(fraction float64) float64 {
	switch {
	case !(fraction >= 0 && fraction <= 1):
		return math.NaN()
	case fraction == 0 || fraction == 1:
		return math.Inf(1 - 2*int(fraction))
	}
	return -mathext.NormalQuantile(fraction) / 3
}
