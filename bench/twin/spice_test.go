package twin

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/circuit/spice"
	"sinkproof/bench/wiring"
)

// against compares the circuit of the twin with ngspice on the same netlist:
// the DC solution to 0.1 % + 1 mV, and the next 20 ms to 1 % + 5 mV.
func against(t *testing.T, w *Twin, name string) {
	sim, err := w.Truth().Circuit().Clone()
	require.NoError(t, err, name)
	waves, err := spice.Compare(sim, 20e-3, 1e-3)
	require.NoError(t, err, name)
	require.LessOrEqual(t, waves.Of, 1.0, "%s in time: %v", name, waves)
	rest, err := spice.CompareDC(sim)
	require.NoError(t, err, name)
	require.LessOrEqual(t, rest.Of, 1.0, "%s at rest: %v", name, rest)
}

// enter takes the relays of a state, the feed last, as the bench does, and
// stops just after its contact has landed: the capacitors are charging.
func enter(t *testing.T, w *Twin, s wiring.State) {
	drive(t, w, 700*time.Millisecond)
	drive(t, w, 30*time.Millisecond, s.On...)
	if len(s.Feed) > 0 {
		drive(t, w, 1200*time.Microsecond, slices.Concat(s.On, s.Feed)...)
	}
}

func TestEveryConditionAgainstNgspice(t *testing.T) {
	t.Parallel()
	w := newTwin(t, "hand-lamp", 5)
	rig := w.config.Wiring
	for i, c := range rig.Conditions {
		s, err := rig.Expand(wiring.Setting{Condition: c.Name})
		require.NoError(t, err)
		require.NoError(t, w.Seat("good"))
		enter(t, w, s)
		against(t, w, c.Name+", good, entering")
		require.NoError(t, w.Truth().Pass(500*time.Millisecond))
		against(t, w, c.Name+", good, settled")
		// A different fault in each condition, its severity drawn.
		f := Fault{Name: Faults()[i%len(Faults())].Name}
		require.NoError(t, w.Seat("bad", f))
		enter(t, w, s)
		require.NoError(t, w.Truth().Pass(300*time.Millisecond))
		against(t, w, c.Name+", "+f.Name)
	}
}

func TestEveryFaultAgainstNgspice(t *testing.T) {
	t.Parallel()
	w := newTwin(t, "hand-lamp", 6)
	rig := w.config.Wiring
	s, err := rig.Expand(wiring.Setting{Condition: "legacy-a", Axes: []wiring.AxisChoice{{Axis: "cell", Value: "3.7 V"}}})
	require.NoError(t, err)
	for _, d := range Faults() {
		require.NoError(t, w.Seat("bad", Fault{Name: d.Name}))
		enter(t, w, s)
		require.NoError(t, w.Truth().Pass(200*time.Millisecond))
		against(t, w, d.Name)
	}
}
