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

// Two equal sections R-C-R-C have the poles (3 ± sqrt 5)/2 over RC, and the step
// response of the second is 1 - A1 exp(-s1 t) + A2 exp(-s2 t) with
// A1 = s2/(s2-s1), A2 = s1/(s2-s1): elementary circuit theory.
func TestLadderOfTwoSections(t *testing.T) {
	n := circuit.New()
	in, a, b := n.Node("in"), n.Node("a"), n.Node("b")
	n.VoltageSource("step", in, circuit.Ground, 1, 1e-9)
	n.Resistor("r1", in, a, 1e3)
	n.Resistor("r2", a, b, 1e3)
	n.Capacitor("c1", a, circuit.Ground, 1e-6, 0)
	n.Capacitor("c2", b, circuit.Ground, 1e-6, 0)
	s, err := n.Start()
	require.NoError(t, err)
	s1, s2 := (3-math.Sqrt(5))/2/1e-3, (3+math.Sqrt(5))/2/1e-3
	for _, at := range []float64{0, 1e-5, 1e-3, 3e-3, 1e-2} {
		v, err := s.VoltsAt(b, at)
		require.NoError(t, err)
		require.InDelta(t, 1-(s2*math.Exp(-s1*at)-s1*math.Exp(-s2*at))/(s2-s1), v, 1e-9)
	}
}

// Charge is conserved when a contact joins two capacitors, at any ratio, and
// they meet with the time constant of the contact and both in series.
func TestChargeSharing(t *testing.T) {
	for name, c := range map[string]struct{ left, right, contact float64 }{
		"equal":               {1e-6, 1e-6, 0.1},
		"bulk and supply":     {220e-6, 10e-6, 0.05},
		"large and parasitic": {3e-3, 10e-12, 1e-3},
		"two parasitics":      {10e-12, 20e-12, 1e-3},
	} {
		t.Run(name, func(t *testing.T) {
			n := circuit.New()
			a, b := n.Node("a"), n.Node("b")
			n.Capacitor("left", a, circuit.Ground, c.left, 5)
			n.Capacitor("right", b, circuit.Ground, c.right, 1)
			k := n.Switch("k", a, b, c.contact)
			s, err := n.Start()
			require.NoError(t, err)
			_, err = s.AdvanceTo(1)
			require.NoError(t, err)
			require.NoError(t, s.SetSwitch(k, true))
			end := (5*c.left + c.right) / (c.left + c.right)
			tau := c.contact * c.left * c.right / (c.left + c.right)
			for _, times := range []float64{0.5, 1, 3, 30} {
				at := times * tau
				if tau < circuit.SettledSeconds {
					at = 10 * circuit.SettledSeconds
				}
				v, err := s.VoltsAt(b, 1+at)
				require.NoError(t, err)
				want := end - (end-1)*math.Exp(-at/tau)
				// The clock counts in 2e-16 s at 1 s.
				require.InDelta(t, want, v, 1e-9+4*2.3e-16/tau, "at %g s", at)
			}
			require.NoError(t, s.SetSwitch(k, false))
			_, err = s.AdvanceTo(2)
			require.NoError(t, err)
			require.InEpsilon(t, 5*c.left+c.right, s.Volts(a)*c.left+s.Volts(b)*c.right, 1e-9)
		})
	}
}

// 5 V over 1 kΩ into a diode of 0.7 V and 10 Ω: (5-0.7)/1010 A.
func TestDiode(t *testing.T) {
	n := circuit.New()
	in, a := n.Node("in"), n.Node("a")
	src := n.VoltageSource("v", in, circuit.Ground, 5, 1e-6)
	r := n.Resistor("r", in, a, 1000)
	d := n.Diode("d", a, circuit.Ground, 0.7, 10, 1e-9)
	n.Capacitor("c", a, circuit.Ground, 1e-9, 0)
	s, err := n.Start()
	require.NoError(t, err)
	require.Equal(t, "blocking", s.Segment(d))
	w := s.Watch(a, 0.7, true)
	fired, err := s.AdvanceTo(1)
	require.NoError(t, err)
	require.Equal(t, w, fired)
	// Up to the corner it charges as if to 5 V: RC ln(5/4.3).
	require.InDelta(t, 1e-6*math.Log(5/4.3), s.Now(), 1e-11)
	_, err = s.AdvanceTo(1)
	require.NoError(t, err)
	require.Equal(t, "conducting", s.Segment(d))
	require.InDelta(t, 4.3/1010, s.Amperes(r), 1e-8)
	require.InDelta(t, s.Amperes(r), s.Amperes(d), 1e-12)
	require.InDelta(t, s.Amperes(r), s.Amperes(src), 1e-6)
	require.NoError(t, s.SetVolts(src, -5))
	_, err = s.AdvanceTo(2)
	require.NoError(t, err)
	require.Equal(t, "blocking", s.Segment(d))
	require.InDelta(t, -5, s.Volts(a), 1e-5)
}

// An 80 µA pull-up (default advertisement, Type-C R2.x table 4-24) on 5.1 kΩ
// gives 0.408 V; left open it stands at its compliance.
func TestPullUpCurrentSource(t *testing.T) {
	n := circuit.New()
	cc := n.Node("cc")
	rp := n.LimitedCurrentSource("rp", cc, circuit.Ground, 80e-6, 3.3, 1e-3)
	n.Capacitor("c", cc, circuit.Ground, 200e-12, 0)
	unit := n.Node("unit")
	n.Resistor("rd", unit, circuit.Ground, 5100)
	k := n.Switch("contact", cc, unit, 0.1)
	s, err := n.Start()
	require.NoError(t, err)
	// It ramps: 80 µA on 200 pF is 0.4 V/µs.
	v, err := s.VoltsAt(cc, 5e-6)
	require.NoError(t, err)
	require.InDelta(t, 2, v, 1e-9)
	_, err = s.AdvanceTo(0.1)
	require.NoError(t, err)
	require.InDelta(t, 3.3, s.Volts(cc), 1e-9)
	require.Equal(t, "constant voltage", s.Segment(rp))
	require.NoError(t, s.SetSwitch(k, true))
	_, err = s.AdvanceTo(0.2)
	require.NoError(t, err)
	require.InDelta(t, 80e-6*5100.1, s.Volts(cc), 1e-9)
	require.InDelta(t, 80e-6, s.Amperes(rp), 1e-12)
	require.NoError(t, s.SetAmperes(rp, 330e-6))
	_, err = s.AdvanceTo(0.3)
	require.NoError(t, err)
	require.InDelta(t, 330e-6*5100.1, s.Volts(cc), 1e-9)
	require.NoError(t, s.SetEnabled(rp, false))
	require.Equal(t, "off", s.Segment(rp))
	_, err = s.AdvanceTo(0.4)
	require.NoError(t, err)
	require.InDelta(t, 0, s.Volts(cc), 1e-9)
}

// A cell substitute holds its voltage against a source and against a load, up
// to its limit each way.
func TestSubstituteSourcesAndSinks(t *testing.T) {
	for _, c := range []struct {
		push, volts float64
		segment     string
	}{
		{0.5, 3.7 + 0.05, "constant voltage"},
		{-0.5, 3.7 - 0.05, "constant voltage"},
		{1.5, 3.7 + 0.1 + 0.5*100, "sinking limit"},
		{-1.5, 3.7 - 0.1 - 0.5*100, "constant current"},
	} {
		n := circuit.New()
		a := n.Node("a")
		sub := n.LimitedSupply("substitute", a, circuit.Ground, 3.7, 0.1, 1, true)
		n.CurrentSource("push", circuit.Ground, a, c.push)
		shunt := n.Node("shunt")
		// A stiff path beside, so that an exceeded limit has a solution: 100 Ω
		// from the corner on.
		n.VoltageSource("corner", shunt, circuit.Ground, 3.7+math.Copysign(0.1, c.push), 100)
		n.Clamp("up", a, shunt, 0, 1e-6)
		n.Clamp("down", shunt, a, 0, 1e-6)
		s, err := n.Start()
		require.NoError(t, err)
		require.Equal(t, c.segment, s.Segment(sub), "push %g", c.push)
		if c.segment == "constant voltage" {
			require.InDelta(t, c.volts, s.Volts(a), 0.06)
		} else {
			require.InDelta(t, c.volts, s.Volts(a), 1e-3)
		}
	}
}

// Spread without loss: two leaks of 1 GΩ joined over 1 mΩ divide 5 V by two,
// and 10 pF over 1 GΩ relaxes in 10 ms beside 3 mF.
func TestWideSpreads(t *testing.T) {
	n := circuit.New()
	in, a, b := n.Node("in"), n.Node("a"), n.Node("b")
	n.VoltageSource("v", in, circuit.Ground, 5, 1e-3)
	n.Capacitor("big", in, circuit.Ground, 3e-3, 5)
	n.Resistor("leak 1", in, a, 1e9)
	k := n.Switch("contact", a, b, 1e-3)
	n.Resistor("leak 2", b, circuit.Ground, 1e9)
	n.Capacitor("stray", a, circuit.Ground, 10e-12, 0)
	s, err := n.Start()
	require.NoError(t, err)
	v, err := s.VoltsAt(a, 0.01)
	require.NoError(t, err)
	require.InEpsilon(t, 5*(1-math.Exp(-1)), v, 1e-6)
	require.NoError(t, s.SetSwitch(k, true))
	dc, err := s.DC()
	require.NoError(t, err)
	require.InEpsilon(t, 2.5, dc[a], 1e-4)
	_, err = s.AdvanceTo(0.005)
	require.NoError(t, err)
	require.InEpsilon(t, 2.5*(1-math.Exp(-1)), s.Volts(b), 1e-4)
	_, err = s.AdvanceTo(1)
	require.NoError(t, err)
	require.InEpsilon(t, 2.5, s.Volts(b), 1e-4)
}
