//go:build !race

package main

import (
	"fmt"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
)

// A reading is off by as much as it states, on whatever rig: over many rigs and units
// the square mean of error over standard uncertainty is about one (JCGM 100:2008,
// 2.3.1), and less where what is stated are limits. A converter that is faster than its
// driver believes loses conversions without a trace, and the mean with it.
func TestSweepReadingsAreAsUncertainAsTheySay(t *testing.T) {
	for _, c := range []struct {
		product, reading, truth string
		least, most             float64
	}{
		{defaultProduct, "seat.capacitance", twin.DrawnCapacitance, 0.85, 1.15},
		{"desk-sensor", "legacy-i[normal]", twin.DrawnCurrent, 0.5, 1.15},
	} {
		t.Run(c.product+"/"+c.reading, func(t *testing.T) {
			p, err := load(defaultRig, c.product, defaultScenario, io.Discard)
			require.NoError(t, err)
			var m *twin.Memory
			sum, n := 0.0, 0
			for rig := range uint64(60) {
				l, err := newLineIn(t.Context(), p, 1000+rig, m)
				require.NoError(t, err)
				for i := range 6 {
					var truth map[string]float64
					run, err := l.take(t.Context(), fmt.Sprintf("C-%02d-%d", rig, i), func(u twin.Truth) { truth = u.Drawn() })
					require.NoError(t, err)
					for _, got := range run.Readings {
						if got.Name == c.reading {
							off := (got.Value.Value - truth[c.truth]) / (got.U / 2)
							require.Less(t, math.Abs(off), 3.5, "rig %d, unit %d: %g against %g, U %g", rig, i, got.Value.Value, truth[c.truth], got.U)
							sum, n = sum+off*off, n+1
						}
					}
				}
				require.NoError(t, l.rig.Close())
				m = l.sim.twin.Retire()
			}
			require.Equal(t, 360, n)
			mean := math.Sqrt(sum / float64(n))
			require.GreaterOrEqual(t, mean, c.least)
			require.LessOrEqual(t, mean, c.most)
		})
	}
}
