package proportion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/published"
	"sinkproof/reports/quality/law"
)

func TestPublishedIntervals(t *testing.T) {
	published.Each(t, "07", "interval_", func(t *testing.T, c published.Case) {
		var in struct {
			X, N       int
			Confidence float64
		}
		var want struct {
			Estimate       float64
			ClopperPearson [2]float64 `json:"clopper_pearson"`
			Wilson         [2]float64
			Jeffreys       [2]float64
			AgrestiCoull   [2]float64 `json:"agresti_coull"`
			Upper          float64    `json:"upper_one_sided_clopper_pearson"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		abs := c.Named(t, "absolute")
		got := Summarize(in.X, in.N, in.Confidence)
		published.Absolute(t, want.Estimate, got.Estimate, abs, "estimate")
		near(t, want.ClopperPearson, got.ClopperPearson, abs, "Clopper-Pearson")
		near(t, want.Wilson, got.Wilson, abs, "Wilson")
		near(t, want.Jeffreys, got.Jeffreys, abs, "Jeffreys")
		near(t, want.AgrestiCoull, AgrestiCoull(in.X, in.N, in.Confidence), abs, "Agresti-Coull")
		published.Absolute(t, want.Upper, UpperBound(in.X, in.N, in.Confidence), abs, "upper bound")
	})
}

func near(t *testing.T, want [2]float64, got quality.Interval, abs float64, what string) {
	t.Helper()
	published.Absolute(t, want[0], got.Low, abs, what+" low")
	published.Absolute(t, want[1], got.High, abs, what+" high")
}

func TestPublishedBinomialTests(t *testing.T) {
	published.Each(t, "07", "binom_test_", func(t *testing.T, c published.Case) {
		var in struct {
			X, N int
			P0   float64
		}
		var want struct {
			TwoSided float64 `json:"p_two_sided_minlike"`
			Less     float64 `json:"p_less"`
			Greater  float64 `json:"p_greater"`
			Score    float64 `json:"z_score"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		got := Against(in.X, in.N, in.P0)
		published.Relative(t, want.TwoSided, got.TwoSided, rel, "two-sided")
		published.Relative(t, want.Less, got.Less, rel, "less")
		published.Relative(t, want.Greater, got.Greater, rel, "greater")
		published.Relative(t, want.Score, got.Score, rel, "score")
	})
}

// TestTwoSidedBySumming: the second way is the definition itself.
func TestTwoSidedBySumming(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "n")
		bad := rapid.IntRange(0, n).Draw(t, "bad")
		p0 := rapid.Float64Range(0.01, 0.99).Draw(t, "p0")
		b := law.Binomial{N: n, P: p0}
		sum := 0.0
		for k := 0; k <= n; k++ {
			if b.Mass(k) <= b.Mass(bad)*likelier {
				sum += b.Mass(k)
			}
		}
		require.InDelta(t, math.Min(1, sum), Against(bad, n, p0).TwoSided, 1e-11)
	})
}

// TestClopperPearsonDefinition: at each end the tail is half the risk.
func TestClopperPearsonDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 100_000).Draw(t, "n")
		bad := rapid.IntRange(0, n).Draw(t, "bad")
		confidence := rapid.Float64Range(0.5, 0.9999).Draw(t, "confidence")
		i := ClopperPearson(bad, n, confidence)
		risk := (1 - confidence) / 2
		if bad > 0 {
			require.InEpsilon(t, risk, law.Binomial{N: n, P: i.Low}.Above(bad-1), 1e-7)
		}
		if bad < n {
			require.InEpsilon(t, risk, law.Binomial{N: n, P: i.High}.CDF(bad), 1e-7)
		}
	})
}

func TestIntervalsMirror(t *testing.T) {
	for name, f := range map[string]func(int, int, float64) quality.Interval{
		"Clopper-Pearson": ClopperPearson, "Wilson": Wilson, "Jeffreys": Jeffreys, "Agresti-Coull": AgrestiCoull,
	} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				n := rapid.IntRange(1, 5000).Draw(t, "n")
				bad := rapid.IntRange(0, n).Draw(t, "bad")
				a, b := f(bad, n, 0.95), f(n-bad, n, 0.95)
				require.InDelta(t, a.Low, 1-b.High, 1e-12)
				require.InDelta(t, a.High, 1-b.Low, 1e-12)
				require.True(t, a.Contains(Estimate(bad, n)))
				if name == "Agresti-Coull" {
					return // not even nested for one unit
				}
				wider := f(bad, n, 0.99)
				require.LessOrEqual(t, wider.Low, a.Low)
				require.GreaterOrEqual(t, wider.High, a.High)
			})
		})
	}
}

// TestCoverage: Clopper-Pearson must cover at every fraction (its defining
// property); Wilson may fall short, and does.
func TestCoverage(t *testing.T) {
	const n, confidence = 40, 0.95
	leastExact, leastWilson := 1.0, 1.0
	for p := 0.005; p < 1; p += 0.005 {
		exact, wilson := 0.0, 0.0
		for k := 0; k <= n; k++ {
			m := law.Binomial{N: n, P: p}.Mass(k)
			if ClopperPearson(k, n, confidence).Contains(p) {
				exact += m
			}
			if Wilson(k, n, confidence).Contains(p) {
				wilson += m
			}
		}
		leastExact, leastWilson = math.Min(leastExact, exact), math.Min(leastWilson, wilson)
	}
	require.GreaterOrEqual(t, leastExact, confidence)
	require.Less(t, leastWilson, confidence)
	require.Greater(t, leastWilson, 0.83)
}

// TestSuccessRun: 59 units without a failure show 95 % reliability at 95 %
// confidence, the textbook number (distribution-free tolerance limits).
func TestSuccessRun(t *testing.T) {
	require.Greater(t, UpperBound(0, 58, 0.95), 0.05)
	require.LessOrEqual(t, UpperBound(0, 59, 0.95), 0.05)
	require.InDelta(t, 1-UpperBound(0, 59, 0.95), LowerBound(59, 59, 0.95), 1e-15)
	require.Equal(t, 0.0, LowerBound(0, 59, 0.95))
}

func TestOutsideTheDomain(t *testing.T) {
	for name, c := range map[string]struct {
		bad, n     int
		confidence float64
	}{
		"nothing tested":     {0, 0, 0.95},
		"negative":           {-1, 5, 0.95},
		"more bad than n":    {6, 5, 0.95},
		"certainty":          {1, 5, 1},
		"no confidence":      {1, 5, 0},
		"confidence percent": {1, 5, 95},
		"confidence NaN":     {1, 5, math.NaN()},
	} {
		t.Run(name, func(t *testing.T) {
			for _, f := range []func(int, int, float64) quality.Interval{ClopperPearson, Wilson, Jeffreys, AgrestiCoull} {
				require.False(t, f(c.bad, c.n, c.confidence).Defined())
			}
			require.True(t, math.IsNaN(UpperBound(c.bad, c.n, c.confidence)))
			require.True(t, math.IsNaN(LowerBound(c.bad, c.n, c.confidence)))
			require.True(t, math.IsNaN(Against(c.bad, c.n, c.confidence).TwoSided))
		})
	}
	require.True(t, math.IsNaN(Estimate(1, 0)))
}

func BenchmarkClopperPearson(b *testing.B) {
	for b.Loop() {
		ClopperPearson(17, 3000, 0.95)
	}
}
