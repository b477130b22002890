package proportion

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestNeededTable: units with 0, 1, 2 and 3 failures for a fraction of 5 % at 95 %
// and of 10 % at 90 % (binomial nomograph and demonstration tables; from memory,
// and the first two of the 90 % row as in the published cases).
func TestNeededTable(t *testing.T) {
	for bad, n := range []int{59, 93, 124, 153} {
		require.Equal(t, n, Needed(bad, 0.05, 0.95), "%d bad", bad)
	}
	for bad, n := range []int{22, 38, 52, 65} {
		require.Equal(t, n, Needed(bad, 0.10, 0.90), "%d bad", bad)
	}
}

// TestNeededIsSmallest: one unit fewer shows less.
func TestNeededIsSmallest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bad := rapid.IntRange(0, 20).Draw(t, "bad")
		limit := rapid.Float64Range(0.002, 0.5).Draw(t, "limit")
		confidence := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		n := Needed(bad, limit, confidence)
		require.LessOrEqual(t, UpperBound(bad, n, confidence), limit)
		if n > bad+1 {
			require.Greater(t, UpperBound(bad, n-1, confidence), limit)
		}
		require.Greater(t, Needed(bad+1, limit, confidence), n)
	})
	require.Zero(t, Needed(-1, 0.1, 0.9))
	require.Zero(t, Needed(0, 0, 0.9))
	require.Zero(t, Needed(0, 0.1, 1))
	require.Zero(t, Needed(0, 1e-12, 0.9), "more than can be counted")
}
