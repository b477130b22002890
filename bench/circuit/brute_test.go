package circuit_test

import (
	"math"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// flow returns the current of an element from A to B at the given voltages,
// written from the constructors' documentation alone: min and max instead of
// segments.
func flow(p circuit.Part, v []float64) float64 {
	u := v[p.A] - v[p.B]
	switch p.Kind {
	case circuit.KindResistor:
		return u / p.Ohms
	case circuit.KindSwitch:
		if p.On {
			return u / p.Ohms
		}
	case circuit.KindVoltageSource:
		return (u - p.Volts) / p.Ohms
	case circuit.KindCurrentSource:
		return p.Amperes
	case circuit.KindDiode:
		return p.Siemens*u + math.Max(0, (u-p.Volts)/p.Ohms)
	case circuit.KindLimitedSupply, circuit.KindLimitedCurrentSource:
		if p.On {
			least := 0.0
			if p.CanSink {
				least = -p.Amperes
			}
			return -math.Max(least, math.Min(p.Amperes, (p.Volts-u)/p.Ohms))
		}
	}
	return 0
}

// march integrates a network in which every node has one capacitor to ground,
// by the classical Runge-Kutta method of fourth order.
func march(parts []circuit.Part, v, farads []float64, duration float64, steps int) {
	n := len(v)
	slope := func(v, to []float64) {
		for i := range to {
			to[i] = 0
		}
		for _, p := range parts {
			i := flow(p, v)
			to[p.A] -= i
			to[p.B] += i
		}
		to[0] = 0
		for i := 1; i < n; i++ {
			to[i] /= farads[i]
		}
	}
	h := duration / float64(steps)
	k := [4][]float64{}
	for i := range k {
		k[i] = make([]float64, n)
	}
	x := make([]float64, n)
	for s := 0; s < steps; s++ {
		slope(v, k[0])
		for j, f := range []float64{h / 2, h / 2, h} {
			for i := range x {
				x[i] = v[i] + f*k[j][i]
			}
			slope(x, k[j+1])
		}
		for i := range v {
			v[i] += h / 6 * (k[0][i] + 2*k[1][i] + 2*k[2][i] + k[3][i])
		}
	}
}

// draw makes a random network of the given number of nodes, each with a
// capacitor to ground, with time constants that march can follow.
func draw(t *rapid.T, nodes int) (*circuit.Netlist, []float64, []circuit.ElementID) {
	n := circuit.New()
	farads := make([]float64, nodes+1)
	var at []circuit.Node
	at = append(at, circuit.Ground)
	for i := 1; i <= nodes; i++ {
		at = append(at, n.Node(string(rune('a'+i-1))))
		farads[i] = rapid.Float64Range(1e-7, 1e-5).Draw(t, "farads")
		n.Capacitor("c", at[i], circuit.Ground, farads[i], rapid.Float64Range(-2, 6).Draw(t, "start"))
	}
	var switches []circuit.ElementID
	node := rapid.IntRange(0, nodes)
	for i, count := 0, rapid.IntRange(1, 3*nodes).Draw(t, "elements"); i < count; i++ {
		a, b := at[node.Draw(t, "a")], at[node.Draw(t, "b")]
		ohms := math.Pow(10, rapid.Float64Range(1, 5).Draw(t, "log ohms"))
		volts := rapid.Float64Range(0, 6).Draw(t, "volts")
		amperes := rapid.Float64Range(0, 0.05).Draw(t, "amperes")
		switch rapid.IntRange(0, 7).Draw(t, "kind") {
		case 0, 1:
			n.Resistor("r", a, b, ohms)
		case 2:
			switches = append(switches, n.Switch("k", a, b, ohms))
		case 3:
			n.VoltageSource("v", a, b, volts, ohms)
		case 4:
			n.Diode("d", a, b, volts/6, ohms, 1e-6)
		case 5:
			n.LimitedSupply("s", a, b, volts, ohms, amperes, rapid.Bool().Draw(t, "sink"))
		case 6:
			n.LimitedCurrentSource("i", a, b, amperes, volts, 1/ohms)
		case 7:
			n.CurrentSource("j", a, b, amperes/10)
		}
	}
	return n, farads, switches
}

func TestRandomNetworksAgainstTinySteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, farads, switches := draw(t, rapid.IntRange(1, 5).Draw(t, "nodes"))
		s, err := n.Start()
		require.NoError(t, err)
		v := make([]float64, len(farads))
		for i := range v {
			v[i] = s.Volts(circuit.Node(i))
		}
		for interval := 0; interval < 3; interval++ {
			for _, k := range switches {
				require.NoError(t, s.SetSwitch(k, rapid.Bool().Draw(t, "closed")))
			}
			parts := s.Parts()
			duration := math.Pow(10, rapid.Float64Range(-6, -4).Draw(t, "log duration"))
			march(parts, v, farads, duration, 50+int(duration/5e-8))
			_, err := s.AdvanceTo(s.Now() + duration)
			require.NoError(t, err)
			for i := range v {
				// A corner inside one tiny step costs it up to 1e-5 V.
				require.InDelta(t, v[i], s.Volts(circuit.Node(i)), 2e-5*(1+math.Abs(v[i])), "node %d after %g s", i, s.Now())
			}
		}
	})
}

// The answer at an instant does not depend on the instants asked before it.
func TestAdvancesCompose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, farads, switches := draw(t, rapid.IntRange(1, 5).Draw(t, "nodes"))
		s, err := n.Start()
		require.NoError(t, err)
		for _, k := range switches {
			require.NoError(t, s.SetSwitch(k, true))
		}
		c, err := s.Clone()
		require.NoError(t, err)
		end := 1e-3
		_, err = s.AdvanceTo(end)
		require.NoError(t, err)
		for c.Now() < end {
			to := math.Min(end, c.Now()+rapid.Float64Range(1e-6, 3e-4).Draw(t, "step"))
			_, err = c.AdvanceTo(to)
			require.NoError(t, err)
		}
		for i := range farads {
			require.InDelta(t, s.Volts(circuit.Node(i)), c.Volts(circuit.Node(i)), 1e-8*(1+math.Abs(s.Volts(circuit.Node(i)))))
		}
	})
}

// With enough time every network of this kind comes to its DC solution, unless
// a current source lifts a node without end.
func TestTransientEndsAtDC(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, farads, switches := draw(t, rapid.IntRange(1, 5).Draw(t, "nodes"))
		for i := range farads[1:] {
			n.Resistor("leak", circuit.Node(i+1), circuit.Ground, 1e5)
		}
		s, err := n.Start()
		require.NoError(t, err)
		for _, k := range switches {
			require.NoError(t, s.SetSwitch(k, rapid.Bool().Draw(t, "closed")))
		}
		dc, err := s.DC()
		require.NoError(t, err)
		_, err = s.AdvanceTo(200)
		require.NoError(t, err)
		for i := range farads {
			require.InDelta(t, dc[i], s.Volts(circuit.Node(i)), 1e-6*(1+math.Abs(dc[i])))
		}
		require.NoError(t, s.OperatingPoint())
		for i := range farads {
			require.InDelta(t, dc[i], s.Volts(circuit.Node(i)), 1e-6*(1+math.Abs(dc[i])))
		}
	})
}
