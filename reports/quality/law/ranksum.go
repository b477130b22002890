package law

import (
	"math"

	"sinkproof/reports/quality/internal/root"
)

// RankSum is the law of Mann and Whitney's U, the number of pairs in which a
// value of the first sample exceeds one of the second, for samples of M and N
// values from the same law without ties. Domain: M, N >= 1, and so few that the
// arrangements can be counted in a double (M + N up to about 1000).
//
// Method: the recursion of Mann and Whitney (1947) by generating functions: the
// Gaussian binomial coefficient, one factor at a time.
type RankSum struct {
	M, N int
}

// weights returns the shares of 0..M·N.
func (r RankSum) weights() []float64 {
	m, n := min(r.M, r.N), max(r.M, r.N)
	size := m*n + 1
	w := make([]float64, size)
	w[0] = 1
	// Multiply by (1-q^(n+i)) / (1-q^i), and keep the sum at 1.
	for i := 1; i <= m; i++ {
		for k := size - 1; k >= n+i; k-- {
			w[k] -= w[k-n-i]
		}
		for k := i; k < size; k++ {
			w[k] += w[k-i]
		}
		share := float64(i) / float64(n+i)
		for k := range w {
			w[k] *= share
		}
	}
	return w
}

func (r RankSum) valid() bool { return r.M >= 1 && r.N >= 1 }

// CDF returns the probability of at most u; NaN outside the domain.
func (r RankSum) CDF(u int) float64 {
	if !r.valid() {
		return math.NaN()
	}
	if 2*u > r.M*r.N {
		return 1 - r.CDF(r.M*r.N-u-1) // symmetric
	}
	sum := 0.0
	for k, w := range r.weights() {
		if k > u {
			break
		}
		sum += w
	}
	return sum
}

// Above returns the probability of more than u; NaN outside the domain.
func (r RankSum) Above(u int) float64 { return r.CDF(r.M*r.N - u - 1) }

// Quantile returns the smallest u with CDF(u) >= p.
func (r RankSum) Quantile(p float64) int {
	if !r.valid() {
		return 0
	}
	w := r.weights()
	for k := 1; k < len(w); k++ {
		w[k] += w[k-1]
	}
	return root.First(func(u int) bool { return w[u] >= p*reached }, 0, len(w)-2)
}
