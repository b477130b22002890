package law

import (
	"fmt"
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// exactBinomial sums the masses as fractions of whole numbers: the second,
// independent way.
func exactBinomial(k, n int, num, den int64) float64 {
	sum := new(big.Rat)
	p, q := big.NewRat(num, den), big.NewRat(den-num, den)
	for j := 0; j <= k; j++ {
		term := new(big.Rat).SetInt(new(big.Int).Binomial(int64(n), int64(j)))
		term.Mul(term, power(p, j))
		term.Mul(term, power(q, n-j))
		sum.Add(sum, term)
	}
	v, _ := sum.Float64()
	return v
}

func power(r *big.Rat, k int) *big.Rat {
	e := big.NewInt(int64(k))
	return new(big.Rat).SetFrac(new(big.Int).Exp(r.Num(), e, nil), new(big.Int).Exp(r.Denom(), e, nil))
}

func TestBinomialAgainstFractions(t *testing.T) {
	for _, c := range []struct {
		n        int
		num, den int64
	}{{1, 1, 2}, {10, 1, 10}, {52, 3, 100}, {80, 1, 8}, {30, 9, 10}} {
		b := Binomial{c.n, float64(c.num) / float64(c.den)}
		for k := 0; k < c.n; k++ {
			want := exactBinomial(k, c.n, c.num, c.den)
			require.InEpsilon(t, want, b.CDF(k), 1e-12, "%v at %d", b, k)
			mass := want
			if k > 0 {
				mass -= exactBinomial(k-1, c.n, c.num, c.den)
			}
			require.InDelta(t, mass, b.Mass(k), 1e-14, "%v at %d", b, k)
			require.InDelta(t, 1, b.CDF(k)+b.Above(k), 1e-13)
		}
	}
}

// TestHypergeometricAgainstCounts: the definition by binomial coefficients.
func TestHypergeometricAgainstCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lot := rapid.IntRange(1, 400).Draw(t, "lot")
		h := Hypergeometric{lot, rapid.IntRange(0, lot).Draw(t, "bad"), rapid.IntRange(0, lot).Draw(t, "drawn")}
		all := new(big.Rat).SetInt(new(big.Int).Binomial(int64(lot), int64(h.Drawn)))
		sum := new(big.Rat)
		least, most := h.Support()
		for k := least; k <= most; k++ {
			ways := new(big.Int).Binomial(int64(h.Bad), int64(k))
			ways.Mul(ways, new(big.Int).Binomial(int64(lot-h.Bad), int64(h.Drawn-k)))
			term := new(big.Rat).Quo(new(big.Rat).SetInt(ways), all)
			sum.Add(sum, term)
			want, _ := term.Float64()
			if want > 1e-290 {
				require.InEpsilon(t, want, h.Mass(k), 1e-11, "mass at %d", k)
			}
			cdf, _ := sum.Float64()
			require.InEpsilon(t, cdf+1e-290, h.CDF(k)+1e-290, 1e-11, "CDF at %d", k)
			above, _ := new(big.Rat).Sub(big.NewRat(1, 1), sum).Float64()
			require.InDelta(t, above, h.Above(k), 1e-13, "above %d", k)
		}
	})
}

// TestPoissonTable: Abramowitz and Stegun table 26.7 (survival of chi-square)
// gives P(chi2 < 10 | 12) = 1 - P(Poisson(5) < 6); values by the sum itself.
func TestPoissonBySumming(t *testing.T) {
	for _, mean := range []float64{0.01, 0.8, 5, 30, 700} {
		p, sum, term := Poisson{mean}, 0.0, math.Exp(-mean)
		for k := range int(mean + 10*math.Sqrt(mean) + 5) {
			sum += term
			require.InDelta(t, sum, p.CDF(k), 1e-12, "mean %v at %d", mean, k)
			require.InEpsilon(t, term, p.Mass(k), 1e-10, "mean %v at %d", mean, k)
			require.InDelta(t, 1, p.CDF(k)+p.Above(k), 1e-13)
			term *= mean / float64(k+1)
		}
	}
}

func TestQuantilesAreTheInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.Float64Range(1e-6, 1-1e-6).Draw(t, "q")
		n := rapid.IntRange(1, 3000).Draw(t, "n")
		p := rapid.Float64Range(0.001, 0.999).Draw(t, "p")
		for name, l := range map[string]interface {
			CDF(int) float64
			Quantile(float64) int
		}{"binomial": Binomial{n, p}, "poisson": Poisson{float64(n) * p}, "hypergeometric": Hypergeometric{n, int(p * float64(n)), n / 3}} {
			k := l.Quantile(q)
			require.GreaterOrEqual(t, l.CDF(k), q*reached, name)
			require.Less(t, l.CDF(k-1), q, name)
		}
	})
}

func TestQuantileOfATie(t *testing.T) {
	require.Equal(t, 0, Binomial{1, 0.5}.Quantile(0.5), "CDF(0) is a half")
	require.Equal(t, 1, Binomial{1, 0.5}.Quantile(0.5000001))
	require.Equal(t, math.MaxInt, Poisson{3}.Quantile(1))
}

func TestDiscreteEdges(t *testing.T) {
	require.Equal(t, 1.0, Binomial{5, 0}.Mass(0))
	require.Equal(t, 0.0, Binomial{5, 0}.Mass(1))
	require.Equal(t, 1.0, Binomial{5, 1}.Mass(5))
	require.Equal(t, 0.0, Binomial{5, 1}.CDF(4))
	require.Equal(t, 1.0, Binomial{5, 1}.Above(4))
	require.Equal(t, 1.0, Binomial{0, 0.3}.CDF(0))
	require.Equal(t, 0.0, Binomial{5, 0.3}.CDF(-1))
	require.Equal(t, 1.0, Poisson{0}.Mass(0))
	require.Equal(t, 0.0, Poisson{0}.Mass(2))
	require.Equal(t, 1.0, Poisson{0}.CDF(0))
	require.Equal(t, 0.0, Poisson{4}.Mass(-1))
	require.Equal(t, 1.0, Hypergeometric{10, 3, 10}.Mass(3))
	require.Equal(t, 0.0, Hypergeometric{10, 8, 5}.CDF(2), "three of the five are bad at least")
	for name, v := range map[string]float64{
		"binomial": Binomial{5, 1.1}.CDF(1), "binomial mass": Binomial{-1, 0.5}.Mass(0), "above": Binomial{5, math.NaN()}.Above(1),
		"poisson": Poisson{-1}.CDF(1), "poisson mass": Poisson{math.NaN()}.Mass(1), "poisson above": Poisson{-1}.Above(1),
		"hypergeometric": Hypergeometric{5, 6, 1}.CDF(1), "mass": Hypergeometric{5, 1, 6}.Mass(1), "hyper above": Hypergeometric{5, -1, 1}.Above(1),
	} {
		require.True(t, math.IsNaN(v), name)
	}
}

func TestBetaQuantile(t *testing.T) {
	require.InDelta(t, 0.5, BetaQuantile(0.5, 3, 3), 1e-15)
	require.InEpsilon(t, 0.01, BetaQuantile(1e-6, 3, 1), 1e-13, "x^3 is 1e-6")
	require.InEpsilon(t, 1-math.Pow(0.05, 1.0/59), BetaQuantile(0.95, 1, 59), 1e-13)
	require.Equal(t, 0.0, BetaQuantile(0, 2, 2))
	require.Equal(t, 1.0, BetaQuantile(1, 2, 2))
	for _, bad := range [][3]float64{{-0.1, 1, 1}, {0.5, 0, 1}, {0.5, 1, math.NaN()}} {
		require.True(t, math.IsNaN(BetaQuantile(bad[0], bad[1], bad[2])))
	}
}

// How many bad boards are still likely in a tray of 50 at 3 %?
func ExampleBinomial_Quantile() {
	fmt.Println(Binomial{N: 50, P: 0.03}.Quantile(0.99))
	// Output: 5
}

func BenchmarkHypergeometricCDF(b *testing.B) {
	for b.Loop() {
		Hypergeometric{10_000, 200, 125}.CDF(5)
	}
}
