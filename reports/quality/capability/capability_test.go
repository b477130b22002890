package capability

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
	"sinkproof/reports/quality/spread"
)

// TestIndicesAgree: Cpk = (1-k) Cp, and no index sees the unit.
func TestIndicesAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lower := rapid.Float64Range(-10, 10).Draw(t, "lower")
		width := rapid.Float64Range(0.1, 50).Draw(t, "width")
		mean := lower + rapid.Float64Range(-1, 2).Draw(t, "place")*width
		s := rapid.Float64Range(0.01, 5).Draw(t, "s")
		l := Between(lower, lower+width)
		require.InDelta(t, (1-l.Offset(mean))*l.Cp(s), l.Cpk(mean, s), 1e-9*(1+math.Abs(l.Cpk(mean, s))))
		require.LessOrEqual(t, l.Cpk(mean, s), l.Cp(s)*(1+1e-12))
		scaled := Between(1000*lower, 1000*(lower+width))
		require.InEpsilon(t, l.Cp(s), scaled.Cp(1000*s), 1e-12)
		l.Target = mean
		require.InEpsilon(t, l.Cp(s), l.Cpm(mean, s), 1e-12, "on target Cpm is Cp")
	})
}

// TestIntervalsCover: 90 % intervals of simulated normal samples hold the true
// index about nine times in ten.
func TestIntervalsCover(t *testing.T) {
	source := rand.New(rand.NewPCG(5, 8))
	const rounds, n = 250, 40
	two, one := Between(-3.6, 4.5), AtMost(3.9) // true: Cp 1.35, Cpk 1.2; 1.3
	hits := map[string]int{}
	for range rounds {
		data := make([]float64, n)
		for i := range data {
			data[i] = source.NormFloat64()
		}
		two.Target = 0.2
		a, err := Study([][]float64{data}, two, spread.Pooled, 0.9)
		require.NoError(t, err)
		b, err := Study([][]float64{data}, one, spread.MovingRange, 0.9)
		require.NoError(t, err)
		for name, hit := range map[string]bool{
			"Pp": a.Pp.Contains(1.35), "Ppk": a.Ppk.Contains(1.2), "Cpm": a.Cpm.Contains(1.35 / math.Hypot(1, 0.2)),
			"one-sided Ppk": b.Ppk.Contains(1.3), "one-sided Cpk, moving range": b.Cpk.Contains(1.3),
		} {
			if hit {
				hits[name]++
			}
		}
	}
	for name, h := range hits {
		require.InDelta(t, 0.9, float64(h)/rounds, 0.07, name)
	}
	require.Len(t, hits, 5)
}

// TestExactBoundIsExact: at the bound, an index as great as the observed one
// has exactly the risk.
func TestExactBoundIsExact(t *testing.T) {
	for _, n := range []int{5, 20, 400} {
		bound := CpkExactBound(1.4, n, float64(n-1), 0.95)
		scale := 3 * math.Sqrt(float64(n))
		require.InDelta(t, 0.05, law.NoncentralT{DF: float64(n - 1), Delta: scale * bound}.Above(scale*1.4), 1e-10)
		i := CpkExact(1.4, n, float64(n-1), 0.90)
		require.InDelta(t, bound, i.Low, 1e-9)
		require.Greater(t, i.High, 1.4)
	}
	// With many values Bissell and the exact interval meet.
	b, e := CpkInterval(1.4, 5000, 4999, 0.95), CpkExact(1.4, 5000, 4999, 0.95)
	require.InDelta(t, b.Low, e.Low, 1e-3)
	require.InDelta(t, b.High, e.High, 1e-3)
}

func TestUndefinedIndices(t *testing.T) {
	r, err := Study([][]float64{{1, 2, 3, 4}}, AtLeast(0), spread.Pooled, 0.95)
	require.NoError(t, err)
	require.True(t, math.IsNaN(r.Cp.Value) && math.IsNaN(r.Cpm.Value) && math.IsNaN(r.AndersonDarling.P))
	require.False(t, r.Cp.Defined() || r.Cpm.Defined())
	require.True(t, r.Cpk.Defined() && r.Ppk.Defined())
	require.False(t, math.IsNaN(r.ShapiroWilk.P))

	flat, err := Study([][]float64{{2, 2}, {2, 2}}, Between(0, 10), spread.Pooled, 0.95)
	require.NoError(t, err)
	require.True(t, math.IsInf(flat.Cpk.Value, 1), "no spread, inside")
	require.False(t, flat.Cpk.Defined())
	require.Equal(t, 0.0, flat.NonconformingExpected)
	out, err := Study([][]float64{{12, 12}}, Between(0, 10), spread.Pooled, 0.95)
	require.NoError(t, err)
	require.True(t, math.IsInf(out.Cpk.Value, -1), "no spread, outside")
	require.Equal(t, 1.0, out.NonconformingExpected)
	require.Equal(t, 1.0, out.NonconformingObserved)

	for name, v := range map[string]float64{
		"negative spread": Between(0, 1).Cp(-1), "bound": CpkExactBound(1, 0, 4, 0.9), "Bissell": CpkLowerBound(math.NaN(), 9, 4, 0.9),
		"offset": AtMost(3).Offset(1), "fraction": Equivalent(1.2), "CPL": AtMost(3).CPL(1, 1), "CPU": AtLeast(3).CPU(1, 1),
	} {
		require.True(t, math.IsNaN(v), name)
	}
	require.True(t, math.IsInf(Equivalent(0), 1) && math.IsInf(Equivalent(1), -1))
	require.False(t, CpkExact(1, 5, 0, 0.9).Defined() || CpkInterval(1, 5, 4, 95).Defined())
}

func TestDataThatCannotBeStudied(t *testing.T) {
	for name, c := range map[string]struct {
		groups     [][]float64
		limits     Limits
		by         spread.Method
		confidence float64
		says       string
	}{
		"no value":            {nil, Between(0, 1), spread.Pooled, 0.95, "0 values"},
		"one value":           {[][]float64{{1}}, Between(0, 1), spread.Pooled, 0.95, "1 values, at least 2"},
		"nothing to compare":  {[][]float64{{1}, {2}}, Between(0, 1), spread.Pooled, 0.95, "no subgroup holds two values"},
		"limits turned round": {[][]float64{{1, 2}}, Between(1, 0), spread.Pooled, 0.95, "the lower limit 1 is not below the upper limit 0"},
		"no limit":            {[][]float64{{1, 2}}, Limits{math.Inf(-1), math.Inf(1), 0}, spread.Pooled, 0.95, "neither"},
		"limit NaN":           {[][]float64{{1, 2}}, Between(math.NaN(), 1), spread.Pooled, 0.95, "limits NaN to 1"},
		"hole":                {[][]float64{{1, math.NaN()}}, Between(0, 1), spread.Pooled, 0.95, "value 2 is NaN"},
		"percent":             {[][]float64{{1, 2}}, Between(0, 1), spread.Pooled, 95, "confidence 95"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Study(c.groups, c.limits, c.by, c.confidence)
			require.ErrorIs(t, err, quality.ErrSample)
			require.ErrorContains(t, err, c.says)
		})
	}
	_, err := FitBoxCox([]float64{1, 0, 3})
	require.ErrorContains(t, err, "value 2 is 0")
	_, err = FitBoxCox([]float64{2, 2, 2})
	require.ErrorContains(t, err, "all 3 values are 2")
	_, err = FitBoxCox([]float64{2})
	require.ErrorIs(t, err, quality.ErrSample)
}

// TestBoxCoxFindsTheLogarithm of a lognormal process, and its indices are then
// those of the percentiles.
func TestBoxCoxFindsTheLogarithm(t *testing.T) {
	source := rand.New(rand.NewPCG(2, 3))
	data := make([]float64, 4000)
	for i := range data {
		data[i] = math.Exp(1 + 0.5*source.NormFloat64())
	}
	b, err := FitBoxCox(data)
	require.NoError(t, err)
	require.InDelta(t, 0, b.Lambda, 0.06)
	l := Between(0.4, 16)
	for i, v := range data {
		data[i] = b.Of(v)
	}
	r, err := Study([][]float64{data}, b.Transform(l), spread.Pooled, 0.95)
	require.NoError(t, err)
	want := Between(math.Log(0.4), math.Log(16)).Cpk(1, 0.5)
	require.InDelta(t, want, r.Ppk.Value, 0.06)

	require.Equal(t, Limits{math.Inf(-1), b.Of(16), b.Of(2)}.Lower, b.Transform(Limits{0, 16, 2}).Lower)
	require.Equal(t, math.Log(3), BoxCox{}.Of(3))
	require.Equal(t, -2.0, BoxCox{Lambda: 0.5}.Of(0))
	require.True(t, math.IsNaN(BoxCox{Lambda: -1}.Of(0)))
	require.True(t, math.IsInf(BoxCox{Lambda: 1}.Of(math.Inf(1)), 1))
}

func TestPercentilesOfANormalProcess(t *testing.T) {
	n := distuv.Normal{Mu: 5, Sigma: 0.1}
	l := Between(4.5, 5.4)
	p := l.FromQuantiles(n.Quantile)
	require.InDelta(t, l.Cp(0.1), p.Pp, 1e-4)
	require.InDelta(t, l.Cpk(5, 0.1), p.Ppk, 1e-4)
	sample := make([]float64, 20_000)
	source := rand.New(rand.NewPCG(1, 9))
	for i := range sample {
		sample[i] = 5 + 0.1*source.NormFloat64()
	}
	slices.Sort(sample)
	require.InEpsilon(t, p.Ppk, l.FromQuantiles(Empirical(sample)).Ppk, 0.05)
	require.InEpsilon(t, p.Ppl, AtLeast(4.5).FromQuantiles(n.Quantile).Ppk, 1e-9)
}

func BenchmarkStudy(b *testing.B) {
	data := make([]float64, 1_000_000)
	source := rand.New(rand.NewPCG(1, 1))
	for i := range data {
		data[i] = source.NormFloat64()
	}
	for b.Loop() {
		if _, err := Study([][]float64{data}, Between(-4, 4), spread.MovingRange, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
