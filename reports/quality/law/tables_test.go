package law

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestNoncentralTByQuadrature: values to 17 digits by adaptive quadrature with 30
// (mpmath 1.3.0), among them such as lie where gonum's law approximates.
func TestNoncentralTByQuadrature(t *testing.T) {
	for _, c := range []struct{ t, df, delta, want float64 }{
		{62, 199, 60, 0.72046101027085402},
		{75, 999, 73.5, 0.77558756519237063},
		{100, 50, 80, 0.97707258004029842},
		{-3, 4, 1, 0.0021800854837464663},
		{2, 3, -1.5, 0.99711916992793859},
	} {
		require.InDelta(t, c.want, NoncentralT{c.df, c.delta}.CDF(c.t), 1e-12, "%+v", c)
		require.InDelta(t, 1-c.want, NoncentralT{c.df, c.delta}.Above(c.t), 1e-12, "%+v", c)
	}
}

// TestRangeTable: upper percentage points of the studentized range with
// infinite degrees of freedom, which is the range of normal values (Pearson and
// Hartley, Biometrika Tables, table 29; from memory, agree to three decimals).
func TestRangeTable(t *testing.T) {
	for n, points := range map[int][2]float64{2: {2.772, 3.643}, 3: {3.314, 4.120}, 5: {3.858, 4.603}, 10: {4.474, 5.157}, 20: {5.012, 5.645}} {
		require.InDelta(t, 0.95, Range{n}.CDF(points[0]), 1.5e-4, "5 %% point of %d", n)
		require.InDelta(t, 0.99, Range{n}.CDF(points[1]), 5e-5, "1 %% point of %d", n)
	}
}

// TestRankSumTable: two-sided 5 % critical values of U, the largest whose tail is
// at most 2.5 % (Mann and Whitney; Siegel, Nonparametric Statistics, table K; from
// memory).
func TestRankSumTable(t *testing.T) {
	for _, c := range []struct{ m, n, critical int }{
		{4, 4, 0}, {5, 5, 2}, {6, 6, 5}, {8, 8, 13}, {10, 10, 23}, {15, 15, 64}, {20, 20, 127}, {5, 10, 8}, {10, 20, 55},
	} {
		r := RankSum{c.m, c.n}
		require.LessOrEqual(t, r.CDF(c.critical), 0.025, "%+v", c)
		require.Greater(t, r.CDF(c.critical+1), 0.025, "%+v", c)
	}
}

// TestKolmogorovTable: 5 % points of the distance of one sample (Massey, JASA 46
// (1951) 68; from memory, to the digits printed).
func TestKolmogorovTable(t *testing.T) {
	for n, d := range map[int]float64{1: 0.975, 5: 0.563, 10: 0.409, 20: 0.294, 50: 0.188} {
		require.InDelta(t, 0.05, KolmogorovOne(d, n), 0.001, "%d values", n)
	}
}

// TestFarTails: masses far out, where subtraction would leave nothing; by the
// leading term, to which the rest adds a known ratio.
func TestFarTails(t *testing.T) {
	b := Binomial{1000, 1e-6}
	lead := 1000.0 * 999 * 998 / 6 * 1e-18 * math.Pow(1-1e-6, 997)
	require.InEpsilon(t, lead*(1+997e-6/4), b.Above(2), 1e-6)
	require.InEpsilon(t, lead, b.Mass(3), 1e-11)
	p := Poisson{1e-4}
	require.InEpsilon(t, 5e-9*(1-1e-4/3*2), p.Above(1), 1e-7)
	h := Hypergeometric{1_000_000, 10, 1000}
	require.InEpsilon(t, 45e-6, h.Above(1), 0.01, "two of ten in a thousandth of the lot")
}

// TestHypergeometricBecomesBinomial in a large lot, and that Poisson for rare
// faults.
func TestLawsMeet(t *testing.T) {
	for k := range 8 {
		require.InDelta(t, Binomial{40, 0.05}.CDF(k), Hypergeometric{10_000_000, 500_000, 40}.CDF(k), 1e-5)
		require.InDelta(t, Poisson{2}.CDF(k), Binomial{1_000_000, 2e-6}.CDF(k), 1e-5)
	}
	// A sample and its complement in the lot tell the same.
	for k := range 6 {
		require.InDelta(t, Hypergeometric{50, 5, 12}.Mass(k), Hypergeometric{50, 5, 38}.Mass(5-k), 1e-14)
		require.InDelta(t, Hypergeometric{50, 5, 12}.Mass(k), Hypergeometric{50, 12, 5}.Mass(k), 1e-14)
	}
}

func BenchmarkRankSum(b *testing.B) {
	for b.Loop() {
		RankSum{40, 40}.CDF(700)
	}
}

func BenchmarkKolmogorovTwo(b *testing.B) {
	for b.Loop() {
		KolmogorovTwo(0.2, 90, 100)
	}
}
