package chart

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"

	"sinkproof/reports/quality/internal/root"
	"sinkproof/reports/quality/law"
)

// LimitsRunLength returns the mean number of points until one lies beyond limits
// at width standard deviations of a process shifted by shift of them.
func LimitsRunLength(width, shift float64) float64 {
	return 1 / (law.Phi(-width-shift) + law.Phi(-width+shift))
}

// CusumRunLength returns the mean number of points to the alarm of a two-sided
// cumulated sum with the slack and decision interval in standard deviations,
// starting at 0.
//
// Method: integral equation of Page by Gauss-Legendre nodes for each side
// (Brook and Evans, Biometrika 59 (1972) 539, discretized it); the two sides
// combine as 1/L = 1/L+ + 1/L- (Kemp, JRSS B 23 (1961) 149). NaN outside slack
// >= 0, decision > 0.
func CusumRunLength(slack, decision, shift float64) float64 {
	if !(slack >= 0) || !(decision > 0) || math.IsNaN(shift) {
		return math.NaN()
	}
	up, down := pageRunLength(slack-shift, decision), pageRunLength(slack+shift, decision)
	return 1 / (1/up + 1/down)
}

// pageRunLength solves L(z) = 1 + L(0) Phi(k-z) + the integral of
// L(y) phi(y+k-z) over 0..h.
func pageRunLength(k, h float64) float64 {
	y, w := legendre(0, h)
	n := len(y)
	a, b := mat.NewDense(n+1, n+1, nil), mat.NewVecDense(n+1, nil)
	at := append([]float64{0}, y...) // the unknowns: L(0), then at the nodes
	for i, z := range at {
		b.SetVec(i, 1)
		a.Set(i, i, 1)
		a.Set(i, 0, a.At(i, 0)-law.Phi(k-z))
		for j := range y {
			a.Set(i, j+1, a.At(i, j+1)-w[j]*density(y[j]+k-z))
		}
	}
	var l mat.VecDense
	if err := l.SolveVec(a, b); err != nil {
		return math.Inf(1) // an alarm is rarer than a double can tell
	}
	return l.AtVec(0)
}

// MovingRunLength returns the mean number of points to the alarm of an EWMA with
// its asymptotic limits at width standard deviations, starting at the target.
// NaN outside 0 < weight <= 1, width > 0.
//
// Method: integral equation of Crowder, Technometrics 29 (1987) 401.
func MovingRunLength(weight, width, shift float64) float64 {
	if !(weight > 0 && weight <= 1) || !(width > 0) || math.IsNaN(shift) {
		return math.NaN()
	}
	c := width * math.Sqrt(weight/(2-weight))
	y, w := legendre(-c, c)
	n := len(y)
	a, b := mat.NewDense(n+1, n+1, nil), mat.NewVecDense(n+1, nil)
	for i, u := range append([]float64{0}, y...) {
		b.SetVec(i, 1)
		a.Set(i, i, 1)
		for j := range y {
			a.Set(i, j+1, a.At(i, j+1)-w[j]/weight*density((y[j]-(1-weight)*u)/weight-shift))
		}
	}
	var l mat.VecDense
	if err := l.SolveVec(a, b); err != nil {
		return math.Inf(1)
	}
	return l.AtVec(0)
}

// MovingWidth returns the width of an EWMA's limits that gives a stable process
// the mean run length between false alarms; NaN outside 0 < weight <= 1 and
// lengths of 2 to 1e6.
func MovingWidth(weight, runLength float64) float64 {
	if !(weight > 0 && weight <= 1) || !(runLength >= 2 && runLength <= 1e6) {
		return math.NaN()
	}
	return root.In(func(w float64) float64 { return math.Log(MovingRunLength(weight, w, 0) / runLength) }, 0.05, 6)
}

// order is the number of nodes for integral equations: their kernels are normal
// densities over some ten standard deviations.
const order = 48

// legendre returns Gauss-Legendre nodes and weights on low..high.
func legendre(low, high float64) (x, w []float64) {
	x, w = make([]float64, order), make([]float64, order)
	quad.Legendre{}.FixedLocations(x, w, low, high)
	return x, w
}

func density(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
