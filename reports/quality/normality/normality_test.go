package normality

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/published"
)

func TestPublishedTests(t *testing.T) {
	published.Each(t, "06", "normality_", func(t *testing.T, c published.Case) {
		var in struct{ Data []float64 }
		var want struct {
			A2  float64 `json:"anderson_darling_A2"`
			A2a float64 `json:"anderson_darling_A2_adjusted"`
			AP  float64 `json:"anderson_darling_p"`
			W   float64 `json:"shapiro_wilk_W"`
			WP  float64 `json:"shapiro_wilk_p"`
			D   float64 `json:"lilliefors_D"`
			DP  float64 `json:"lilliefors_p"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		statistic, p := c.Named(t, "statistic_relative"), c.Named(t, "p_relative")

		ad, err := AndersonDarling(in.Data)
		require.NoError(t, err)
		published.Relative(t, want.A2, ad.Statistic, statistic, "A²")
		published.Relative(t, want.A2a, Adjusted(ad.Statistic, len(in.Data)), statistic, "adjusted A²")
		published.Relative(t, want.AP, ad.P, p, "p of A²")

		sw, err := ShapiroWilk(in.Data)
		require.NoError(t, err)
		published.Absolute(t, want.W, sw.Statistic, c.Named(t, "shapiro_wilk_W_absolute"), "W")
		published.Absolute(t, want.WP, sw.P, c.Named(t, "shapiro_wilk_p_absolute"), "p of W")
		published.Relative(t, want.WP, sw.P, 1e-4, "p of W in the tail")

		l, err := Lilliefors(in.Data)
		require.NoError(t, err)
		published.Relative(t, want.D, l.Statistic, statistic, "D")
		published.Relative(t, want.DP, l.P, p, "p of D")
	})
}

func TestPublishedOutlier(t *testing.T) {
	published.Each(t, "06", "grubbs_", func(t *testing.T, c published.Case) {
		var in struct {
			Data  []float64
			Alpha float64
		}
		var want struct {
			G, Suspect float64
			Two        float64 `json:"critical_two_sided"`
			One        float64 `json:"critical_one_sided"`
			Out        bool    `json:"outlier_two_sided"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		two, err := Grubbs(in.Data, in.Alpha, TwoSided)
		require.NoError(t, err)
		one, err := Grubbs(in.Data, in.Alpha, OneSided)
		require.NoError(t, err)
		published.Relative(t, want.G, two.G, rel, "G")
		published.Relative(t, want.Two, two.Critical, rel, "two-sided critical value")
		published.Relative(t, want.One, one.Critical, rel, "one-sided critical value")
		require.Equal(t, want.Suspect, two.Suspect)
		require.Equal(t, want.Suspect, in.Data[two.Index])
		require.Equal(t, want.Out, two.Out())
	})
}

// TestScaleDoesNotMatter: normality is a matter of shape.
func TestScaleDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		data := rapid.SliceOfN(rapid.Float64Range(-5, 5), 8, 60).Draw(t, "data")
		data = append(data, -7, 9) // some spread
		factor := rapid.Float64Range(0.1, 100).Draw(t, "factor")
		other := make([]float64, len(data))
		for i, v := range data {
			other[i] = 3 - factor*v
		}
		for name, f := range map[string]func([]float64) (Result, error){
			"AD": AndersonDarling, "SW": ShapiroWilk, "Lilliefors": Lilliefors,
		} {
			a, err := f(data)
			require.NoError(t, err)
			b, err := f(other)
			require.NoError(t, err)
			require.InDelta(t, a.Statistic, b.Statistic, 1e-9, name)
			require.GreaterOrEqual(t, a.P, 0.0)
			require.LessOrEqual(t, a.P, 1.0)
		}
	})
}

// TestFalseAlarms: on normal samples each test rejects at 5 % about one time in
// twenty; on exponential ones almost always.
func TestFalseAlarms(t *testing.T) {
	source := rand.New(rand.NewPCG(3, 14))
	tests := []func([]float64) (Result, error){AndersonDarling, ShapiroWilk, Lilliefors}
	const rounds, n = 1500, 50
	var alarms, hits [3]int
	for range rounds {
		normal, skewed := make([]float64, n), make([]float64, n)
		for i := range normal {
			normal[i], skewed[i] = source.NormFloat64(), source.ExpFloat64()
		}
		for i, f := range tests {
			a, err := f(normal)
			require.NoError(t, err)
			b, err := f(skewed)
			require.NoError(t, err)
			if a.P < 0.05 {
				alarms[i]++
			}
			if b.P < 0.05 {
				hits[i]++
			}
		}
	}
	for i := range tests {
		// 0.05 ± 4 standard errors of 0.0056
		require.InDelta(t, 0.05, float64(alarms[i])/rounds, 0.0225, "test %d", i)
		require.Greater(t, float64(hits[i])/rounds, 0.93, "test %d", i)
	}
}

// TestShapiroWilkOfThree: exact law, W of an even triple is 1 and of a pair
// with one apart 3/4, where P is 1 and 0.
func TestShapiroWilkOfThree(t *testing.T) {
	even, err := ShapiroWilk([]float64{1, 2, 3})
	require.NoError(t, err)
	require.InDelta(t, 1, even.Statistic, 1e-12)
	require.InDelta(t, 1, even.P, 1e-6)
	apart, err := ShapiroWilk([]float64{1, 1, 3})
	require.NoError(t, err)
	require.InDelta(t, 0.75, apart.Statistic, 1e-12)
	require.InDelta(t, 0, apart.P, 1e-6)
}

// TestElevenMen: the weights of the paper that proposed the test (Shapiro and
// Wilk, Biometrika 52 (1965) 591, W .79, P about .01), for which R 4 prints W
// 0.78881, P 0.006704 (from memory): the branch for eleven values and fewer.
func TestElevenMen(t *testing.T) {
	r, err := ShapiroWilk([]float64{148, 154, 158, 160, 161, 162, 166, 170, 182, 195, 236})
	require.NoError(t, err)
	require.InDelta(t, 0.78881, r.Statistic, 6e-6)
	require.InDelta(t, 0.006704, r.P, 6e-7)
}

// TestAndersonDarlingIsUniform: over samples of a normal process every p-value is
// as likely as every other, in all of Stephens' branches.
func TestAndersonDarlingIsUniform(t *testing.T) {
	source := rand.New(rand.NewPCG(2, 71))
	const rounds = 1500
	var tenths [10]int
	for range rounds {
		data := make([]float64, 30)
		for i := range data {
			data[i] = source.NormFloat64()
		}
		r, err := AndersonDarling(data)
		require.NoError(t, err)
		tenths[min(9, int(r.P*10))]++
	}
	for i, n := range tenths {
		// 150 expected; four standard errors are 46.
		require.InDelta(t, rounds/10, n, 50, "tenth %d", i)
	}
}

func TestGapsInThePolynomials(t *testing.T) {
	require.Equal(t, 3.7e-24, stephens(11))
	require.InDelta(t, stephens(0.1999), stephens(0.2001), 0.01)
	require.InDelta(t, stephens(0.3399), stephens(0.3401), 0.01)
	require.InDelta(t, stephens(0.5999), stephens(0.6001), 0.01)
	require.Equal(t, 1.0, dallalWilkinson(0.02, 50))
	require.Equal(t, 1e-99, royston(0.9, 4))
	for _, s := range []float64{0.06, 0.08, 0.1, 0.11} {
		p := dallalWilkinson(s, 50)
		require.True(t, p >= 0 && p <= 1, "D %v gives %v", s, p)
	}
}

func TestSamplesThatCannotBeTested(t *testing.T) {
	long := make([]float64, Largest+1)
	long[0] = 1
	for name, c := range map[string]struct {
		f    func([]float64) (Result, error)
		data []float64
		says string
	}{
		"too few for AD":     {AndersonDarling, []float64{1, 2, 3, 4, 5, 6, 7}, "7 values, at least 8"},
		"too few for SW":     {ShapiroWilk, []float64{1, 2}, "2 values, at least 3"},
		"too few for D":      {Lilliefors, []float64{1, 2, 3, 4}, "4 values, at least 5"},
		"empty":              {ShapiroWilk, nil, "0 values"},
		"no spread":          {ShapiroWilk, []float64{5, 5, 5, 5}, "all 4 values are 5"},
		"too many for SW":    {ShapiroWilk, long, "5001 values"},
		"a hole in the data": {Lilliefors, []float64{1, 2, math.NaN(), 3, 4}, "value 3 is NaN"},
		"an infinity":        {Lilliefors, []float64{1, 2, 3, 4, math.Inf(-1)}, "value 5 is -Inf"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := c.f(c.data)
			require.ErrorIs(t, err, quality.ErrSample)
			require.ErrorContains(t, err, c.says)
		})
	}
	_, err := Grubbs([]float64{1, 1, 1}, 0.05, TwoSided)
	require.ErrorIs(t, err, quality.ErrSample)
	o, err := Grubbs([]float64{1, 2, 3}, 1.5, OneSided)
	require.NoError(t, err)
	require.True(t, math.IsNaN(o.Critical) && !o.Out())
}

func BenchmarkShapiroWilk(b *testing.B) {
	data := make([]float64, 500)
	source := rand.New(rand.NewPCG(1, 1))
	for i := range data {
		data[i] = source.NormFloat64()
	}
	for b.Loop() {
		if _, err := ShapiroWilk(data); err != nil {
			b.Fatal(err)
		}
	}
}
