package circuit_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/circuit"
)

// A copy goes its own way: what is added to it, or charged in it, is not in the
// network that it was taken of, nor in another copy.
func TestCopiesShareNothing(t *testing.T) {
	n := circuit.New()
	in, out := n.Node("in"), n.Node("out")
	n.VoltageSource("supply", in, circuit.Ground, 6, 1e-3)
	n.Resistor("upper", in, out, 1e3)
	c := n.Capacitor("c", out, circuit.Ground, 1e-6, 0)
	n.Base()

	loaded, charged := n.CopyIn(nil), n.CopyIn(nil)
	require.Equal(t, out, loaded.Node("out"))
	id := loaded.Resistor("lower", out, loaded.Node("tap"), 1e3)
	loaded.Resistor("rest", loaded.Node("tap"), circuit.Ground, 1e3)
	charged.Charge(c, 4)
	require.Equal(t, id, charged.Resistor("lower", out, circuit.Ground, 2e3), "the next ID in both")

	volts := func(n *circuit.Netlist, at float64) float64 {
		s, err := n.Start()
		require.NoError(t, err)
		_, err = s.AdvanceTo(at)
		require.NoError(t, err)
		return s.Volts(out)
	}
	// Dividers of 1 kΩ over 2 kΩ at 6 V: 4 V in the end; without the lower part 6 V.
	require.Equal(t, 3, n.Nodes())
	require.Equal(t, 4, loaded.Nodes())
	require.InDelta(t, 0, volts(loaded, 0), 1e-12)
	require.InDelta(t, 4, volts(loaded, 1), 1e-4)
	require.InDelta(t, 4, volts(charged, 0), 1e-12)
	require.InDelta(t, 0, volts(n, 0), 1e-12)
	require.InDelta(t, 6, volts(n, 1), 1e-4)
}

// A copy in the memory of another is as good as one of its own, and what was started
// from the other goes on.
func TestCopyInTheMemoryOfAnother(t *testing.T) {
	n := circuit.New()
	in, out := n.Node("in"), n.Node("out")
	n.VoltageSource("supply", in, circuit.Ground, 6, 1e-3)
	n.Resistor("upper", in, out, 1e3)

	first := n.CopyIn(nil)
	first.Resistor("lower", out, first.Node("tap"), 1e3)
	first.Resistor("rest", first.Node("tap"), circuit.Ground, 1e3)
	running, err := first.Start()
	require.NoError(t, err)

	second := n.CopyIn(first)
	second.Resistor("lower", out, circuit.Ground, 3e3)
	other, err := second.Start()
	require.NoError(t, err)

	// 6 V over 1 kΩ and 2 kΩ, and over 1 kΩ and 3 kΩ.
	require.InDelta(t, 4, running.Volts(out), 1e-4)
	require.InDelta(t, 2, running.Volts(first.Node("tap")), 1e-4)
	require.InDelta(t, 4.5, other.Volts(out), 1e-4)
	require.Equal(t, "tap", first.NodeName(first.Node("tap")))
	require.Equal(t, 3, n.Nodes())
}
