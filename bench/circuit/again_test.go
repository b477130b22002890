package circuit_test

import (
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
)

// course charges a capacitor through a diode and opens and closes a contact;
// it returns what a meter sees on the way.
func course(t *testing.T, old *circuit.Sim, ohms float64) ([]float64, *circuit.Sim) {
	t.Helper()
	n := circuit.New()
	in, mid, out := n.Node("in"), n.Node("mid"), n.Node("out")
	n.LimitedSupply("supply", in, circuit.Ground, 5, 0.1, 0.5, false)
	contact := n.Switch("contact", in, mid, ohms)
	n.Diode("diode", mid, out, 0.4, 0.2, 1e-9)
	n.Resistor("leak", mid, circuit.Ground, 1e6)
	n.Resistor("load", out, circuit.Ground, 220)
	n.Capacitor("c", out, circuit.Ground, 10e-6, 0.2)
	s, err := n.StartIn(old)
	require.NoError(t, err)
	var seen []float64
	for i, at := range []float64{1e-5, 1e-4, 3e-4, 1e-3, 2e-3, 1e-2, 0.1} {
		require.NoError(t, s.SetSwitch(contact, i%3 != 2))
		_, err := s.AdvanceTo(at)
		require.NoError(t, err)
		seen = append(seen, s.Volts(in), s.Volts(mid), s.Volts(out))
	}
	return seen, s
}

// A Sim in the memory of another gives the same digits as one of its own.
func TestStartInUsedMemoryGivesTheSameDigits(t *testing.T) {
	want, used := course(t, nil, 0.08)
	for _, ohms := range []float64{0.2, 3, 0.08} {
		fresh, _ := course(t, nil, ohms)
		again, next := course(t, used, ohms)
		require.Equal(t, fresh, again)
		used = next
	}
	again, _ := course(t, used, 0.08)
	require.Equal(t, want, again)
}

// The rig of the benchmarks in the memory of a small network and the other
// way round: sizes must not matter.
func TestStartInMemoryOfAnotherNetwork(t *testing.T) {
	want, _ := course(t, nil, 0.08)
	r := newRig(t)
	for _, c := range r.contacts {
		require.NoError(t, r.SetSwitch(c, true))
		_, err := r.AdvanceTo(r.Now() + 1e-3)
		require.NoError(t, err)
	}
	again, _ := course(t, r.Sim, 0.08)
	require.Equal(t, want, again)
}

func TestStartInNeedsAGoodNetlist(t *testing.T) {
	_, used := course(t, nil, 0.08)
	n := circuit.New()
	n.Resistor("r", n.Node("a"), circuit.Ground, -1)
	_, err := n.StartIn(used)
	require.ErrorContains(t, err, "resistance")
}
