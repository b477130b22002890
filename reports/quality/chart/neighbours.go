package chart

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sinkproof/reports/quality/law"
)

// neighbours returns the run length of a rule that only compares neighbours:
// length points in a row that rise or fall steadily, or by turns. It is the same
// for every continuous law of the points.
//
// Method: with points uniform on 0..1, the mean time to go after a run of r that
// stands at x obeys f_r(x) = 1 + the integral of f_(r+1) over what continues the
// run and of f_2 over what breaks it, falling runs mirroring rising ones. The
// functions are smooth; collocation on 14 Chebyshev nodes gives ten digits.
func neighbours(length int, turns bool) float64 {
	const nodes = 14
	x, up := integration(nodes)
	// Unknowns: f_2 .. f_(length-1) for runs whose last step went up, at the
	// nodes. Those whose last step went down are their mirrors.
	runs := length - 2
	a, b := mat.NewDense(runs*nodes, runs*nodes, nil), mat.NewVecDense(runs*nodes, nil)
	for k := range runs {
		for i := range nodes {
			row := k*nodes + i
			b.SetVec(row, 1)
			a.Set(row, row, a.At(row, row)+1)
			// A step up keeps the height; a step down leads to a run that stands
			// mirrored. Either way it is an integral from a node up to 1.
			grow, breaks := i, nodes-1-i
			if turns {
				grow, breaks = breaks, grow
			}
			for j := range nodes {
				if k+1 < runs {
					at := (k+1)*nodes + j
					a.Set(row, at, a.At(row, at)-up.At(grow, j))
				}
				a.Set(row, j, a.At(row, j)-up.At(breaks, j))
			}
		}
	}
	var f mat.VecDense
	if err := f.SolveVec(a, b); err != nil {
		return math.NaN()
	}
	// The first point, then one step up or down from it: by symmetry the mean
	// of f_2 over the law of the higher of two points.
	mean := law.Integral(func(t float64) float64 { return 2 * t * interpolate(x, f.RawVector().Data[:nodes], t) }, 0, 1, 1)
	return 2 + mean
}

// integration returns Chebyshev nodes on 0..1 and the matrix that integrates the
// polynomial through values at them from each node up to 1.
func integration(n int) ([]float64, *mat.Dense) {
	x := make([]float64, n)
	for i := range x {
		x[i] = 0.5 - 0.5*math.Cos(math.Pi*(float64(i)+0.5)/float64(n))
	}
	m := mat.NewDense(n, n, nil)
	for i := range n {
		for j := range n {
			unit := make([]float64, n)
			unit[j] = 1
			m.Set(i, j, law.Integral(func(t float64) float64 { return interpolate(x, unit, t) }, x[i], 1, 1))
		}
	}
	return x, m
}

// interpolate evaluates the polynomial through y at x (Lagrange).
func interpolate(x, y []float64, t float64) float64 {
	sum := 0.0
	for i := range x {
		term := y[i]
		if term == 0 {
			continue
		}
		for j := range x {
			if j != i {
				term *= (t - x[j]) / (x[i] - x[j])
			}
		}
		sum += term
	}
	return sum
}
