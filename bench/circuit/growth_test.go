package circuit_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
)

// harness is a network of so many nodes as benches are wired: a chain of
// joints and leaks, with a capacitor at five places and a contact in the
// middle.
func harness(t testing.TB, nodes int) (*circuit.Sim, circuit.ElementID) {
	n := circuit.New()
	at := make([]circuit.Node, nodes)
	for i := range at {
		at[i] = n.Node(fmt.Sprint("n", i))
		n.Resistor("leak", at[i], circuit.Ground, 1e6+float64(i))
		if i > 0 {
			n.Resistor("joint", at[i-1], at[i], 0.1+0.01*float64(i%7))
		}
		if i%(nodes/5) == 0 {
			n.Capacitor("c", at[i], circuit.Ground, 1e-6, 0)
		}
	}
	n.VoltageSource("supply", at[0], circuit.Ground, 5, 0.1)
	contact := n.Switch("contact", at[1], at[nodes-1], 0.05)
	s, err := n.Start()
	require.NoError(t, err)
	return s, contact
}

// BenchmarkNodes shows how the cost of a state that was never seen before grows
// with the number of nodes; growth is the exponent since the size before.
func BenchmarkNodes(b *testing.B) {
	last := 0.0
	for _, nodes := range []int{15, 30, 60, 120, 240} {
		b.Run(fmt.Sprint(nodes), func(b *testing.B) {
			base, contact := harness(b, nodes)
			least := time.Duration(math.MaxInt64)
			for b.Loop() {
				s, err := base.Clone()
				if err != nil {
					b.Fatal(err)
				}
				start := time.Now()
				_ = s.SetSwitch(contact, true)
				if _, err := s.AdvanceTo(1e-4); err != nil {
					b.Fatal(err)
				}
				least = min(least, time.Since(start))
			}
			b.ReportMetric(float64(least.Nanoseconds()), "least-ns")
			if last > 0 {
				b.ReportMetric(math.Log2(float64(least)/last), "growth")
			}
			last = float64(least)
		})
	}
}

// The inner loop allocates nothing: contacts move between states that were
// seen, segments change, time passes, voltages, means and currents are read.
func TestInnerLoopAllocatesNothing(t *testing.T) {
	r := newRig(t)
	r.set(t, true, 0, 2)
	on, sum := false, 0.0
	step := func() {
		on = !on
		_ = r.SetSwitch(r.contacts[3], on)
		_ = r.SetSwitch(r.contacts[2], !on)
		for range 20 {
			begin := r.Now()
			if _, err := r.AdvanceTo(begin + 1e-4); err != nil {
				t.Fatal(err)
			}
			sum += r.Volts(r.vbus) + r.Mean(r.cc1, begin+5e-5, r.Now()) + r.Amperes(r.charger)
		}
	}
	for range 50 {
		step()
	}
	require.Zero(t, testing.AllocsPerRun(100, step))
}
