package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/quality"
)

func normals(source *rand.Rand, n int, mean, sd float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = mean + sd*source.NormFloat64()
	}
	return out
}

// TestExchange: which sample comes first turns signs and nothing else.
func TestExchange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		source := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		a := normals(source, rapid.IntRange(2, 60).Draw(t, "m"), 1, 1)
		b := normals(source, rapid.IntRange(2, 60).Draw(t, "n"), 1.3, 2)
		x, _ := Of(a)
		y, _ := Of(b)
		w, v := Welch(x, y, 0.9), Welch(y, x, 0.9)
		require.InDelta(t, w.P, v.P, 1e-12)
		require.InDelta(t, w.Low, -v.High, 1e-9)
		e, f := w.Equivalent(1, 0.05), v.Equivalent(1, 0.05)
		require.InDelta(t, e.PLower, f.PUpper, 1e-12)
		require.Equal(t, e.Inside(), e.P < 0.05)
		r, err := MannWhitney(a, b, 0.9)
		require.NoError(t, err)
		s, err := MannWhitney(b, a, 0.9)
		require.NoError(t, err)
		require.InDelta(t, r.P, s.P, 1e-9)
		require.InDelta(t, r.Shift, -s.Shift, 1e-9)
		require.InDelta(t, r.Low, -s.High, 1e-9)
		require.InDelta(t, 1, r.Superiority+s.Superiority, 1e-12)
		d, err := KolmogorovSmirnov(a, b)
		require.NoError(t, err)
		g, err := KolmogorovSmirnov(b, a)
		require.NoError(t, err)
		require.Equal(t, d.D, g.D)
		require.InDelta(t, d.P, g.P, 1e-9)
		q, p := VarianceRatio(x, y, 0.9), VarianceRatio(y, x, 0.9)
		require.InEpsilon(t, q.F, 1/p.F, 1e-12)
		require.InEpsilon(t, q.Low, 1/p.High, 1e-6)
	})
}

// TestDifferencesWithoutFormingThem: against all of them, sorted.
func TestDifferencesWithoutFormingThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-3, 3), 1, 12).Draw(t, "x")
		y := rapid.SliceOfN(rapid.Float64Range(-3, 3), 1, 12).Draw(t, "y")
		var all []float64
		for _, a := range x {
			for _, b := range y {
				all = append(all, a-b)
			}
		}
		slices.Sort(all)
		slices.Sort(x)
		slices.Sort(y)
		for k, want := range all {
			require.InDelta(t, want, difference(x, y, k), 1e-12)
		}
	})
}

// TestFalseAlarms: samples of the same law differ at 5 % about one time in
// twenty, and equivalence at the margin's edge is claimed no more often.
func TestFalseAlarms(t *testing.T) {
	source := rand.New(rand.NewPCG(77, 1))
	const rounds = 500
	rates := map[string]float64{}
	for range rounds {
		a, b := normals(source, 14, 0, 1), normals(source, 22, 0, 1)
		edge, _ := Of(normals(source, 22, 0.9, 1))
		x, _ := Of(a)
		y, _ := Of(b)
		r, err := MannWhitney(a, b, 0.95)
		require.NoError(t, err)
		d, err := KolmogorovSmirnov(a, b)
		require.NoError(t, err)
		l, err := Levene([][]float64{a, b})
		require.NoError(t, err)
		for name, hit := range map[string]bool{
			"Welch": Welch(x, y, 0.95).P < 0.05, "pooled": Pooled(x, y, 0.95).P < 0.05, "ranks": r.P < 0.05, "KS": d.P < 0.05,
			"Levene": l.P < 0.05, "ratio": VarianceRatio(x, y, 0.95).P < 0.05, "shift": !r.Contains(0),
			"equivalence": Welch(x, edge, 0.95).Equivalent(0.9, 0.05).Inside(),
		} {
			if hit {
				rates[name] += 1.0 / rounds
			}
		}
	}
	require.Len(t, rates, 8)
	for name, rate := range rates {
		// 0.05 and four standard errors; discrete tests stay below.
		require.Less(t, rate, 0.089, name)
		require.Greater(t, rate, 0.01, name)
	}
}

// TestPowerBySimulation: power and equivalence as stated.
func TestPowerBySimulation(t *testing.T) {
	source := rand.New(rand.NewPCG(9, 77))
	const rounds, n = 2000, 15
	found, equal := 0.0, 0.0
	for range rounds {
		x, _ := Of(normals(source, n, 0, 1))
		y, _ := Of(normals(source, n, 1, 1))
		z, _ := Of(normals(source, n, 0.2, 1))
		if Pooled(x, y, 0.95).P < 0.05 {
			found += 1.0 / rounds
		}
		if Pooled(x, z, 0.95).Equivalent(1.1, 0.05).Inside() {
			equal += 1.0 / rounds
		}
	}
	require.InDelta(t, Power(n, 1, 1, 0.05), found, 0.04)
	require.InDelta(t, EquivalencePower(n, 0.2, 1.1, 1, 0.05), equal, 0.04)
	size := EquivalenceSize(0.2, 1.1, 1, 0.05, 0.9)
	require.InDelta(t, 0.9, EquivalencePower(size, 0.2, 1.1, 1, 0.05), 1e-6)
	require.Greater(t, size, float64(n))
	require.Greater(t, FractionsPower(300, 0.01, 0.05, 0.05), 0.7)
	require.Less(t, FractionsPower(100, 0.01, 0.05, 0.05), 0.5)
}

// TestAdjustedByHand: both papers' procedures on five p-values, worked by hand.
func TestAdjustedByHand(t *testing.T) {
	p := []float64{0.01, 0.04, math.NaN(), 0.03, 0.005}
	holm := Holm(p)
	require.InDeltaSlice(t, []float64{0.03, 0.06, 0.06, 0.02}, defined(holm), 1e-12)
	bh := BenjaminiHochberg(p)
	require.InDeltaSlice(t, []float64{0.02, 0.04, 0.04, 0.02}, defined(bh), 1e-12)
	require.True(t, math.IsNaN(holm[2]) && math.IsNaN(bh[2]))
	require.Equal(t, []float64{1, 1}, Holm([]float64{0.9, 0.8}))
	require.Empty(t, BenjaminiHochberg(nil))
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 30).Draw(t, "p")
		h, b := Holm(p), BenjaminiHochberg(p)
		for i := range p {
			require.True(t, p[i] <= b[i] && b[i] <= h[i]+1e-15 && h[i] <= 1, "%v, %v, %v", p[i], b[i], h[i])
		}
	})
}

func defined(p []float64) []float64 {
	return slices.DeleteFunc(slices.Clone(p), math.IsNaN)
}

// TestOddsByDefinition: under the estimate the observed count is the mean; under
// each end of the interval its tail is half the risk.
func TestOddsByDefinition(t *testing.T) {
	for _, c := range [][2]Counts{{{2, 15}, {10, 3}}, {{3, 1}, {1, 3}}, {{9, 1}, {3, 7}}, {{4, 496}, {15, 485}}} {
		f, err := Fisher(c[0], c[1], 0.95)
		require.NoError(t, err)
		mean, _, _ := tails(c[0], c[1], f.OddsRatio)
		require.InDelta(t, float64(c[0].Bad), mean, 1e-9)
		_, _, above := tails(c[0], c[1], f.OddsRange.Low)
		require.InDelta(t, 0.025, above, 1e-11)
		_, below, _ := tails(c[0], c[1], f.OddsRange.High)
		require.InDelta(t, 0.025, below, 1e-11)
	}
}

// tails sums over all tables with the same margins, each of weight
// C(n, k) C(m, s-k) odds^k.
func tails(a, b Counts, odds float64) (mean, below, above float64) {
	s, total := a.Bad+b.Bad, 0.0
	for k := max(0, s-b.N()); k <= min(s, a.N()); k++ {
		w := choose(a.N(), k) * choose(b.N(), s-k) * math.Pow(odds, float64(k))
		total += w
		mean += w * float64(k)
		if k <= a.Bad {
			below += w
		}
		if k >= a.Bad {
			above += w
		}
	}
	return mean / total, below / total, above / total
}

func choose(n, k int) float64 {
	c := 1.0
	for i := range k {
		c *= float64(n-i) / float64(i+1)
	}
	return c
}

// TestEffectAndTestAgree: the exact interval of the effect leaves out 0 just when
// the pooled test finds a difference.
func TestEffectAndTestAgree(t *testing.T) {
	source := rand.New(rand.NewPCG(4, 44))
	found := 0
	for range 60 {
		x, _ := Of(normals(source, 12, 0, 1))
		y, _ := Of(normals(source, 9, 0.9, 1))
		differ := Pooled(x, y, 0.95).P < 0.05
		require.Equal(t, differ, !EffectSize(x, y, 0.95).Contains(0))
		if differ {
			found++
		}
	}
	require.True(t, found > 10 && found < 55, "both answers occurred: %d", found)
}

func TestEffectSize(t *testing.T) {
	x, y := Sample{20, 5.5, 1}, Sample{20, 5.0, 1}
	e := EffectSize(x, y, 0.95)
	require.InDelta(t, 0.5, e.D, 1e-12)
	// Hedges' correction for 38 degrees is 0.9801 (1 - 3/(4·38-1) to four digits).
	require.InDelta(t, 0.5*(1-3.0/151), e.G, 2e-5)
	require.InDelta(t, -0.132, e.Low, 2e-3) // Steiger and Fouladi's method, from memory
	require.True(t, math.IsNaN(EffectSize(Sample{3, 1, 0}, Sample{3, 1, 0}, 0.95).D))
	require.Equal(t, 1.0, correction(1))
}

func TestNothingToCompare(t *testing.T) {
	flat := Sample{5, 2, 0}
	w := Welch(flat, flat, 0.95)
	require.True(t, math.IsNaN(w.T) && math.IsNaN(w.P))
	require.True(t, math.IsNaN(VarianceRatio(flat, flat, 0.95).P))
	e := Pooled(flat, flat, 0.95).Equivalent(0.1, 0.05)
	require.Equal(t, 0.0, e.P, "no spread: the difference is known")
	require.True(t, e.Inside())
	require.Equal(t, 1.0, Pooled(Sample{5, 3, 0}, flat, 0.95).Equivalent(0.1, 0.05).P)
	require.True(t, math.IsNaN(w.Equivalent(-1, 0.05).P))
	r, err := MannWhitney([]float64{1, 1}, []float64{1, 1}, 0.95)
	require.NoError(t, err)
	require.True(t, math.IsNaN(r.P))
	require.Equal(t, 0.5, r.Superiority)
	f, err := Fisher(Counts{0, 5}, Counts{0, 7}, 0.95)
	require.NoError(t, err)
	require.Equal(t, 1.0, f.P)
	require.True(t, math.IsNaN(f.OddsRatio) && math.IsNaN(f.Z))
	require.False(t, f.OddsRange.Defined())
	ends, err := Fisher(Counts{0, 5}, Counts{3, 4}, 0.95)
	require.NoError(t, err)
	require.Equal(t, 0.0, ends.OddsRatio)
	require.Equal(t, 0.0, ends.OddsRange.Low)
	other, err := Fisher(Counts{5, 0}, Counts{3, 4}, 0.95)
	require.NoError(t, err)
	require.True(t, math.IsInf(other.OddsRatio, 1) && math.IsInf(other.OddsRange.High, 1))
	ratio, i := Ordinary(Counts{10, 20}, Counts{5, 40}, 0.95)
	require.InDelta(t, 4, ratio, 1e-12)
	require.True(t, i.Contains(4) && i.Low > 1)
	ratio, _ = Ordinary(Counts{0, 20}, Counts{5, 40}, 0)
	require.Greater(t, ratio, 0.0)
}

func TestSamplesThatCannotBeCompared(t *testing.T) {
	one := func(_ any, err error) error { return err }
	for name, err := range map[string]error{
		"one value":      one(Of([]float64{1})),
		"one group":      one(OneWay([][]float64{{1, 2}})),
		"single values":  one(OneWay([][]float64{{1}, {2}})),
		"Levene of one":  one(Levene([][]float64{{1}, {2, 3}})),
		"Bartlett empty": one(Bartlett([][]float64{{1, 2}, {}})),
		"Kruskal hole":   one(KruskalWallis([][]float64{{1, math.NaN()}, {2}})),
		"ranks empty":    one(MannWhitney(nil, []float64{1}, 0.95)),
		"KS empty":       one(KolmogorovSmirnov([]float64{1}, nil)),
		"KS one empty":   one(OneSample(nil, math.Exp)),
		"no units":       one(Fisher(Counts{}, Counts{1, 1}, 0.95)),
		"negative":       one(Fisher(Counts{-1, 2}, Counts{1, 1}, 0.95)),
	} {
		require.ErrorIs(t, err, quality.ErrSample, name)
	}
	for name, v := range map[string]float64{
		"one unit": Power(1, 1, 1, 0.05), "no difference": Size(0, 1, 0.05, 0.9), "no margin": EquivalencePower(9, 0, 0, 1, 0.05),
		"beyond": EquivalenceSize(2, 1, 1, 0.05, 0.9), "certain": FractionsPower(9, 0, 0.1, 0.05), "too small": Size(1e-9, 1, 0.05, 0.9),
	} {
		require.True(t, math.IsNaN(v), name)
	}
	require.Equal(t, 2.0, Size(100, 1, 0.05, 0.5))
}

func BenchmarkMannWhitney(b *testing.B) {
	source := rand.New(rand.NewPCG(1, 1))
	x, y := normals(source, 10_000, 0, 1), normals(source, 10_000, 0.1, 1)
	for b.Loop() {
		if _, err := MannWhitney(x, y, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
