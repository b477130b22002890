package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A rig in the memory of another one, with other values and other faults, reads what
// it would in memory of its own.
func TestRetiredMemoryGivesTheSameDigits(t *testing.T) {
	k := newKit(t, "hand-lamp")
	play := func(seed uint64, m *Memory, faults ...Fault) (volts []float64, at time.Duration, left *Memory) {
		w, err := New(Config{Wiring: k.rig, Product: k.product, Seed: seed, Memory: m})
		require.NoError(t, err)
		for _, serial := range []string{"S1", "S2"} {
			require.NoError(t, w.Seat(serial, faults...))
			r := openRig(t, w)
			probed(t, r)
			for _, s := range wholeRun()[:4] {
				perform(t, r, s)
				row := make([]float64, w.sim.Nodes())
				w.sim.AllVolts(row)
				volts = append(volts, row...)
			}
			require.NoError(t, r.Close())
			w.Unseat()
		}
		at = w.Truth().Now()
		require.NoError(t, w.Truth().Err())
		return volts, at, w.Retire()
	}
	var used *Memory
	for seed, faults := range [][]Fault{nil, {{Name: "cc-short"}}, {{Name: "back-feed"}, {Name: "cc-gnd-short"}}, nil} {
		want, then, _ := play(uint64(seed), nil, faults...)
		var got []float64
		var at time.Duration
		got, at, used = play(uint64(seed), used, faults...)
		require.Equal(t, want, got)
		require.Equal(t, then, at)
	}
}
