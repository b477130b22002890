package moments

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// part is what is kept of a stretch of values: its central sums about its own
// mean, from which those of a longer stretch follow without cancellation.
type part struct {
	n           float64
	mean        float64
	m2, m3, m4  float64 // sums of powers of (x - mean)
	lag         float64 // sum of (x[i]-mean)(x[i+1]-mean)
	first, last float64
	min, max    float64
}

// scratch is room for the deviations of one block and their squares.
// It grows to the longest block it was used for.
type scratch struct {
	deviation, square []float64
}

// sum sums one block: its mean, then the powers of deviations from it. The block
// and the scratch stay in the processor's nearest cache, where gonum's vector
// loops are several times faster than one loop over all powers.
//
// What rounding left in the mean shows as a sum of deviations, and is taken out
// of it and of their squares (the corrected two-pass algorithm; Chan, Golub and
// LeVeque, The American Statistician 37 (1983) 242).
func (w *scratch) sum(block []float64) part {
	n := float64(len(block))
	mean := floats.Sum(block) / n
	d, q := w.deviations(block, mean)
	left := floats.Sum(d)
	p := part{n: n, mean: mean + left/n, first: block[0], last: block[len(block)-1]}
	p.m2 = floats.Sum(q) - left*left/n
	p.m3, p.m4 = floats.Dot(q, d), floats.Dot(q, q)
	p.lag = floats.Dot(d[1:], d[:len(d)-1])
	p.min, p.max = ends(block)
	return p
}

// deviations fills the scratch, four values at a time.
func (w *scratch) deviations(block []float64, mean float64) (d, q []float64) {
	w.deviation = slices.Grow(w.deviation[:0], len(block))[:len(block)]
	w.square = slices.Grow(w.square[:0], len(block))[:len(block)]
	x, d, q := block, w.deviation, w.square
	for ; len(x) >= 4 && len(d) >= 4 && len(q) >= 4; x, d, q = x[4:], d[4:], q[4:] {
		a, b, c, e := x[0]-mean, x[1]-mean, x[2]-mean, x[3]-mean
		d[0], d[1], d[2], d[3] = a, b, c, e
		q[0], q[1], q[2], q[3] = a*a, b*b, c*c, e*e
	}
	for i, v := range x {
		d[i] = v - mean
		q[i] = d[i] * d[i]
	}
	return w.deviation, w.square
}

// ends returns the smallest and the largest value, four at a time.
func ends(block []float64) (low, high float64) {
	low, high = block[0], block[0]
	for ; len(block) >= 4; block = block[4:] {
		a, b, c, d := block[0], block[1], block[2], block[3]
		if a < low || b < low || c < low || d < low {
			low = min(low, a, b, c, d)
		}
		if a > high || b > high || c > high || d > high {
			high = max(high, a, b, c, d)
		}
	}
	for _, v := range block {
		low, high = min(low, v), max(high, v)
	}
	return low, high
}

// join returns the part over a and then b.
//
// Source of the central sums: Pébay, Formulas for Robust, One-Pass Parallel
// Computation of Covariances and Arbitrary-Order Statistical Moments, Sandia
// report SAND2008-6212, eq. 2.1 and 3.1.
func join(a, b part) part {
	if a.n == 0 {
		return b
	}
	if b.n == 0 {
		return a
	}
	n := a.n + b.n
	d := b.mean - a.mean
	dn := d / n
	ab := a.n * b.n
	j := part{n: n, mean: a.mean + b.n*dn, first: a.first, last: b.last}
	j.m2 = a.m2 + b.m2 + d*dn*ab
	j.m3 = a.m3 + b.m3 + d*dn*dn*ab*(a.n-b.n) + 3*dn*(a.n*b.m2-b.n*a.m2)
	j.m4 = a.m4 + b.m4 + d*dn*dn*dn*ab*(a.n*a.n-ab+b.n*b.n) +
		6*dn*dn*(a.n*a.n*b.m2+b.n*b.n*a.m2) + 4*dn*(a.n*b.m3-b.n*a.m3)
	j.lag = a.lagAbout(j.mean) + b.lagAbout(j.mean) + (a.last-j.mean)*(b.first-j.mean)
	j.min, j.max = math.Min(a.min, b.min), math.Max(a.max, b.max)
	return j
}

// lagAbout returns the sum of products of neighbours about another centre. The
// deviations about the own mean sum to zero, so all but the first sum to minus
// the first, and all but the last to minus the last.
func (p part) lagAbout(centre float64) float64 {
	d := p.mean - centre
	return p.lag - d*(p.first+p.last-2*p.mean) + (p.n-1)*d*d
}
