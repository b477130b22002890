package moments

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// TestAgainstGonum: an independent implementation, on samples of every length
// around the block's.
func TestAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 3*blockLength+2).Draw(t, "n")
		offset := rapid.Float64Range(-1e3, 1e3).Draw(t, "offset")
		source := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		data := make([]float64, n)
		for i := range data {
			data[i] = offset + source.ExpFloat64()
		}
		got := Of(data).Moments()
		require.InDelta(t, stat.Mean(data, nil), got.Mean, 1e-12*(1+math.Abs(offset)))
		require.InEpsilon(t, stat.StdDev(data, nil), got.SD, 1e-11)
		require.InDelta(t, stat.Skew(data, nil), got.Skewness, 1e-8)
		require.InDelta(t, stat.ExKurtosis(data, nil), got.Kurtosis, 1e-7)
		require.Equal(t, slices.Min(data), got.Min)
		require.Equal(t, slices.Max(data), got.Max)
	})
}

// TestMergeIsConcatenation: parts in any division give the whole.
func TestMergeIsConcatenation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		data := rapid.SliceOfN(rapid.Float64Range(-10, 10), 5, 1500).Draw(t, "data")
		cut := rapid.IntRange(0, len(data)).Draw(t, "cut")
		a, b := Of(data[:cut]), Of(data[cut:])
		a.Merge(b)
		a.Add(3)
		got, want := a.Moments(), Of(append(slices.Clone(data), 3)).Moments()
		require.Equal(t, want.N, got.N)
		require.Equal(t, len(data)-cut, b.N(), "the other stays as it was")
		require.InDelta(t, want.Mean, got.Mean, 1e-12)
		require.InDelta(t, want.SquaresFromMid, got.SquaresFromMid, 1e-9*(1+want.SquaresFromMid))
		if want.SD > 1e-3 {
			require.InDelta(t, want.SkewnessG1, got.SkewnessG1, 1e-9)
			require.InDelta(t, want.KurtosisG2, got.KurtosisG2, 1e-9)
			require.InDelta(t, want.Lag1, got.Lag1, 1e-9)
		}
	})
}

// TestLag1ByDefinition: two plain passes over the data.
func TestLag1ByDefinition(t *testing.T) {
	source := rand.New(rand.NewPCG(7, 7))
	data := make([]float64, 2000)
	walk := 1e5
	for i := range data {
		walk += source.NormFloat64()
		data[i] = walk
	}
	m := stat.Mean(data, nil)
	var above, below float64
	for i, v := range data {
		below += (v - m) * (v - m)
		if i > 0 {
			above += (v - m) * (data[i-1] - m)
		}
	}
	require.InDelta(t, above/below, Of(data).Moments().Lag1, 1e-12)
	require.Greater(t, Of(data).Moments().Lag1, 0.9, "a walk resembles itself")
}

func TestUndefinedMoments(t *testing.T) {
	for name, c := range map[string]struct {
		data                          []float64
		mean, sd, skew, kurtosis, lag bool
	}{
		"empty":              {nil, false, false, false, false, false},
		"one value":          {[]float64{4}, true, false, false, false, false},
		"two values":         {[]float64{4, 5}, true, true, false, false, true},
		"three values":       {[]float64{4, 5, 7}, true, true, true, false, true},
		"four values":        {[]float64{4, 5, 7, 1}, true, true, true, true, true},
		"zero spread":        {[]float64{4, 4, 4, 4, 4}, true, true, false, false, false},
		"a hole in the data": {[]float64{4, math.NaN(), 4, 4, 5}, false, false, false, false, false},
		"an infinity":        {[]float64{4, math.Inf(1), 4, 4, 5}, false, false, false, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			m := Of(c.data).Moments()
			finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
			require.Equal(t, c.mean, finite(m.Mean), "mean")
			require.Equal(t, c.sd, finite(m.SD), "sd")
			require.Equal(t, c.skew, finite(m.Skewness), "skewness")
			require.Equal(t, c.kurtosis, finite(m.Kurtosis), "kurtosis")
			require.Equal(t, c.lag, finite(m.Lag1), "lag")
		})
	}
	require.Equal(t, 0.0, Of([]float64{4, 4, 4}).SD())
	require.Equal(t, 3, Of([]float64{4, 4, 4}).N())
}

func TestQuantiles(t *testing.T) {
	data := []float64{1, 2, 3, 4}
	require.Equal(t, 2.5, Median(data))
	require.Equal(t, 1.0, Quantile(data, 0, Inclusive))
	require.Equal(t, 4.0, Quantile(data, 1, Inclusive))
	require.Equal(t, 1.75, Quantile(data, 0.25, Inclusive))
	require.Equal(t, 1.25, Quantile(data, 0.25, Exclusive))
	require.Equal(t, 1.0, Quantile(data, 0.01, Exclusive), "below the first position")
	require.Equal(t, 4.0, Quantile(data, 0.99, Exclusive), "above the last")
	require.Equal(t, 9.0, Quantile([]float64{9}, 0.3, Exclusive))
	require.True(t, math.IsNaN(Quantile(nil, 0.5, Inclusive)))
	require.True(t, math.IsNaN(Quantile(data, 1.5, Inclusive)))
	require.True(t, math.IsNaN(Quantile(data, math.NaN(), Exclusive)))
	require.True(t, math.IsNaN(Deviation(nil)))
}

func million() []float64 {
	source := rand.New(rand.NewPCG(1, 2))
	data := make([]float64, 1_000_000)
	for i := range data {
		data[i] = 5 + source.NormFloat64()
	}
	return data
}

// BenchmarkRunning takes a million values; BenchmarkReading, which only adds
// them up, is what memory allows.
func BenchmarkRunning(b *testing.B) {
	data := million()
	b.SetBytes(int64(8 * len(data)))
	for b.Loop() {
		Of(data).Moments()
	}
}

func BenchmarkReading(b *testing.B) {
	data := million()
	b.SetBytes(int64(8 * len(data)))
	for b.Loop() {
		floats.Sum(data)
	}
}

// TestNumAcc3 of NIST StRD by its rule: certified mean 1000000.2, standard
// deviation 0.1, autocorrelation -0.999 (from memory).
func TestNumAcc3(t *testing.T) {
	data := []float64{1000000.2}
	for range 500 {
		data = append(data, 1000000.1, 1000000.3)
	}
	m := Of(data).Moments()
	require.InEpsilon(t, 1000000.2, m.Mean, 1e-14)
	require.InEpsilon(t, 0.1, m.SD, 1e-8)
	require.InEpsilon(t, -0.999, m.Lag1, 1e-8)
}

// TestOrderCountsForLag1Only: the other moments do not see it.
func TestOrderCountsForLag1Only(t *testing.T) {
	source := rand.New(rand.NewPCG(1, 8))
	data := make([]float64, 1300)
	for i := range data {
		data[i] = float64(i%50) + source.Float64()
	}
	before := Of(data).Moments()
	source.Shuffle(len(data), func(i, j int) { data[i], data[j] = data[j], data[i] })
	after := Of(data).Moments()
	require.InEpsilon(t, before.Mean, after.Mean, 1e-13)
	require.InEpsilon(t, before.SD, after.SD, 1e-13)
	require.InDelta(t, before.Skewness, after.Skewness, 1e-12)
	require.InDelta(t, before.Kurtosis, after.Kurtosis, 1e-12)
	require.Greater(t, before.Lag1, 0.5)
	require.Less(t, math.Abs(after.Lag1), 0.2)
}

// TestKnownShapes: moments of laws that are known by heart, on quantile grids.
func TestKnownShapes(t *testing.T) {
	grid := func(quantile func(p float64) float64) []float64 {
		const n = 200_000
		out := make([]float64, n)
		for i := range out {
			out[i] = quantile((float64(i) + 0.5) / n)
		}
		return out
	}
	uniform := Of(grid(func(p float64) float64 { return p })).Moments()
	require.InDelta(t, 0, uniform.Skewness, 1e-9)
	require.InDelta(t, -1.2, uniform.Kurtosis, 1e-4)
	exponential := Of(grid(func(p float64) float64 { return -math.Log1p(-p) })).Moments()
	require.InDelta(t, 2, exponential.Skewness, 0.01)
	require.InDelta(t, 6, exponential.Kurtosis, 0.2)
	require.InDelta(t, 1, exponential.SD, 1e-3)
}

// TestRunningKeepsNoReference: what the caller does to the values afterwards is
// no business of the sample.
func TestRunningKeepsNoReference(t *testing.T) {
	data := []float64{1, 2, 3}
	r := Of(data)
	data[0] = 1e9
	require.Equal(t, 2.0, r.Mean())
	require.Equal(t, 1.0, r.Variance())
	r.Add(6)
	require.Equal(t, 3.0, r.Mean(), "asking does not end the sample")
	require.Equal(t, 4, r.N())
}
