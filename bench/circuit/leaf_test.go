package circuit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// A divider's tap follows by its ratio, and loads what it hangs on: 5 V behind
// 1 kΩ, 1 MΩ in two halves, and 1 µF that charges through all of it.
func TestTapFollowsByItsRatio(t *testing.T) {
	n := New()
	a, tap := n.Node("a"), n.Node("tap")
	n.VoltageSource("supply", a, Ground, 5, 1e3)
	n.Resistor("top", a, tap, 600e3)
	n.Resistor("bottom", tap, Ground, 400e3)
	n.Resistor("input", tap, Ground, 1e9)
	n.Capacitor("c", a, Ground, 1e-6, 0)
	s, err := n.Start()
	require.NoError(t, err)
	bottom := 1 / (1/400e3 + 1/1e9)
	load := 600e3 + bottom
	end, tau := 5*load/(load+1e3), 1e-6/(1/1e3+1/load)
	for _, at := range []float64{1e-4, 1e-3, 5e-3} {
		_, err := s.AdvanceTo(at)
		require.NoError(t, err)
		want := end * (1 - math.Exp(-at/tau))
		require.InEpsilon(t, want, s.Volts(a), 1e-9)
		require.InEpsilon(t, want*bottom/load, s.Volts(tap), 1e-9)
	}
	require.Len(t, s.shapeOf(s.part, tap).active.leaves, 1, "the tap has no place among the variables")
}

// A clamp at the tap that begins to conduct makes it a node like any other.
func TestTapWithAClampThatConducts(t *testing.T) {
	n := New()
	a, tap := n.Node("a"), n.Node("tap")
	n.VoltageSource("supply", a, Ground, 12, 1e3)
	n.Resistor("top", a, tap, 1e3)
	n.Resistor("bottom", tap, Ground, 10e3)
	n.Clamp("clamp", tap, Ground, 5.1, 10)
	s, err := n.Start()
	require.NoError(t, err)
	v := s.Volts(tap)
	require.InDelta(t, 12-v, 2e3*(v/10e3+(v-5.1)/10), 1e-9)
	require.Empty(t, s.shapeOf(s.part, tap).active.leaves)
}
