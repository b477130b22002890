package circuit_test

import (
	"math"
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

// An RC step, v = V(1-exp(-t/RC)), crosses half of V at RC ln 2 (elementary
// circuit theory). How far ahead the Sim already knows that nothing happens must
// hide neither the crossing nor a watch that is set on the way.
func TestSmallStepsMeetWatchesSetOnTheWay(t *testing.T) {
	const tau, steps = 1e-3, 1000
	n := circuit.New()
	in, out := n.Node("in"), n.Node("out")
	n.VoltageSource("supply", in, circuit.Ground, 4, 1e-3)
	n.Resistor("r", in, out, 1e3-1e-3)
	n.Capacitor("c", out, circuit.Ground, 1e-6, 0)
	s, err := n.Start()
	require.NoError(t, err)
	half := s.Watch(out, 2, true)
	var late circuit.WatchID
	at := map[circuit.WatchID]float64{}
	for i := 1; i <= steps; i++ {
		to := 2 * tau * float64(i) / steps
		for {
			fired, err := s.AdvanceTo(to)
			require.NoError(t, err)
			if fired < 0 {
				break
			}
			require.NotContains(t, at, fired)
			at[fired] = s.Now()
		}
		if i == steps/2 {
			late = s.Watch(out, 3, true)
		}
	}
	require.InDelta(t, tau*math.Ln2, at[half], 1e-12)
	require.InDelta(t, tau*2*math.Ln2, at[late], 1e-12)
	require.Len(t, at, 2)
}
