//go:build !race

package main

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
)

// What the probe says of the capacitance is off by as much as it states, on whatever
// rig: over many rigs and units the square mean of error over standard uncertainty is
// one (JCGM 100:2008, 2.3.1). A converter that is faster than its driver believes
// loses conversions without a trace, and the mean with it.
func TestSweepCapacitanceIsAsUncertainAsItSays(t *testing.T) {
	p := shippedPapers(t)
	var m *twin.Memory
	sum, n := 0.0, 0
	for rig := range uint64(60) {
		l, err := newLineIn(t.Context(), p, 1000+rig, m)
		require.NoError(t, err)
		for i := range 6 {
			truth := 0.0
			run, err := l.take(t.Context(), fmt.Sprintf("C-%02d-%d", rig, i), func(u twin.Truth) {
				unit, _ := u.Unit()
				truth = unit.Capacitance
			})
			require.NoError(t, err)
			for _, c := range run.Readings {
				if c.Name == "seat.capacitance" {
					off := (c.Value.Value - truth) / (c.U / 2)
					require.Less(t, math.Abs(off), 3.5, "rig %d, unit %d: %g F against %g F, U %g F", rig, i, c.Value.Value, truth, c.U)
					sum, n = sum+off*off, n+1
				}
			}
		}
		require.NoError(t, l.rig.Close())
		m = l.sim.twin.Retire()
	}
	require.Equal(t, 360, n)
	require.InDelta(t, 1, math.Sqrt(sum/float64(n)), 0.15)
}
