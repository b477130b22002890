package law

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// countU counts arrangements of m and n values by U, one by one.
func countU(m, n int) []float64 {
	counts := make([]float64, m*n+1)
	var place func(m, n, u int)
	place = func(m, n, u int) {
		if m == 0 || n == 0 {
			counts[u]++
			return
		}
		place(m-1, n, u+n) // the largest value is of the first sample: above all n
		place(m, n-1, u)
	}
	place(m, n, 0)
	return counts
}

func TestRankSumByCounting(t *testing.T) {
	for _, c := range [][2]int{{1, 1}, {3, 2}, {5, 7}, {8, 8}} {
		counts := countU(c[0], c[1])
		total := 0.0
		for _, k := range counts {
			total += k
		}
		sum := 0.0
		r := RankSum{c[0], c[1]}
		for u, k := range counts {
			sum += k / total
			require.InDelta(t, sum, r.CDF(u), 1e-12)
			require.InDelta(t, 1-sum, r.Above(u), 1e-12)
			require.Equal(t, u, r.Quantile(sum))
		}
	}
	require.Equal(t, 0.0, RankSum{4, 4}.CDF(-1))
	require.True(t, math.IsNaN(RankSum{0, 4}.CDF(1)))
	require.Zero(t, RankSum{0, 4}.Quantile(0.5))
}

// TestKolmogorovTwoByDrawing: sequences of two kinds drawn at random.
func TestKolmogorovTwoByDrawing(t *testing.T) {
	source := rand.New(rand.NewPCG(1, 5))
	const rounds, m, n, d = 8000, 7, 11, 0.5
	hits := 0.0
	kinds := make([]bool, m+n)
	for i := range m {
		kinds[i] = true
	}
	for range rounds {
		source.Shuffle(len(kinds), func(i, j int) { kinds[i], kinds[j] = kinds[j], kinds[i] })
		i, j, widest := 0, 0, 0.0
		for _, first := range kinds {
			if first {
				i++
			} else {
				j++
			}
			widest = max(widest, math.Abs(float64(i)/m-float64(j)/n))
		}
		if widest >= d {
			hits += 1.0 / rounds
		}
	}
	require.InDelta(t, KolmogorovTwo(d, m, n), hits, 0.02)
	require.Equal(t, 1.0, KolmogorovTwo(0, 5, 5))
	require.InDelta(t, 2.0/252, KolmogorovTwo(1, 5, 5), 1e-12, "all of one before all of the other")
	require.True(t, math.IsNaN(KolmogorovTwo(0.5, 0, 5)))
}

// TestKolmogorovOne: Marsaglia, Tsang and Wang print K(10, .274) = .6284796154565
// (from memory, agrees); one value is off by d or more with probability 2-2d.
func TestKolmogorovOne(t *testing.T) {
	require.InDelta(t, 1-0.6284796154565, KolmogorovOne(0.274, 10), 1e-11)
	require.InDelta(t, 2-2*0.7, KolmogorovOne(0.7, 1), 1e-12)
	require.Equal(t, 1.0, KolmogorovOne(0, 4))
	require.Equal(t, 0.0, KolmogorovOne(1, 4))
	require.True(t, math.IsNaN(KolmogorovOne(0.5, 0)))
	// Large samples approach the limit; n = 500 also passes the rescaling.
	require.InDelta(t, KolmogorovLimit(1.2), KolmogorovOne(1.2/math.Sqrt(500), 500), 0.02)
}

func TestKolmogorovLimit(t *testing.T) {
	// Smirnov's table: the 5 % point is 1.3581, the 1 % point 1.6276.
	require.InDelta(t, 0.05, KolmogorovLimit(1.3581), 1e-5)
	require.InDelta(t, 0.01, KolmogorovLimit(1.6276), 1e-5)
	require.InDelta(t, KolmogorovLimit(0.9999999), KolmogorovLimit(1.0000001), 5e-5, "both series meet")
	require.Equal(t, 1.0, KolmogorovLimit(0))
	require.InDelta(t, 1, KolmogorovLimit(0.2), 1e-9)
	require.True(t, math.IsNaN(KolmogorovLimit(math.NaN())))
}

func TestOverSpread(t *testing.T) {
	for _, df := range []float64{1, 2, 9, 400} {
		require.InDelta(t, 1, OverSpread(df, func(float64) float64 { return 1 }), 1e-12)
		require.InDelta(t, C4(df), OverSpread(df, func(s float64) float64 { return s }), 1e-12, "the mean of S is c4")
		require.InDelta(t, 1, OverSpread(df, func(s float64) float64 { return s * s }), 1e-12)
	}
	require.True(t, math.IsNaN(OverSpread(0, math.Exp)))
}
