package law

import "gonum.org/v1/gonum/integrate/quad"

// nodes is the order of the Gauss-Legendre rule used on one panel: exact for
// polynomials of degree 31, so that a panel over which an integrand bends a few
// times gives all digits of a double.
const nodes = 16

// rule is the Gauss-Legendre rule on -1..1.
type rule struct {
	x, w [nodes]float64
}

func newRule() *rule {
	r := new(rule)
	quad.Legendre{}.FixedLocations(r.x[:], r.w[:], -1, 1)
	return r
}

// over integrates f from low to high on one panel.
func (r *rule) over(f func(float64) float64, low, high float64) float64 {
	half, mid, sum := (high-low)/2, (high+low)/2, 0.0
	for i, x := range r.x {
		sum += r.w[i] * f(mid+half*x)
	}
	return sum * half
}

// evenly integrates f from low to high on n panels of equal width.
func (r *rule) evenly(f func(float64) float64, low, high float64, n int) float64 {
	sum, step := 0.0, (high-low)/float64(n)
	for i := range n {
		sum += r.over(f, low+float64(i)*step, low+float64(i+1)*step)
	}
	return sum
}

// Integral returns the integral of the smooth f from low to high, on n panels
// of 16 Gauss-Legendre nodes each.
func Integral(f func(float64) float64, low, high float64, n int) float64 {
	return newRule().evenly(f, low, high, n)
}
