package sampling

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
	"sinkproof/reports/quality/moments"
)

// Variables is a plan by a measured, normal value with one limit: the lot is
// accepted when the sample mean lies at least K standard deviations inside the
// limit. The standard deviation is that of the sample (s method), or Known.
type Variables struct {
	N     int
	K     float64
	Known bool
}

// Accepts returns the probability that a lot with this fraction beyond the limit
// is accepted. Domain: N >= 2 (1 when known), fraction strictly between 0 and 1;
// at 0 it is 1, at 1 it is 0, NaN outside.
//
// Method: noncentral t law for the s method (Lieberman and Resnikoff, JASA 50
// (1955) 457), normal law for a known standard deviation.
func (v Variables) Accepts(fraction float64) float64 {
	least := 2
	if v.Known {
		least = 1
	}
	switch {
	case v.N < least || !(fraction >= 0 && fraction <= 1) || math.IsNaN(v.K):
		return math.NaN()
	case fraction == 0 || fraction == 1:
		return 1 - fraction
	}
	z, size := -mathext.NormalQuantile(fraction), math.Sqrt(float64(v.N))
	if v.Known {
		return law.Phi(size * (z - v.K))
	}
	return law.NoncentralT{DF: float64(v.N - 1), Delta: size * z}.Above(size * v.K)
}

// between returns the least K that keeps the consumer's risk and the greatest
// that keeps the producer's, for a sample of n.
func between(n int, r Risks, known bool) (consumer, producer float64) {
	size := math.Sqrt(float64(n))
	good, bad := -mathext.NormalQuantile(r.ProducerQuality), -mathext.NormalQuantile(r.ConsumerQuality)
	if known {
		return bad + mathext.NormalQuantile(1-r.ConsumerRisk)/size, good - mathext.NormalQuantile(1-r.ProducerRisk)/size
	}
	df := float64(n - 1)
	return law.NoncentralT{DF: df, Delta: size * bad}.Quantile(1-r.ConsumerRisk) / size,
		law.NoncentralT{DF: df, Delta: size * good}.Quantile(r.ProducerRisk) / size
}

// FoundVariables is a plan by variables with the room that its K has: any K
// between the two keeps both risks. K itself is the producer's.
type FoundVariables struct {
	Variables
	KConsumer, KProducer float64
}

// FindVariables returns the plan by variables with the smallest sample that
// meets both risks for a single limit.
func FindVariables(r Risks, known bool) (FoundVariables, error) {
	if err := r.check(); err != nil || r.ConsumerQuality == 1 {
		return FoundVariables{}, fmt.Errorf("finding a plan by variables: %w", errOr(err))
	}
	const most = 100_000
	n := smallest(func(n int) bool {
		consumer, producer := between(n, r, known)
		return consumer <= producer
	}, 2, most)
	if n > most {
		return FoundVariables{}, fmt.Errorf("finding a plan by variables: none of up to %d units meets both risks: %w", most, ErrPlan)
	}
	consumer, producer := between(n, r, known)
	return FoundVariables{Variables{n, producer, known}, consumer, producer}, nil
}

func errOr(err error) error {
	if err == nil {
		return ErrPlan
	}
	return err
}

// Measured is what a sample of measured values says about its lot.
type Measured struct {
	Mean, SD               float64
	QLower, QUpper         float64 // distances of the mean from the limits, in SD; +Inf for an open side
	BelowLower, AboveUpper float64 // estimated fractions beyond the limits
}

// Measure judges a sample against its limits, infinite ones being open. It needs
// three values with some spread.
func Measure(data []float64, lower, upper float64) (Measured, error) {
	if err := quality.Usable(data, 3); err != nil {
		return Measured{}, fmt.Errorf("sample by variables: %w", err)
	}
	m := moments.Of(data).Moments()
	if !(m.SD > 0) {
		return Measured{}, fmt.Errorf("sample by variables: all %d values are %v: %w", m.N, m.Mean, quality.ErrSample)
	}
	r := Measured{Mean: m.Mean, SD: m.SD, QLower: (m.Mean - lower) / m.SD, QUpper: (upper - m.Mean) / m.SD}
	r.BelowLower, r.AboveUpper = Fraction(r.QLower, m.N), Fraction(r.QUpper, m.N)
	return r, nil
}

// Acceptable reports whether both distances reach k.
func (m Measured) Acceptable(k float64) bool { return m.QLower >= k && m.QUpper >= k }

// Fraction returns the unbiased estimate of smallest variance of the fraction
// beyond a limit that lies q sample standard deviations from the mean of n
// values. Domain: n >= 3; NaN outside.
//
// Source: Lieberman and Resnikoff (1955), the symmetric beta law with both
// parameters n/2 - 1.
func Fraction(q float64, n int) float64 {
	if n < 3 || math.IsNaN(q) {
		return math.NaN()
	}
	size := float64(n)
	x := 0.5 - q*math.Sqrt(size)/(2*(size-1))
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	}
	return mathext.RegIncBeta(size/2-1, size/2-1, x)
}
