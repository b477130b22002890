package moments

import "math"

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

// partOf sums one block in two passes over it: the mean, then the powers. The
// block stays in the processor's nearest cache between them.
func partOf(block []float64) part {
	n := float64(len(block))
	mean := block[0] + sumFrom(block, block[0])/n
	p := part{n: n, mean: mean, first: block[0], last: block[len(block)-1]}
	p.powers(block)
	return p
}

// sumFrom returns the sum of x - origin in four lanes, so that the processor
// need not wait for one addition before the next.
func sumFrom(block []float64, origin float64) float64 {
	var a, b, c, d float64
	for ; len(block) >= 4; block = block[4:] {
		a += block[0] - origin
		b += block[1] - origin
		c += block[2] - origin
		d += block[3] - origin
	}
	for _, x := range block {
		a += x - origin
	}
	return a + b + c + d
}

// powers fills the central sums. What rounding left in the mean shows as a sum
// of first powers, and is taken out of the second (the corrected two-pass
// algorithm; Chan, Golub and LeVeque, The American Statistician 37 (1983) 242).
func (p *part) powers(block []float64) {
	mean := p.mean
	var a1, a2, a3, a4, b1, b2, b3, b4, lag, next float64 // two lanes, as above
	x := block
	var before float64
	for ; len(x) >= 2; x = x[2:] {
		a, b := x[0]-mean, x[1]-mean
		aa, bb := a*a, b*b
		a1, b1 = a1+a, b1+b
		a2, b2 = a2+aa, b2+bb
		a3, b3 = a3+aa*a, b3+bb*b
		a4, b4 = a4+aa*aa, b4+bb*bb
		lag, next = lag+before*a, next+a*b
		before = b
	}
	for _, v := range x {
		a := v - mean
		a1, a2, a3, a4, lag = a1+a, a2+a*a, a3+a*a*a, a4+a*a*a*a, lag+before*a
	}
	p.m2, p.m3, p.m4, p.lag = a2+b2-(a1+b1)*(a1+b1)/p.n, a3+b3, a4+b4, lag+next
	p.min, p.max = ends(block)
}

// ends returns the smallest and the largest value.
func ends(block []float64) (low, high float64) {
	low, high = block[0], block[0]
	for _, v := range block {
		if v < low {
			low = v
		}
		if v > high {
			high = v
		}
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
