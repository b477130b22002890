package lifetime

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/published"
)

type quantile struct {
	Estimate float64
	CI       [2]float64 `json:"ci95_log_normal_approx"`
}

// TestPublishedWeibull: the handbook prints shape 1.7208 and scale 606.5280.
func TestPublishedWeibull(t *testing.T) {
	published.Each(t, "11", "weibull_", func(t *testing.T, c published.Case) {
		var in struct {
			Time   []float64
			Failed []int
		}
		var want struct {
			Shape, Scale  float64
			LogLikelihood float64 `json:"log_likelihood"`
			B10, B50, B1  quantile
			ShapeCI       [2]float64 `json:"shape_ci95_log_normal_approx"`
			Half          float64    `json:"reliability_at_half_scale"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel, wide := c.Named(t, "relative"), c.Named(t, "interval_relative")
		var lives []Life
		for i, at := range in.Time {
			lives = append(lives, Life{at, in.Failed[i] == 1})
		}
		w, err := Fit(lives)
		require.NoError(t, err)
		published.Relative(t, want.Shape, w.Shape, rel, "shape")
		published.Relative(t, want.Scale, w.Scale, rel, "scale")
		published.Relative(t, want.LogLikelihood, w.LogLikelihood, rel, "log-likelihood")
		published.Relative(t, want.Half, w.Reliability(w.Scale/2), rel, "reliability")
		for p, q := range map[float64]quantile{0.1: want.B10, 0.5: want.B50, 0.01: want.B1} {
			published.Relative(t, q.Estimate, w.Life(p), rel, "life")
			i := w.LifeInterval(p, 0.95)
			published.Relative(t, q.CI[0], i.Low, wide, "life low")
			published.Relative(t, q.CI[1], i.High, wide, "life high")
		}
		i := w.ShapeInterval(0.95)
		published.Relative(t, want.ShapeCI[0], i.Low, wide, "shape low")
		published.Relative(t, want.ShapeCI[1], i.High, wide, "shape high")
	})
}

func TestPublishedMTBF(t *testing.T) {
	published.Each(t, "11", "mtbf_", func(t *testing.T, c published.Case) {
		var in struct {
			Total      float64 `json:"total_time"`
			Failures   int
			Confidence float64
			Truncation string
		}
		var want struct {
			MTBF  *float64
			Low   float64  `json:"two_sided_lower"`
			High  *float64 `json:"two_sided_upper"`
			Bound float64  `json:"lower_one_sided"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		ended := map[string]Truncation{"time": ByTime, "failure": ByFailure}[in.Truncation]
		got := Between(in.Total, in.Failures, ended, in.Confidence)
		published.Relative(t, want.Low, got.Low, rel, "low")
		published.Relative(t, want.Bound, got.LowerBound, rel, "bound")
		if want.MTBF == nil {
			require.True(t, math.IsNaN(got.Estimate) && math.IsInf(got.High, 1))
			return
		}
		published.Relative(t, *want.MTBF, got.Estimate, rel, "estimate")
		published.Relative(t, *want.High, got.High, rel, "high")
	})
}

func TestPublishedRuns(t *testing.T) {
	for _, prefix := range []string{"success_run_", "demonstration_"} {
		published.Each(t, "11", prefix, func(t *testing.T, c published.Case) {
			in := struct {
				Reliability, Confidence float64
				Ratio                   float64 `json:"test_time_over_required_life"`
				Shape                   float64 `json:"weibull_shape"`
				Failures                int     `json:"failures_allowed"`
			}{Ratio: 1, Shape: 1}
			var want struct {
				N       int
				Reached *float64 `json:"confidence_reached"`
			}
			published.Load(t, c.Input, &in)
			published.Load(t, c.Expect, &want)
			n, reached := Run(in).Units()
			require.Equal(t, want.N, n)
			if want.Reached != nil {
				published.Absolute(t, *want.Reached, reached, c.Named(t, "confidence_absolute"), "confidence")
			}
		})
	}
}

// simulated draws lives, censored at end.
func simulated(source *rand.Rand, n int, shape, scale, end float64) []Life {
	lives := make([]Life, n)
	for i := range lives {
		t := scale * math.Pow(source.ExpFloat64(), 1/shape)
		lives[i] = Life{math.Min(t, end), t <= end}
	}
	return lives
}

// TestIntervalsCover: in large samples nine times in ten.
func TestIntervalsCover(t *testing.T) {
	source := rand.New(rand.NewPCG(3, 3))
	const rounds, shape, scale = 500, 1.8, 1000.0
	b10 := scale * math.Pow(-math.Log(0.9), 1/shape)
	var life, form float64
	for range rounds {
		w, err := Fit(simulated(source, 120, shape, scale, 900))
		require.NoError(t, err)
		if w.LifeInterval(0.1, 0.9).Contains(b10) {
			life += 1.0 / rounds
		}
		if w.ShapeInterval(0.9).Contains(shape) {
			form += 1.0 / rounds
		}
	}
	require.InDelta(t, 0.9, life, 0.055)
	require.InDelta(t, 0.9, form, 0.055)
}

// TestFitScales: in other units the shape stays and the scale follows.
func TestFitScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		source := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		lives := simulated(source, 20, rapid.Float64Range(0.5, 6).Draw(t, "shape"), 1, 1.1)
		unit := rapid.Float64Range(1e-3, 1e6).Draw(t, "unit")
		a, err := Fit(lives)
		if err != nil {
			require.ErrorIs(t, err, quality.ErrSample)
			return
		}
		for i := range lives {
			lives[i].Time *= unit
		}
		b, err := Fit(lives)
		require.NoError(t, err)
		require.InEpsilon(t, a.Shape, b.Shape, 1e-9)
		require.InEpsilon(t, a.Scale*unit, b.Scale, 1e-9)
		require.InEpsilon(t, 0.9, b.Reliability(b.Life(0.1)), 1e-12)
		require.True(t, b.LifeInterval(0.1, 0.9).Contains(b.Life(0.1)))
	})
}

// TestWeibullOfShapeOneIsChance: with a shape near 1 the mean is the total time
// over the failures.
func TestWeibullOfShapeOneIsChance(t *testing.T) {
	lives := simulated(rand.New(rand.NewPCG(8, 8)), 20_000, 1, 500, 700)
	w, err := Fit(lives)
	require.NoError(t, err)
	total := 0.0
	for _, l := range lives {
		total += l.Time
	}
	require.InEpsilon(t, total/float64(w.Failures), w.Mean(), 0.02)
	require.True(t, w.ShapeInterval(0.999).Contains(1))
}

// TestKaplanMeier: without censoring it is one minus the distribution function;
// with it, worked by hand.
func TestKaplanMeier(t *testing.T) {
	plain, err := KaplanMeier([]Life{{3, true}, {1, true}, {2, true}, {2, true}}, 0.95)
	require.NoError(t, err)
	require.Len(t, plain, 3)
	require.InDelta(t, 0.75, plain[0].Survival, 1e-15)
	require.InDelta(t, 0.25, plain[1].Survival, 1e-15)
	require.Zero(t, plain[2].Survival)
	require.False(t, plain[2].Defined())
	require.True(t, plain[1].Contains(0.25))
	some, err := KaplanMeier([]Life{{1, true}, {1, false}, {2, false}, {3, true}, {4, false}}, 0.95)
	require.NoError(t, err)
	require.Len(t, some, 2)
	require.Equal(t, 5, some[0].AtRisk, "censored at the failure: still at risk")
	require.InDelta(t, 0.8*0.5, some[1].Survival, 1e-15)
	_, err = KaplanMeier(nil, 0.95)
	require.ErrorIs(t, err, quality.ErrSample)
	_, err = KaplanMeier([]Life{{math.NaN(), true}}, 0.95)
	require.ErrorIs(t, err, quality.ErrSample)
}

func TestLivesThatCannotBeFitted(t *testing.T) {
	for name, lives := range map[string][]Life{
		"none": nil, "one failure": {{1, true}, {2, false}}, "same time": {{2, true}, {2, true}, {3, false}}, "no time": {{0, true}, {1, true}},
		"negative": {{-1, true}, {1, true}}, "hole": {{math.NaN(), true}, {1, true}}, "for ever": {{math.Inf(1), false}, {1, true}, {2, true}},
	} {
		_, err := Fit(lives)
		require.ErrorIs(t, err, quality.ErrSample, name)
	}
	w, err := Fit([]Life{{1, true}, {2, true}, {3, false}})
	require.NoError(t, err)
	require.Equal(t, 1.0, w.Reliability(-1))
	require.True(t, math.IsNaN(w.Life(0)))
	require.False(t, w.LifeInterval(0.1, 1).Defined() || w.LifeInterval(1, 0.9).Defined() || w.ShapeInterval(2).Defined())
	require.True(t, math.IsNaN(Between(0, 1, ByTime, 0.9).LowerBound))
	require.True(t, math.IsNaN(Between(10, 0, ByFailure, 0.9).LowerBound))
	n, reached := Run{Reliability: 1, Confidence: 0.9, Ratio: 1, Shape: 1}.Units()
	require.True(t, n == 0 && math.IsNaN(reached))
	n, _ = Run{Reliability: 0.99, Confidence: 0.9, Ratio: 1e-9, Shape: 3}.Units()
	require.Zero(t, n, "a test too short")
}

func BenchmarkFit(b *testing.B) {
	lives := simulated(rand.New(rand.NewPCG(1, 1)), 1000, 2, 100, 90)
	for b.Loop() {
		if _, err := Fit(lives); err != nil {
			b.Fatal(err)
		}
	}
}
