package lifetime

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestRemissionTimes: weeks in remission of 21 patients on 6-mercaptopurine
// (Freireich and others, Blood 21 (1963) 699), with the survivals that every
// textbook prints (from memory, agree to three decimals). Greenwood's standard
// error at 23 weeks is .1346.
func TestRemissionTimes(t *testing.T) {
	var lives []Life
	for _, at := range []float64{6, 6, 6, 7, 10, 13, 16, 22, 23} {
		lives = append(lives, Life{at, true})
	}
	for _, at := range []float64{6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35} {
		lives = append(lives, Life{at, false})
	}
	steps, err := KaplanMeier(lives, 0.95)
	require.NoError(t, err)
	want := []struct {
		time, survival float64
		risk, failed   int
	}{{6, 0.857, 21, 3}, {7, 0.807, 17, 1}, {10, 0.753, 15, 1}, {13, 0.690, 12, 1}, {16, 0.627, 11, 1}, {22, 0.538, 7, 1}, {23, 0.448, 6, 1}}
	require.Len(t, steps, len(want))
	for i, w := range want {
		s := steps[i]
		require.Equal(t, w.time, s.Time)
		require.Equal(t, []int{w.risk, w.failed}, []int{s.AtRisk, s.Failed})
		require.InDelta(t, w.survival, s.Survival, 6e-4)
		require.True(t, s.Contains(s.Survival))
	}
	// The log-log interval at 23 weeks, from .1346/(.448 |ln .448|) = .374 on its
	// scale: .448^exp(±1.96·.374).
	require.InDelta(t, 0.188, steps[6].Low, 2e-3)
	require.InDelta(t, 0.680, steps[6].High, 2e-3)
}

// TestZeroFailureTable: units without failure for a reliability and confidence
// (textbook success-run table; from memory).
func TestZeroFailureTable(t *testing.T) {
	for _, c := range []struct {
		reliability, confidence float64
		n                       int
	}{{0.9, 0.9, 22}, {0.95, 0.9, 45}, {0.99, 0.9, 230}, {0.9, 0.95, 29}, {0.95, 0.95, 59}, {0.99, 0.95, 299}, {0.999, 0.95, 2995}} {
		n, reached := Run{Reliability: c.reliability, Confidence: c.confidence, Ratio: 1, Shape: 1}.Units()
		require.Equal(t, c.n, n, "%+v", c)
		require.GreaterOrEqual(t, reached, c.confidence)
	}
}

// TestLongerTestsNeedFewerUnits where wear is trusted in.
func TestLongerTestsNeedFewerUnits(t *testing.T) {
	before := 1 << 30
	for _, ratio := range []float64{0.5, 1, 1.5, 2, 3} {
		n, _ := Run{Reliability: 0.95, Confidence: 0.9, Ratio: ratio, Shape: 2}.Units()
		require.Less(t, n, before, "ratio %v", ratio)
		before = n
	}
	some, _ := Run{Reliability: 0.95, Confidence: 0.9, Ratio: 1, Shape: 2, Failures: 2}.Units()
	none, _ := Run{Reliability: 0.95, Confidence: 0.9, Ratio: 1, Shape: 2}.Units()
	require.Greater(t, some, none)
}

func TestMoreTestingNarrowsLimits(t *testing.T) {
	few, many := Between(1000, 2, ByTime, 0.9), Between(50_000, 100, ByTime, 0.9)
	require.InDelta(t, few.Estimate, many.Estimate, 1e-9)
	require.Less(t, many.High/many.Low, few.High/few.Low)
	require.Less(t, few.Low, few.LowerBound, "a one-sided bound is the closer")
	require.Greater(t, Between(1000, 2, ByFailure, 0.9).Low, few.Low, "ending with a failure tells more")
}
