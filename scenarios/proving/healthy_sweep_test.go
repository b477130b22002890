//go:build !race && study

package proving_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Rigs drawn within their tolerances have no finding, with worst-case limits
// none at all.
func TestSweepHealthyRigsHaveNoFinding(t *testing.T) {
	for seed := range uint64(200) {
		got := selfTest(t, 1000+seed, true)
		require.Empty(t, got.Findings, "seed %d", 1000+seed)
		require.Less(t, got.Bench, 20*time.Second)
	}
}
