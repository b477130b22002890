package law

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// KolmogorovLimit returns the probability that the Kolmogorov-Smirnov distance
// of large samples, times the root of their effective size, exceeds z. It is 1
// for z <= 0; NaN for NaN.
//
// Source: Kolmogorov, Giornale dell'Istituto Italiano degli Attuari 4 (1933) 83.
// Below 1 it is the first term of the theta function's other series, as in R 4.2,
// so that p-values agree with it: off by 3e-5 at most, far less than the limit
// itself is off for samples of any size.
func KolmogorovLimit(z float64) float64 {
	switch {
	case math.IsNaN(z):
		return z
	case z <= 0:
		return 1
	case z < 1:
		return 1 - math.Sqrt(2*math.Pi)/z*math.Exp(-math.Pi*math.Pi/(8*z*z))
	}
	sum, sign := 0.0, 1.0
	for k := 1; k < 40; k++ {
		sum += sign * math.Exp(-2*float64(k*k)*z*z)
		sign = -sign
	}
	return math.Max(0, 2*sum)
}

// KolmogorovOne returns the probability that the distance between the
// distribution function of n values and that of their continuous law is d or
// more, exactly. Domain: n >= 1, best below 1000; NaN outside.
//
// Source: Marsaglia, Tsang and Wang, Journal of Statistical Software 8 (2003)
// 18.
func KolmogorovOne(d float64, n int) float64 {
	switch {
	case n < 1 || math.IsNaN(d):
		return math.NaN()
	case d <= 0:
		return 1
	case d >= 1:
		return 0
	}
	size := float64(n)
	k := int(size*d) + 1
	m, h := 2*k-1, float64(k)-size*d
	a := mat.NewDense(m, m, nil)
	for i := range m {
		for j := range m {
			if i-j+1 >= 0 {
				a.Set(i, j, 1)
			}
		}
	}
	for i := range m {
		a.Set(i, 0, a.At(i, 0)-math.Pow(h, float64(i+1)))
		a.Set(m-1, i, a.At(m-1, i)-math.Pow(h, float64(m-i)))
	}
	if 2*h > 1 {
		a.Set(m-1, 0, a.At(m-1, 0)+math.Pow(2*h-1, float64(m)))
	}
	for i := range m {
		for j := range m {
			for g := 1; g <= i-j+1; g++ {
				a.Set(i, j, a.At(i, j)/float64(g))
			}
		}
	}
	power, scale := raised(a, n)
	s := power.At(k-1, k-1)
	for i := 1; i <= n; i++ {
		s *= float64(i) / size
		if s < 1e-140 {
			s *= 1e140
			scale -= 140
		}
	}
	return 1 - s*math.Pow(10, float64(scale))
}

// raised returns a^n with its decimal exponent apart, so that it cannot overflow.
func raised(a *mat.Dense, n int) (*mat.Dense, int) {
	size, _ := a.Dims()
	result, scale := mat.NewDense(size, size, nil), 0
	for i := range size {
		result.Set(i, i, 1)
	}
	base, baseScale := mat.DenseCopyOf(a), 0
	for ; n > 0; n >>= 1 {
		if n&1 == 1 {
			result, scale = times(result, base, scale+baseScale)
		}
		base, baseScale = times(base, base, 2*baseScale)
	}
	return result, scale
}

func times(a, b *mat.Dense, scale int) (*mat.Dense, int) {
	var c mat.Dense
	c.Mul(a, b)
	size, _ := c.Dims()
	if c.At(size/2, size/2) > 1e140 {
		c.Scale(1e-140, &c)
		scale += 140
	}
	return &c, scale
}

// KolmogorovTwo returns the probability that the distance between the
// distribution functions of two samples of m and n values from the same law,
// without ties, is d or more, exactly. Domain: m, n >= 1; NaN outside.
//
// Method: paths through the lattice of the two samples that stay within d
// (Kim and Jennrich, Selected Tables in Mathematical Statistics 1 (1973) 79).
func KolmogorovTwo(d float64, m, n int) float64 {
	if m < 1 || n < 1 || math.IsNaN(d) {
		return math.NaN()
	}
	if m > n {
		m, n = n, m
	}
	a, b := float64(m), float64(n)
	// A path within d - 1/2mn has a distance below d, whatever rounding did.
	q := (0.5 + math.Floor(d*a*b-1e-7)) / (a * b)
	u := make([]float64, n+1)
	for j := range u {
		if float64(j)/b <= q {
			u[j] = 1
		}
	}
	for i := 1; i <= m; i++ {
		w := float64(i) / float64(i+n) // keeps counts in the range of doubles
		if float64(i)/a > q {
			u[0] = 0
		} else {
			u[0] *= w
		}
		for j := 1; j <= n; j++ {
			if math.Abs(float64(i)/a-float64(j)/b) > q {
				u[j] = 0
			} else {
				u[j] = w*u[j] + u[j-1]
			}
		}
	}
	return math.Min(1, math.Max(0, 1-u[n]))
}
