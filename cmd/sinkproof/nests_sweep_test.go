//go:build !race

package main

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/record"
)

// nestUnits are units for so many nests: every other one good, the rest with
// each fault in turn.
func nestUnits(nests, each int) [][]nestUnit {
	units, faults, n := make([][]nestUnit, nests), twin.Faults(), 0
	for i := range units {
		for k := range each {
			u := nestUnit{serial: fmt.Sprintf("N%d-%02d", i+1, k+1)}
			if k%2 == 1 {
				u.faults = []twin.Fault{{Name: faults[n%len(faults)].Name}}
				n++
			}
			units[i] = append(units[i], u)
		}
	}
	return units
}

// TestSweepNestsSideBySide: four nests at 400 kHz do at least 3.5 times what one
// does, every unit is judged as it is alone, and twice the same is done. At
// 100 kHz the buses are full: a unit may go without a verdict, but none gets the
// wrong one.
func TestSweepNestsSideBySide(t *testing.T) {
	p := shippedPapers(t)
	units := nestUnits(4, 10)
	fast, err := studyNests(t.Context(), p, 7, 400e3, units)
	require.NoError(t, err)
	require.GreaterOrEqual(t, fast.Times, 3.5)
	require.Empty(t, fast.Differences)
	require.Greater(t, fast.Load, 3.5*fast.OneLoad)
	again, err := studyNests(t.Context(), p, 7, 400e3, units)
	require.NoError(t, err)
	require.Equal(t, fast, again)
	slow, err := studyNests(t.Context(), p, 7, 100e3, units)
	require.NoError(t, err)
	require.Greater(t, slow.Load, 0.95, "the buses are full")
	for _, d := range slow.Differences {
		require.Contains(t, d, "side by side "+string(record.None))
	}
	t.Logf("400 kHz: %+v", fast)
	t.Logf("100 kHz: %+v", slow)
}
