package spread

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
)

// TestWithinMethodsAgree on a stable process, for unequal sizes as well, and
// see through shifts between subgroups.
func TestWithinMethodsAgree(t *testing.T) {
	source := rand.New(rand.NewPCG(9, 2))
	var groups [][]float64
	for k := range 300 {
		g := make([]float64, 2+k%6)
		shift := float64(k % 3)
		for i := range g {
			g[i] = 10 + 5*shift + 0.5*source.NormFloat64()
		}
		groups = append(groups, g)
	}
	for _, m := range []Method{Pooled, PooledUnbiased, MeanRange, MeanDeviation} {
		s, err := Within(groups, m)
		require.NoError(t, err)
		require.InDelta(t, 0.5, s.SD, 0.03, m.String())
		require.InDelta(t, 1050, s.DF, 115, m.String()) // ranges are worth a tenth less
	}
	moving, err := Within(groups, MovingRange)
	require.NoError(t, err)
	require.Greater(t, moving.SD, 0.7, "neighbours of different subgroups stand far apart")
}

// TestMovingRangeWorth: the spread of the estimate itself, simulated.
func TestMovingRangeWorth(t *testing.T) {
	source := rand.New(rand.NewPCG(4, 4))
	const rounds, n = 2000, 25
	var sum, square float64
	var worth Estimate
	for range rounds {
		g := make([]float64, n)
		for i := range g {
			g[i] = source.NormFloat64()
		}
		s, err := Within([][]float64{g}, MovingRange)
		require.NoError(t, err)
		sum += s.SD
		square += s.SD * s.SD
		worth = s
	}
	mean := sum / rounds
	require.InDelta(t, 1, mean, 0.02)
	variance := (square/rounds - mean*mean) / (mean * mean)
	require.InEpsilon(t, law.Degrees(variance), worth.DF, 0.1)
}

func TestGroupsThatCannotBeCompared(t *testing.T) {
	_, err := Within([][]float64{{1, 2}, {math.Inf(1), 1}}, MeanRange)
	require.ErrorContains(t, err, "subgroup 2: value 1 is +Inf")
	_, err = Within([][]float64{{1}}, MovingRange)
	require.ErrorIs(t, err, quality.ErrSample)
	_, err = Within([][]float64{{1}, {2}}, Pooled)
	require.ErrorContains(t, err, "no subgroup holds two values")
}

func TestMethodNames(t *testing.T) {
	require.Equal(t, "mean range", MeanRange.String())
	require.Equal(t, "method 9", Method(9).String())
}

func BenchmarkWithin(b *testing.B) {
	groups := make([][]float64, 1000)
	source := rand.New(rand.NewPCG(1, 1))
	for i := range groups {
		for range 5 {
			groups[i] = append(groups[i], source.NormFloat64())
		}
	}
	for b.Loop() {
		if _, err := Within(groups, MeanRange); err != nil {
			b.Fatal(err)
		}
	}
}
