//go:build !race

package ledger

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Full blocks and the last one are joined, over several openings, and a damaged one
// is refused and made anew.
func TestSweepColumnsOverBlocks(t *testing.T) {
	const n = 2*blockRuns + 100
	path := many(t, n)
	ctx, v := context.Background(), openValues(t, path)
	all := func(v *Values) {
		y, err := v.Yield(ctx, Question{})
		require.NoError(t, err)
		require.Equal(t, Yield{Runs: n, Passed: n - n/50 - 1, Failed: n/50 + 1, First: n, FirstPassed: n - n/50 - 1, Twin: n}, y)
		values := measured(t, v, Question{Check: "rd-cc1"})
		require.Len(t, values, n)
		for i, x := range values {
			require.EqualValues(t, i, x)
		}
		fails, err := v.Pareto(ctx, Question{})
		require.NoError(t, err)
		require.Equal(t, []Failing{{"rd-cc1", n/50 + 1}}, fails)
	}
	all(v)
	at := time.Date(2026, 5, 4, 7, 30, blockRuns+5, 0, time.UTC) // one run a second
	require.Equal(t, []float64{blockRuns + 5, blockRuns + 6}, measured(t, v, Question{Check: "rd-cc1", Since: at, Until: at.Add(2 * time.Second)}))
	require.NoError(t, v.Close())

	alterColumns("update blocks set data = zeroblob(length(data)) where number = 0 and col = 0")(t, path)
	v = openValues(t, path)
	_, err := v.Yield(ctx, Question{})
	require.ErrorIs(t, err, ErrColumnsDamaged)
	require.NoError(t, v.Close())
	all(openValues(t, path))
}

// A full block is held against the entries as the last one is.
func TestSweepColumnsOfManyAreVerified(t *testing.T) {
	path := many(t, blockRuns+3)
	verify(t, path, VerifyOpts{AllowTwin: true})
	forge(t, path, "update blocks set data = zeroblob(length(data)) where number = 0 and col = 0")
	_, err := tryVerify(t, path, VerifyOpts{AllowTwin: true})
	require.ErrorIs(t, err, ErrColumns)
}
