package compare

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
	"sinkproof/reports/quality/moments"
)

// Sample is what the comparison of means needs to know of a sample.
type Sample struct {
	N        int
	Mean, SD float64
}

// Of returns the sample of the data; it needs two values.
func Of(data []float64) (Sample, error) {
	if err := quality.Usable(data, 2); err != nil {
		return Sample{}, fmt.Errorf("comparison: %w", err)
	}
	m := moments.Of(data).Moments()
	return Sample{m.N, m.Mean, m.SD}, nil
}

func (s Sample) variance() float64 { return s.SD * s.SD / float64(s.N) }

// Means is the comparison of two means.
type Means struct {
	Difference       float64
	SE, DF           float64
	T, P             float64
	quality.Interval // of the difference
}

// means fills a comparison from the difference and what it is known to.
func means(difference, se, df, confidence float64) Means {
	t := distuv.StudentsT{Sigma: 1, Nu: df}
	m := Means{Difference: difference, SE: se, DF: df, T: difference / se, Interval: quality.Undefined()}
	m.P = 2 * t.Survival(math.Abs(m.T))
	if math.IsNaN(m.T) {
		m.P = math.NaN()
	}
	if quality.Probability(confidence) {
		half := t.Quantile((1+confidence)/2) * se
		m.Interval = quality.Interval{Low: difference - half, High: difference + half}
	}
	return m
}

// Welch compares two means without taking their spreads as equal.
//
// Source: Welch, Biometrika 34 (1947) 28; the degrees of freedom by
// Satterthwaite, not rounded.
func Welch(x, y Sample, confidence float64) Means {
	vx, vy := x.variance(), y.variance()
	df := (vx + vy) * (vx + vy) / (vx*vx/float64(x.N-1) + vy*vy/float64(y.N-1))
	return means(x.Mean-y.Mean, math.Sqrt(vx+vy), df, confidence)
}

// Pooled compares two means taking their spreads as equal.
func Pooled(x, y Sample, confidence float64) Means {
	df := float64(x.N + y.N - 2)
	return means(x.Mean-y.Mean, pooledSD(x, y)*math.Sqrt(1/float64(x.N)+1/float64(y.N)), df, confidence)
}

func pooledSD(x, y Sample) float64 {
	return math.Sqrt((float64(x.N-1)*x.SD*x.SD + float64(y.N-1)*y.SD*y.SD) / float64(x.N+y.N-2))
}

// Paired compares the means of pairs, from the sample of their differences.
func Paired(differences Sample, confidence float64) Means {
	return means(differences.Mean, math.Sqrt(differences.variance()), float64(differences.N-1), confidence)
}

// Effect is a difference in standard deviations.
type Effect struct {
	D                float64 // Cohen's d, by the pooled standard deviation
	G                float64 // Hedges' g: d without its bias in small samples
	quality.Interval         // of the true effect
}

// EffectSize returns the standardized difference of two means. The interval is
// exact for normal samples of equal spread (noncentral t). NaN for no spread.
//
// Source: Hedges, Journal of Educational Statistics 6 (1981) 107; Steiger and
// Fouladi (1997) for the interval.
func EffectSize(x, y Sample, confidence float64) Effect {
	df := float64(x.N + y.N - 2)
	size := math.Sqrt(float64(x.N) * float64(y.N) / float64(x.N+y.N))
	e := Effect{D: (x.Mean - y.Mean) / pooledSD(x, y), Interval: quality.Undefined()}
	// The correction is exact: E[d] is delta over c4-like ratio of df-1 to df.
	e.G = e.D * correction(df)
	if quality.Probability(confidence) && !math.IsNaN(e.D) && !math.IsInf(e.D, 0) {
		e.Low = law.DeltaOf(e.D*size, df, (1+confidence)/2) / size
		e.High = law.DeltaOf(e.D*size, df, (1-confidence)/2) / size
	}
	return e
}

// correction is Gamma(df/2) / (sqrt(df/2) Gamma((df-1)/2)), 1 for 1 and fewer
// degrees of freedom, where d has no mean.
func correction(df float64) float64 {
	if df <= 1 {
		return 1
	}
	// C4(df-1) is sqrt(2/(df-1)) Gamma(df/2) / Gamma((df-1)/2).
	return law.C4(df-1) * math.Sqrt((df-1)/df)
}

// Equivalence is the answer to "do the means differ by less than the margin?"
// by two one-sided tests.
type Equivalence struct {
	Margin           float64
	PLower           float64 // against a difference of -margin or less
	PUpper           float64 // against a difference of +margin or more
	P                float64 // the larger: the samples are equivalent when it is small
	quality.Interval         // of confidence 1-2 alpha: equivalent when it lies inside the margin
}

// Equivalent returns the two one-sided tests for a comparison of means. alpha
// is the risk of calling samples equivalent that are not; 0.05 by custom.
// Domain: margin > 0, 0 < alpha < 0.5; NaN outside.
//
// Source: Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987)
// 657.
func (m Means) Equivalent(margin, alpha float64) Equivalence {
	e := Equivalence{Margin: margin, PLower: math.NaN(), PUpper: math.NaN(), P: math.NaN(), Interval: quality.Undefined()}
	if !(margin > 0) || !(alpha > 0 && alpha < 0.5) || math.IsNaN(m.SE) {
		return e
	}
	t := distuv.StudentsT{Sigma: 1, Nu: m.DF}
	if m.SE == 0 { // no spread: the difference is known
		e.PLower, e.PUpper = known(m.Difference <= -margin), known(m.Difference >= margin)
		e.P = math.Max(e.PLower, e.PUpper)
		e.Interval = quality.Interval{Low: m.Difference, High: m.Difference}
		return e
	}
	e.PLower = t.Survival((m.Difference + margin) / m.SE)
	e.PUpper = t.Survival((margin - m.Difference) / m.SE)
	e.P = math.Max(e.PLower, e.PUpper)
	half := t.Quantile(1-alpha) * m.SE
	e.Interval = quality.Interval{Low: m.Difference - half, High: m.Difference + half}
	return e
}

func known(holds bool) float64 {
	if holds {
		return 1
	}
	return 0
}

// Inside reports whether the interval lies within the margin, which is the same
// as a P below the alpha asked for.
func (e Equivalence) Inside() bool { return e.Low > -e.Margin && e.High < e.Margin }
