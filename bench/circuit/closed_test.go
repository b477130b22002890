package circuit_test

import (
	"math"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
)

// The step of an RC network is v = V(1-exp(-t/RC)): elementary circuit theory.
func TestStepOfOneResistorAndCapacitor(t *testing.T) {
	n := circuit.New()
	in, out := n.Node("in"), n.Node("out")
	n.VoltageSource("supply", in, circuit.Ground, 5, 1e-3)
	contact := n.Switch("contact", in, out, 1000)
	n.Capacitor("c", out, circuit.Ground, 1e-6, 1)
	s, err := n.Start()
	require.NoError(t, err)
	require.InDelta(t, 1, s.Volts(out), 1e-12)
	require.NoError(t, s.SetSwitch(contact, true))
	for _, at := range []float64{0, 1e-6, 1e-4, 1e-3, 5e-3, 1} {
		v, err := s.VoltsAt(out, at)
		require.NoError(t, err)
		want := 5 - 4*math.Exp(-at/(1000.001*1e-6))
		require.InDelta(t, want, v, 1e-9, "at %g s", at)
	}
	w := s.Watch(out, 3, true)
	fired, err := s.AdvanceTo(1)
	require.NoError(t, err)
	require.Equal(t, w, fired)
	require.InDelta(t, 1000.001e-6*math.Log(2), s.Now(), 1e-12)
	fired, err = s.AdvanceTo(1)
	require.NoError(t, err)
	require.EqualValues(t, -1, fired)
	require.Equal(t, 1.0, s.Now())
}

// A source with a limit into a capacitor: a ramp of I/C up to V-RI, then an
// exponential with RC.
func TestLimitedSupplyRampsThenSettles(t *testing.T) {
	n := circuit.New()
	out := n.Node("out")
	sup := n.LimitedSupply("supply", out, circuit.Ground, 5, 0.5, 2, false)
	n.Capacitor("c", out, circuit.Ground, 100e-6, 0)
	s, err := n.Start()
	require.NoError(t, err)
	require.Equal(t, "constant current", s.Segment(sup))
	corner := 4.0 * 100e-6 / 2
	for _, at := range []float64{1e-6, 1e-4, corner, corner + 1e-6, corner + 50e-6, 1e-3, 1} {
		_, err := s.AdvanceTo(at)
		require.NoError(t, err)
		want := 2 * at / 100e-6
		if at > corner {
			want = 5 - math.Exp(-(at-corner)/50e-6)
		}
		require.InDelta(t, want, s.Volts(out), 1e-8, "at %g s", at)
	}
	require.Equal(t, "constant voltage", s.Segment(sup))
}
