package moments

import "math"

// blockLength keeps a block (4 KiB) well inside the nearest cache.
const blockLength = 512

// Running is a sample seen so far. Its zero value is the empty sample. A value
// that is not finite makes every moment NaN, as a mean with a hole in it should;
// so do values beyond 1e75, whose fourth powers overflow. Not for use by several
// goroutines at once, not even to read.
//
// Method: blocks are summed in two passes in the cache and joined by Pébay's
// formulas; the error of the standard deviation stays near that of the data
// themselves (NIST StRD sets NumAcc1 to NumAcc4).
type Running struct {
	done    part
	pending []float64 // fewer than blockLength
	scratch scratch
}

// Of returns the sample of the values.
func Of(values []float64) *Running {
	r := new(Running)
	r.AddAll(values)
	return r
}

// Add takes one value.
func (r *Running) Add(v float64) {
	r.pending = append(r.pending, v)
	if len(r.pending) == blockLength {
		r.done = join(r.done, r.scratch.sum(r.pending))
		r.pending = r.pending[:0]
	}
}

// AddAll takes values in their order. It keeps no reference to them.
func (r *Running) AddAll(values []float64) {
	for len(r.pending) > 0 && len(values) > 0 {
		r.Add(values[0])
		values = values[1:]
	}
	for ; len(values) >= blockLength; values = values[blockLength:] {
		r.done = join(r.done, r.scratch.sum(values[:blockLength]))
	}
	for _, v := range values {
		r.Add(v)
	}
}

// Merge appends the sample other, as if its values had been added after those
// of r; other is left as it is.
func (r *Running) Merge(other *Running) {
	r.done = join(r.whole(), other.whole())
	r.pending = r.pending[:0]
}

func (r *Running) whole() part {
	if len(r.pending) == 0 {
		return r.done
	}
	return join(r.done, r.scratch.sum(r.pending))
}

// N returns the number of values.
func (r *Running) N() int { return int(r.done.n) + len(r.pending) }

// Mean returns the arithmetic mean; NaN for no value.
func (r *Running) Mean() float64 { return r.Moments().Mean }

// Variance returns the sample variance (divisor n-1); NaN below two values.
func (r *Running) Variance() float64 { v := r.Moments().SD; return v * v }

// SD returns the sample standard deviation (divisor n-1); NaN below two values.
func (r *Running) SD() float64 { return r.Moments().SD }

// Moments is what a sample amounts to. What is undefined is NaN.
type Moments struct {
	N              int
	Mean           float64 // from one value on
	Min, Max       float64 // from one value on
	SD             float64 // divisor n-1; from two values on
	Skewness       float64 // G1; from three values that differ on
	Kurtosis       float64 // G2, excess; from four values that differ on
	SkewnessG1     float64 // population skewness g1; from two values that differ on
	KurtosisG2     float64 // population excess kurtosis g2; from two values that differ on
	Lag1           float64 // lag-1 autocorrelation; from two values that differ on
	SquaresFromMid float64 // sum of squared deviations from the mean
}

// Moments returns all moments of the values seen so far.
//
// Sources: G1 and G2 by Joanes and Gill, The Statistician 47 (1998) 183; the
// autocorrelation as certified in NIST StRD, the sum of (x[i]-m)(x[i+1]-m)
// over the sum of (x[i]-m)^2.
func (r *Running) Moments() Moments {
	p := r.whole()
	nan := math.NaN()
	m := Moments{N: int(p.n), Mean: nan, Min: nan, Max: nan, SD: nan, Skewness: nan, Kurtosis: nan,
		SkewnessG1: nan, KurtosisG2: nan, Lag1: nan, SquaresFromMid: p.m2}
	if p.n < 1 || math.IsNaN(p.mean) || math.IsInf(p.mean, 0) {
		return m
	}
	m.Mean, m.Min, m.Max = p.mean, p.min, p.max
	if p.n < 2 || math.IsInf(p.m4, 1) || math.IsNaN(p.m4) {
		return m
	}
	m.SD = math.Sqrt(p.m2 / (p.n - 1))
	if !(p.m2 > 0) {
		return m
	}
	m.Lag1 = p.lag / p.m2
	m.SkewnessG1 = math.Sqrt(p.n) * p.m3 / math.Pow(p.m2, 1.5)
	m.KurtosisG2 = p.n*p.m4/(p.m2*p.m2) - 3
	if p.n >= 3 {
		m.Skewness = m.SkewnessG1 * math.Sqrt(p.n*(p.n-1)) / (p.n - 2)
	}
	if p.n >= 4 {
		m.Kurtosis = (p.n - 1) / ((p.n - 2) * (p.n - 3)) * ((p.n+1)*m.KurtosisG2 + 6)
	}
	return m
}
