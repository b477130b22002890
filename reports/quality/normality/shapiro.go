package normality

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
)

// Largest is the largest sample for which the p-value of ShapiroWilk is known.
const Largest = 5000

// ShapiroWilk tests normality by the correlation of the sorted sample with what
// a normal one would be expected to look like. Statistic is W, 1 for a
// perfect one. Domain: 3 to 5000 values that are not all alike.
//
// Source: Royston, Algorithm AS R94, Applied Statistics 44 (1995) 547, with the
// polynomials given there.
func ShapiroWilk(data []float64) (Result, error) {
	if len(data) > Largest {
		return Result{}, fmt.Errorf("%d values, Royston's approximation ends at %d: %w", len(data), Largest, quality.ErrSample)
	}
	x, m, err := sorted(data, 3)
	if err != nil {
		return Result{}, err
	}
	complement := lackOfFit(x, m.Mean, weights(len(x)))
	return Result{Statistic: 1 - complement, P: royston(complement, len(x))}, nil
}

// weights returns the first half of the antisymmetric weights, positive, that
// of the largest value first.
func weights(n int) []float64 {
	half := make([]float64, n/2)
	if n == 3 {
		half[0] = math.Sqrt(0.5)
		return half
	}
	square := 0.0
	for i := range half {
		half[i] = -mathext.NormalQuantile((float64(i+1) - 0.375) / (float64(n) + 0.25))
		square += 2 * half[i] * half[i]
	}
	u, norm := 1/math.Sqrt(float64(n)), math.Sqrt(square)
	first := half[0]/norm + polynomial(u, 0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056)
	left, share, from := square-2*half[0]*half[0], 1-2*first*first, 1
	if n > 5 {
		second := half[1]/norm + polynomial(u, 0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633)
		left, share, from = left-2*half[1]*half[1], share-2*second*second, 2
		half[1] = second
	}
	half[0] = first
	scale := math.Sqrt(left / share)
	for i := from; i < len(half); i++ {
		half[i] /= scale
	}
	return half
}

// lackOfFit returns 1 - W without forming W, whose digits run out near 1.
func lackOfFit(x []float64, mean float64, half []float64) float64 {
	n, width := len(x), x[len(x)-1]-x[0]
	var aa, xx, ax float64
	for i, v := range x {
		a := 0.0
		if i < len(half) {
			a = -half[i]
		}
		if j := n - 1 - i; j < len(half) {
			a = half[j]
		}
		d := (v - mean) / width
		aa, xx, ax = aa+a*a, xx+d*d, ax+a*d
	}
	root := math.Sqrt(aa * xx)
	return (root - ax) * (root + ax) / (aa * xx)
}

// royston returns the p-value of 1 - W.
func royston(complement float64, n int) float64 {
	size := float64(n)
	if n == 3 {
		// Exact: 6/pi (asin sqrt W - asin sqrt 3/4).
		w := math.Sqrt(math.Max(0, 1-complement))
		return math.Max(0, 6/math.Pi*(math.Asin(w)-math.Asin(math.Sqrt(0.75))))
	}
	y, ln := math.Log(complement), math.Log(size)
	var mean, sd float64
	if n <= 11 {
		gamma := polynomial(size, -2.273, 0.459)
		if y >= gamma {
			return 1e-99 // R94's floor
		}
		y = -math.Log(gamma - y)
		mean = polynomial(size, 0.544, -0.39978, 0.025054, -6.714e-4)
		sd = math.Exp(polynomial(size, 1.3822, -0.77857, 0.062767, -0.0020322))
	} else {
		mean = polynomial(ln, -1.5861, -0.31082, -0.083751, 0.0038915)
		sd = math.Exp(polynomial(ln, -0.4803, -0.082676, 0.0030302))
	}
	return law.Phi((mean - y) / sd)
}
