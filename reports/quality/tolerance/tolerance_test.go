package tolerance

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"sinkproof/reports/quality/internal/published"
	"sinkproof/reports/quality/law"
)

func TestPublishedFactors(t *testing.T) {
	published.Each(t, "08", "k_P", func(t *testing.T, c published.Case) {
		var in struct {
			P, Confidence float64
			N             []int
		}
		var want struct {
			One  []float64 `json:"k_one_sided_exact"`
			Two  []float64 `json:"k_two_sided_exact"`
			Howe []float64 `json:"k_two_sided_howe"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		exact, howe := c.Named(t, "exact_relative"), c.Named(t, "howe_relative")
		for i, n := range in.N {
			published.Relative(t, want.One[i], OneSided(n, in.P, in.Confidence), exact, "one-sided")
			published.Relative(t, want.Two[i], TwoSided(n, in.P, in.Confidence), exact, "two-sided")
			published.Relative(t, want.Howe[i], TwoSidedHowe(n, in.P, in.Confidence), howe, "Howe")
		}
	})
}

func TestPublishedHandbookExample(t *testing.T) {
	published.Each(t, "08", "nist_example", func(t *testing.T, c published.Case) {
		var in struct {
			N             int
			P, Confidence float64
		}
		var want struct {
			Howe     float64    `json:"k_two_sided_howe"`
			Two      float64    `json:"k_two_sided_exact"`
			One      float64    `json:"k_one_sided_exact"`
			Natrella float64    `json:"k_one_sided_natrella"`
			Interval [2]float64 `json:"interval_two_sided_howe"`
			Upper    float64    `json:"upper_one_sided_natrella"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		howe, natrella := TwoSidedHowe(in.N, in.P, in.Confidence), OneSidedNatrella(in.N, in.P, in.Confidence)
		published.Relative(t, want.Howe, howe, rel, "Howe")
		published.Relative(t, want.Natrella, natrella, rel, "Natrella")
		published.Relative(t, want.Two, TwoSided(in.N, in.P, in.Confidence), rel, "two-sided")
		published.Relative(t, want.One, OneSided(in.N, in.P, in.Confidence), rel, "one-sided")
		const mean, sd = 97.07, 0.0268 // as the case states
		published.Absolute(t, want.Interval[0], Limits(mean, sd, howe).Low, 1e-4, "low")
		published.Absolute(t, want.Interval[1], Limits(mean, sd, howe).High, 1e-4, "high")
		published.Absolute(t, want.Upper, Limits(mean, sd, natrella).High, 1e-4, "upper")
	})
}

func TestPublishedSizes(t *testing.T) {
	published.Each(t, "08", "distribution_free", func(t *testing.T, c published.Case) {
		var in struct{ P, Confidence float64 }
		var want struct {
			One int `json:"n_one_sided_extreme_value"`
			Two int `json:"n_two_sided_min_max"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		require.Equal(t, want.One, ExtremeSize(in.P, in.Confidence))
		require.Equal(t, want.Two, RangeSize(in.P, in.Confidence))
		// By the textbook formulas: 1 - P^n and 1 - nP^(n-1) + (n-1)P^n.
		n := float64(want.Two)
		published.Relative(t, 1-n*math.Pow(in.P, n-1)+(n-1)*math.Pow(in.P, n), Confidence(want.Two, 2, in.P), 1e-10, "confidence")
		published.Relative(t, 1-math.Pow(in.P, float64(want.One)), Confidence(want.One, 1, in.P), 1e-10, "confidence")
		require.Equal(t, 1, Dropped(want.One, in.P, in.Confidence))
		require.Equal(t, 0, Dropped(want.One-1, in.P, in.Confidence))
		require.Equal(t, 2, Dropped(want.Two, in.P, in.Confidence))
	})
}

// TestFactorsHoldWhatTheyPromise: limits of simulated samples hold the
// coverage about as often as the confidence says.
func TestFactorsHoldWhatTheyPromise(t *testing.T) {
	source := rand.New(rand.NewPCG(12, 34))
	const rounds, n, coverage, confidence = 3000, 12, 0.95, 0.9
	one, two := OneSided(n, coverage, confidence), TwoSided(n, coverage, confidence)
	var oneHeld, twoHeld float64
	for range rounds {
		data := make([]float64, n)
		for i := range data {
			data[i] = source.NormFloat64()
		}
		mean, sd := stat.MeanStdDev(data, nil)
		if law.Phi(Limits(mean, sd, one).High) >= coverage {
			oneHeld += 1.0 / rounds
		}
		if l := Limits(mean, sd, two); law.Phi(l.High)-law.Phi(l.Low) >= coverage {
			twoHeld += 1.0 / rounds
		}
	}
	require.InDelta(t, confidence, oneHeld, 0.022)
	require.InDelta(t, confidence, twoHeld, 0.022)
}

func TestFactorsAreOrdered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 2000).Draw(t, "n")
		p := rapid.Float64Range(0.5, 0.999).Draw(t, "coverage")
		c := rapid.Float64Range(0.5, 0.99).Draw(t, "confidence")
		k := TwoSided(n, p, c)
		require.Greater(t, k, OneSided(n, p, c), "two limits hold less than one")
		require.Less(t, TwoSided(n+1, p, c), k, "more units, less doubt")
		require.Greater(t, TwoSided(n, p+(1-p)/2, c), k)
	})
}

func TestManyUnitsLeaveOnlyTheQuantile(t *testing.T) {
	require.InDelta(t, 1.959964, TwoSided(4_000_000, 0.95, 0.5), 1e-4)
	require.InDelta(t, 1.644854, OneSided(4_000_000, 0.95, 0.5), 1e-4)
}

func TestOutsideTheDomain(t *testing.T) {
	for name, f := range map[string]func(int, float64, float64) float64{
		"one": OneSided, "two": TwoSided, "Howe": TwoSidedHowe, "Natrella": OneSidedNatrella,
	} {
		require.True(t, math.IsNaN(f(1, 0.9, 0.9)), name)
		require.True(t, math.IsNaN(f(5, 1, 0.9)), name)
		require.True(t, math.IsNaN(f(5, 0.9, 95)), name)
	}
	require.True(t, math.IsNaN(OneSidedNatrella(3, 0.9, 0.999)), "more confidence than three units give")
	require.True(t, math.IsNaN(Confidence(3, 4, 0.9)))
	require.True(t, math.IsNaN(Confidence(3, 1, 1.5)))
	require.Zero(t, ExtremeSize(1, 0.9))
	require.Zero(t, RangeSize(0.9, 0))
	require.Zero(t, Dropped(0, 0.9, 0.9))
}

func BenchmarkTwoSided(b *testing.B) {
	for b.Loop() {
		TwoSided(30, 0.99, 0.95)
	}
}
