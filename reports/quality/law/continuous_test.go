package law

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sinkproof/reports/quality/internal/published"
)

// TestChartConstants: d2, d3 and c4 for 2 to 25.
func TestChartConstants(t *testing.T) {
	published.Each(t, "05", "constants_", func(t *testing.T, c published.Case) {
		var want struct {
			Rows []struct {
				N          int
				D2, D3, C4 float64
			}
		}
		// "d2" and "D2" differ in case only: take the lower-case ones by name.
		var raw struct{ Rows []map[string]float64 }
		published.Load(t, c.Expect, &raw)
		for _, r := range raw.Rows {
			want.Rows = append(want.Rows, struct {
				N          int
				D2, D3, C4 float64
			}{int(r["n"]), r["d2"], r["d3"], r["c4"]})
		}
		for _, row := range want.Rows {
			published.Relative(t, row.D2, Range{row.N}.Mean(), c.Named(t, "relative"), "d2")
			published.Relative(t, row.D3, Range{row.N}.SD(), c.Named(t, "d3_and_D_factors_relative"), "d3")
			published.Relative(t, row.C4, C4(float64(row.N-1)), c.Named(t, "relative"), "c4")
		}
	})
}

// TestRangeOfTwo: the range of two is the absolute value of a normal difference
// with variance 2: mean 2/sqrt(pi), variance 2 - 4/pi.
func TestRangeOfTwo(t *testing.T) {
	require.InEpsilon(t, 2/math.Sqrt(math.Pi), Range{2}.Mean(), 1e-13)
	require.InEpsilon(t, math.Sqrt(2-4/math.Pi), Range{2}.SD(), 1e-11)
	for _, w := range []float64{0.1, 1, 3, 6} {
		require.InDelta(t, math.Erf(w/2), Range{2}.CDF(w), 1e-13)
	}
}

// TestRangeMomentsFromCDF: mean and spread again, from the law itself.
func TestRangeMomentsFromCDF(t *testing.T) {
	for _, n := range []int{3, 7, 20} {
		r := Range{n}
		mean := Integral(func(w float64) float64 { return 1 - r.CDF(w) }, 0, 14, 10)
		square := Integral(func(w float64) float64 { return 2 * w * (1 - r.CDF(w)) }, 0, 14, 10)
		require.InDelta(t, mean, r.Mean(), 1e-10)
		require.InDelta(t, math.Sqrt(square-mean*mean), r.SD(), 1e-9)
	}
}

// TestNoncentralTAgainstGonum: where gonum does not approximate.
func TestNoncentralTAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		df := float64(rapid.IntRange(1, 300).Draw(t, "df"))
		delta := rapid.Float64Range(-30, 30).Draw(t, "delta")
		x := delta + rapid.Float64Range(-8, 8).Draw(t, "off")
		want := distuv.NoncentralT{Nu: df, Mu: delta}.CDF(x)
		l := NoncentralT{df, delta}
		require.InDelta(t, want, l.CDF(x), 1e-10)
		require.InDelta(t, 1, l.CDF(x)+l.Above(x), 1e-12)
	})
}

// TestNoncentralTIsCentralAtZero: Student's law. At a million degrees gonum's is
// off by 5e-11; a value to 20 digits settles it.
func TestNoncentralTIsCentralAtZero(t *testing.T) {
	for _, df := range []float64{1, 2, 3.5, 10, 1000, 1e6} {
		for _, x := range []float64{-40, -3, -1, 0, 0.5, 2, 7} {
			want := distuv.StudentsT{Sigma: 1, Nu: df}.CDF(x)
			require.InDelta(t, want, NoncentralT{df, 0}.CDF(x), 1e-10, "df %v at %v", df, x)
		}
	}
}

func TestNoncentralTFarFromTables(t *testing.T) {
	// I_x(df/2, 1/2)/2 at x = df/(df+1), df = 1e6, with 30 digits (mpmath 1.3.0).
	require.InDelta(t, 0.158655374916789064, NoncentralT{1e6, 0}.CDF(-1), 2e-14)
}

func TestNoncentralTInverts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := NoncentralT{rapid.Float64Range(1, 5000).Draw(t, "df"), rapid.Float64Range(-200, 200).Draw(t, "delta")}
		p := rapid.Float64Range(0.001, 0.999).Draw(t, "p")
		x := l.Quantile(p)
		require.InDelta(t, p, l.CDF(x), 1e-9)
		require.InDelta(t, l.Delta, DeltaOf(x, l.DF, p), 1e-6*(1+math.Abs(l.Delta)))
	})
}

// TestDegrees: Patnaik's own figures: one range of 5 is worth 3.83 degrees of
// freedom, ten ranges of 5 are worth 36.5 (Duncan, Quality Control and
// Industrial Statistics, table D3; from memory, agree to its one decimal).
func TestDegrees(t *testing.T) {
	r := Range{5}
	one := r.SD() / r.Mean()
	require.InDelta(t, 3.8, Degrees(one*one), 0.05)
	require.InDelta(t, 36.5, Degrees(one*one/10), 0.05)
	for _, df := range []float64{1, 4, 50, 3000} {
		c := C4(df)
		require.InEpsilon(t, df, Degrees((1-c*c)/(c*c)), 1e-6)
	}
}

func TestC4Limits(t *testing.T) {
	require.InEpsilon(t, math.Sqrt(2/math.Pi), C4(1), 1e-14)
	require.InDelta(t, 1-1.0/4e6, C4(1e6), 1e-12, "1 - 1/(4 df)")
}

func TestFAbove(t *testing.T) {
	for _, f := range []float64{0.2, 1, 3.7} {
		require.InDelta(t, distuv.F{D1: 3, D2: 12}.Survival(f), FAbove(f, 3, 12), 1e-12)
	}
	// F of 1 and df is t squared: far out, Student's tails are known to gonum.
	require.InEpsilon(t, 2*distuv.StudentsT{Sigma: 1, Nu: 40}.Survival(13), FAbove(169, 1, 40), 1e-9)
	require.Equal(t, 1.0, FAbove(0, 1, 1))
	require.Equal(t, 0.0, FAbove(math.Inf(1), 1, 1))
	require.True(t, math.IsNaN(FAbove(1, 0, 1)))
}

func TestContinuousOutsideTheDomain(t *testing.T) {
	for name, v := range map[string]float64{
		"no degrees": NoncentralT{0, 1}.CDF(1), "infinite delta": NoncentralT{3, math.Inf(1)}.Above(1),
		"quantile of 1": NoncentralT{3, 1}.Quantile(1), "delta of NaN": DeltaOf(math.NaN(), 3, 0.5),
		"range of one": Range{1}.Mean(), "spread": Range{0}.SD(), "cdf": Range{1}.CDF(1),
		"c4": C4(0), "degrees": Degrees(0), "degrees of infinity": Degrees(math.Inf(1)),
	} {
		require.True(t, math.IsNaN(v), name)
	}
	require.Equal(t, 0.0, Range{4}.CDF(-1))
}

func BenchmarkNoncentralT(b *testing.B) {
	for b.Loop() {
		NoncentralT{29, 16}.CDF(18)
	}
}

func BenchmarkRangeSD(b *testing.B) {
	for b.Loop() {
		Range{5}.SD()
	}
}
