package circuit_test

import (
	"math"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The mean of v = V(1-exp(-t/RC)) from a to b is V - V RC (exp(-a/RC) -
// exp(-b/RC))/(b-a): elementary calculus. Spans from a millionth of the time
// constant to many of them take every way through the formula.
func TestMeanOfOneRelaxation(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		tau := math.Pow(10, rapid.Float64Range(-5, 6).Draw(r, "log of the time constant"))
		from := math.Pow(10, rapid.Float64Range(-6, 2).Draw(r, "log of the beginning"))
		to := from + math.Pow(10, rapid.Float64Range(-6, 2).Draw(r, "log of the span"))
		n := circuit.New()
		in, out := n.Node("in"), n.Node("out")
		n.VoltageSource("supply", in, circuit.Ground, 5, 1e-3)
		n.Resistor("r", in, out, 1e3)
		n.Capacitor("c", out, circuit.Ground, tau/1000.001, 0)
		s, err := n.Start()
		require.NoError(r, err)
		_, err = s.AdvanceTo(to)
		require.NoError(r, err)
		a, b := from/tau, to/tau
		// exp(-a) (1-exp(-(b-a)))/(b-a), without cancellation.
		left := math.Exp(-a) * -math.Expm1(a-b) / (b - a)
		require.InDelta(r, 5-5*left, s.Mean(out, from, to), 2e-9)
		require.InDelta(r, 5, s.Mean(in, from, to), 5e-5)
		require.Zero(r, s.Mean(circuit.Ground, from, to))
	})
}

// Whoever adds up the means between changes has the integral, here against
// Simpson's rule over samples of a second Sim.
func TestMeansBetweenChangesAddUp(t *testing.T) {
	p := typical()
	p.SoftStartSteps, p.SoftStartSeconds = 5, 1e-3
	a, b := newBench(t, p, 0.01, 3.5, 0.1), newBench(t, p, 0.01, 3.5, 0.1)
	seen, sum, changes := 0.0, 0.0, 0
	take := func() {
		sum += a.Mean(a.bat, seen, a.Now()) * (a.Now() - seen)
		seen = a.Now()
	}
	a.BeforeChange(func() { take(); changes++ })
	require.NoError(t, a.SetSwitch(a.contact, true))
	require.NoError(t, b.SetSwitch(b.contact, true))
	const end, steps = 4e-3, 40_000
	a.advance(t, end)
	take()
	require.Greater(t, changes, 6, "five steps of the current and the contact")
	want, last := 0.0, b.Volts(b.bat)
	for i := range steps {
		b.advance(t, end*(float64(i)+0.5)/steps)
		middle := b.Volts(b.bat)
		b.advance(t, end*float64(i+1)/steps)
		next := b.Volts(b.bat)
		want, last = want+(last+4*middle+next)/6*end/steps, next
	}
	require.InEpsilon(t, want, sum, 1e-9)
}

// A charger that changes what it remembers stops the advance where that is
// asked for, at its instant, and once.
func TestAdvanceStopsAtMemory(t *testing.T) {
	p := typical()
	p.SoftStartSteps, p.SoftStartSeconds = 4, 2e-3
	b := newBench(t, p, 10, 3.5, 0.1)
	b.StopAtMemory()
	require.NoError(t, b.SetSwitch(b.contact, true))
	var at []float64
	for b.Now() < 5e-3 {
		fired, err := b.AdvanceTo(5e-3)
		require.NoError(t, err)
		if b.Now() < 5e-3 {
			require.Equal(t, circuit.Remembered, fired)
			at = append(at, b.Now())
		}
	}
	require.Len(t, at, 4, "the start and three more steps")
	for i := 1; i < len(at); i++ {
		require.InDelta(t, 0.5e-3, at[i]-at[i-1], 1e-12)
	}
}
