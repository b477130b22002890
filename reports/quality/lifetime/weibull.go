package lifetime

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
)

// Life is how long one unit ran, and whether it failed then.
type Life struct {
	Time   float64
	Failed bool
}

// Weibull is a fitted law of lives: a share exp(-(t/Scale)^Shape) lives longer
// than t.
type Weibull struct {
	Shape, Scale  float64
	LogLikelihood float64
	Failures, N   int

	// Variances of ln(Scale) and of -ln(Shape), and their covariance.
	varScale, varShape, both float64
}

// Fit returns the law of greatest likelihood. It needs times above 0 and two
// failures at different times; of the rest any number may be censored. An error
// wraps quality.ErrSample.
//
// Method: the profile equation of the shape (Cohen, Technometrics 7 (1965) 579),
// on times divided by their geometric mean; intervals by the observed
// information of ln(Scale) and ln(1/Shape), as in survival analysis.
func Fit(lives []Life) (Weibull, error) {
	logs, failures, err := usable(lives)
	if err != nil {
		return Weibull{}, err
	}
	mean := 0.0
	for i, l := range lives {
		if l.Failed {
			mean += logs[i] / float64(failures)
		}
	}
	for i := range logs {
		logs[i] -= mean
	}
	slope := func(lnShape float64) float64 { return profile(logs, math.Exp(lnShape)) }
	shape := math.Exp(root.In(slope, math.Log(1e-3), math.Log(1e4)))
	sum := 0.0
	for _, l := range logs {
		sum += math.Exp(shape * l)
	}
	lnScale := math.Log(sum/float64(failures)) / shape
	w := Weibull{Shape: shape, Scale: math.Exp(lnScale + mean), Failures: failures, N: len(lives)}
	w.inform(lives, logs, lnScale, mean)
	return w, nil
}

func usable(lives []Life) (logs []float64, failures int, err error) {
	first, differ := math.NaN(), false
	for i, l := range lives {
		if !(l.Time > 0) || math.IsInf(l.Time, 1) {
			return nil, 0, fmt.Errorf("Weibull fit: time %d is %v, it must be above 0: %w", i+1, l.Time, quality.ErrSample)
		}
		logs = append(logs, math.Log(l.Time))
		if !l.Failed {
			continue
		}
		if failures++; failures == 1 {
			first = l.Time
		}
		differ = differ || l.Time != first
	}
	if failures < 2 || !differ {
		return nil, 0, fmt.Errorf("Weibull fit: %d failures among %d, two at different times are needed: %w", failures, len(lives), quality.ErrSample)
	}
	return logs, failures, nil
}

// profile is the equation of the shape: the mean of ln t weighted by t^k, less
// 1/k; the logs of failures have the mean 0.
func profile(logs []float64, k float64) float64 {
	top := 0.0
	for _, l := range logs {
		top = math.Max(top, k*l)
	}
	weighted, sum := 0.0, 0.0
	for _, l := range logs {
		p := math.Exp(k*l - top)
		sum += p
		weighted += p * l
	}
	return weighted/sum - 1/k
}

// inform fills likelihood and variances, at the maximum. logs are centred.
func (w *Weibull) inform(lives []Life, logs []float64, lnScale, mean float64) {
	var scale, both, shape float64 // the information
	for i, l := range lives {
		z := w.Shape * (logs[i] - lnScale)
		e := math.Exp(z)
		w.LogLikelihood -= e
		scale += e * w.Shape * w.Shape
		both += z * e * w.Shape
		shape += z * (1 + z) * e
		if l.Failed {
			w.LogLikelihood += z + math.Log(w.Shape) - logs[i] - mean
			shape -= z
		}
	}
	det := scale*shape - both*both
	w.varScale, w.varShape, w.both = shape/det, scale/det, -both/det
}

// Reliability returns the share that lives longer than t; 1 for t <= 0.
func (w Weibull) Reliability(t float64) float64 {
	if t <= 0 {
		return 1
	}
	return math.Exp(-math.Pow(t/w.Scale, w.Shape))
}

// Life returns the time that the share p does not reach: p 0.1 gives B10. NaN
// unless 0 < p < 1.
func (w Weibull) Life(p float64) float64 {
	if !quality.Probability(p) {
		return math.NaN()
	}
	return w.Scale * math.Pow(-math.Log1p(-p), 1/w.Shape)
}

// LifeInterval returns the interval of Life(p), symmetric in the logarithm and
// good for large samples.
func (w Weibull) LifeInterval(p, confidence float64) quality.Interval {
	if !quality.Probability(p) || !quality.Probability(confidence) {
		return quality.Undefined()
	}
	g := math.Log(-math.Log1p(-p)) / w.Shape // slope of ln(Life) by ln(1/Shape)
	return spreadOut(w.Life(p), w.varScale+2*g*w.both+g*g*w.varShape, confidence)
}

// ShapeInterval returns the interval of the shape, symmetric in the logarithm
// and good for large samples.
func (w Weibull) ShapeInterval(confidence float64) quality.Interval {
	if !quality.Probability(confidence) {
		return quality.Undefined()
	}
	return spreadOut(w.Shape, w.varShape, confidence)
}

func spreadOut(v, variance, confidence float64) quality.Interval {
	f := math.Exp(mathext.NormalQuantile((1+confidence)/2) * math.Sqrt(variance))
	return quality.Interval{Low: v / f, High: v * f}
}

// Mean returns the mean life.
func (w Weibull) Mean() float64 { return w.Scale * math.Gamma(1+1/w.Shape) }
