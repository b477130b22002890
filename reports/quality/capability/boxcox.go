package capability

import (
	"fmt"
	"math"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
	"sinkproof/reports/quality/moments"
)

// BoxCox is the power transformation that makes positive data as normal as a
// power can: (v^Lambda - 1)/Lambda, the logarithm for Lambda 0.
type BoxCox struct {
	Lambda        float64
	LogLikelihood float64 // of the profile, without constants
}

// widest is how far from no transformation Lambda is looked for. Beyond, data
// are so skewed that no power helps.
const widest = 5

// FitBoxCox returns the transformation of greatest likelihood, its Lambda
// within -5..5. Domain: at least 3 positive values that are not all alike.
//
// Source: Box and Cox, JRSS B 26 (1964) 211: the profile log-likelihood
// -(n/2) ln(variance) + (Lambda-1) sum(ln v), here at the zero of its slope.
func FitBoxCox(data []float64) (BoxCox, error) {
	if err := quality.Usable(data, 3); err != nil {
		return BoxCox{}, fmt.Errorf("Box-Cox: %w", err)
	}
	logs := make([]float64, len(data))
	for i, v := range data {
		if v <= 0 {
			return BoxCox{}, fmt.Errorf("Box-Cox: value %d is %v, only positive ones have powers: %w", i+1, v, quality.ErrSample)
		}
		logs[i] = math.Log(v)
	}
	m := moments.Of(logs).Moments()
	if !(m.SD > 0) {
		return BoxCox{}, fmt.Errorf("Box-Cox: all %d values are %v: %w", len(data), data[0], quality.ErrSample)
	}
	for i := range logs {
		logs[i] -= m.Mean // about the geometric mean, so that powers stay small
	}
	profile := func(lambda float64) float64 { return likelihood(logs, lambda) }
	lambda := peak(profile, -widest, widest)
	// With v = g·u the likelihood of u differs by n ln(g), whatever Lambda.
	return BoxCox{Lambda: lambda, LogLikelihood: profile(lambda) - float64(m.N)*m.Mean}, nil
}

func likelihood(logs []float64, lambda float64) float64 {
	var r moments.Running
	for _, l := range logs {
		r.Add(power(l, lambda))
	}
	m := r.Moments()
	n := float64(m.N)
	return -n / 2 * math.Log(m.SquaresFromMid/n) // the logs sum to zero
}

// power returns (e^(l·lambda) - 1)/lambda.
func power(l, lambda float64) float64 {
	if lambda == 0 {
		return l
	}
	return math.Expm1(lambda*l) / lambda
}

// peak finds the highest point of f, which has one peak: the zero of the
// central difference, whose step balances rounding against curvature.
func peak(f func(float64) float64, low, high float64) float64 {
	const step = 1e-4
	return root.In(func(x float64) float64 { return f(x+step) - f(x-step) }, low, high)
}

// Of returns the transformed value; NaN for one that is not positive, except
// that an open limit stays open.
func (b BoxCox) Of(v float64) float64 {
	switch {
	case math.IsInf(v, 0):
		return v
	case v > 0:
		return power(math.Log(v), b.Lambda)
	case b.Lambda > 0 && v == 0:
		return -1 / b.Lambda
	}
	return math.NaN()
}

// Transform returns the limits on the scale of the transformed data. A lower
// limit of 0 or less binds no positive value and becomes open.
func (b BoxCox) Transform(l Limits) Limits {
	t := Limits{b.Of(l.Lower), b.Of(l.Upper), b.Of(l.Target)}
	if l.Lower <= 0 {
		t.Lower = math.Inf(-1)
	}
	return t
}
