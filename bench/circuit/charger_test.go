package circuit_test

import (
	"math"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
)

// typical has the figures of a common 500 mA linear charger: 2.9 V trickle
// threshold, a tenth of the current below it, 4.2 V, end at a tenth. Common
// practice for this class of part, no single source.
func typical() circuit.ChargerParams {
	return circuit.ChargerParams{
		StartVolts: 3.8, StopVolts: 3.6,
		HeadroomStartVolts: 0.1, HeadroomStopVolts: 0.03,
		TrickleAmperes: 0.05, TrickleVolts: 2.9, TrickleHysteresisVolts: 0.1,
		ChargeAmperes: 0.5, RegulationVolts: 4.2, OutputOhms: 0.05, DropoutOhms: 0.4,
		TerminationAmperes: 0.05, RechargeVolts: 4.05,
		QuiescentAmperes: 500e-6, QuiescentOhms: 1e6, ReverseOhms: 10e6,
	}
}

// bench is a supply, a contact, a charger and a cell of so many farads.
type bench struct {
	*circuit.Sim
	in, bat circuit.Node
	supply  circuit.ElementID
	contact circuit.ElementID
	charger circuit.ElementID
}

func newBench(t testing.TB, p circuit.ChargerParams, cellFarads, cellVolts, cellOhms float64) bench {
	n := circuit.New()
	b := bench{in: n.Node("in"), bat: n.Node("bat")}
	vbus, cell := n.Node("vbus"), n.Node("cell")
	b.supply = n.LimitedSupply("supply", vbus, circuit.Ground, 5, 0.05, 1.5, false)
	n.Capacitor("supply c", vbus, circuit.Ground, 10e-6, 5)
	b.contact = n.Switch("contact", vbus, b.in, 0.1)
	n.Capacitor("bulk", b.in, circuit.Ground, 4.7e-6, 0)
	b.charger = n.Charger("charger", b.in, circuit.Ground, b.bat, p)
	n.Capacitor("bat c", b.bat, circuit.Ground, 4.7e-6, cellVolts)
	n.Resistor("cell r", b.bat, cell, cellOhms)
	n.Capacitor("cell", cell, circuit.Ground, cellFarads, cellVolts)
	s, err := n.Start()
	require.NoError(t, err)
	b.Sim = s
	return b
}

func (b bench) advance(t testing.TB, at float64) {
	_, err := b.AdvanceTo(at)
	require.NoError(t, err)
}

// A charge from 2.5 V through every phase. Times by hand: a constant current I
// lifts C by dV in C dV/I.
func TestChargerPhases(t *testing.T) {
	b := newBench(t, typical(), 0.1, 2.5, 0.1)
	require.Equal(t, "input low", b.Segment(b.charger))
	require.NoError(t, b.SetSwitch(b.contact, true))
	b.advance(t, 0.001)
	require.Equal(t, "trickle", b.Segment(b.charger))
	require.InDelta(t, 0.05, b.Amperes(b.charger), 1e-5)
	// 0.1 F from 2.5 V to 2.9 V less 0.05 A x 0.1 ohm: 0.79 s.
	b.advance(t, 0.785)
	require.Equal(t, "trickle", b.Segment(b.charger))
	b.advance(t, 0.795)
	require.Equal(t, "constant current", b.Segment(b.charger))
	require.InDelta(t, 0.5, b.Amperes(b.charger), 1e-5)
	in, err := b.InputAmperes(b.charger)
	require.NoError(t, err)
	require.InDelta(t, 0.5+500e-6+5e-6, in, 1e-5)
	// To 4.2 V - 0.5 A x 0.05 ohm at the pole: the cell has 0.05 V less.
	b.advance(t, 0.79+0.1*(4.125-2.895)/0.5-0.005)
	require.Equal(t, "constant current", b.Segment(b.charger))
	b.advance(t, 0.79+0.1*(4.125-2.895)/0.5+0.005)
	require.Equal(t, "constant voltage", b.Segment(b.charger))
	// The rest falls with (0.05+0.1) ohm x 0.1 F = 15 ms to a tenth: 34.5 ms.
	b.advance(t, 0.79+0.1*(4.125-2.895)/0.5+0.015*math.Log(10)-0.001)
	require.Equal(t, "constant voltage", b.Segment(b.charger))
	b.advance(t, 0.79+0.1*(4.125-2.895)/0.5+0.015*math.Log(10)+0.001)
	require.Equal(t, "done", b.Segment(b.charger))
	b.advance(t, 2)
	require.InDelta(t, 4.1925, b.Volts(b.bat), 1e-3)
}

func connected(t testing.TB, p circuit.ChargerParams, cellFarads, cellVolts float64) bench {
	b := newBench(t, p, cellFarads, cellVolts, 0.1)
	require.NoError(t, b.SetSwitch(b.contact, true))
	return b
}

func TestChargerSoftStartInEqualSteps(t *testing.T) {
	p := typical()
	p.SoftStartSteps, p.SoftStartSeconds = 4, 0.02
	b := connected(t, p, 1, 3.7)
	for k := 1; k <= 4; k++ {
		b.advance(t, 0.005*float64(k)-0.001)
		require.InDelta(t, 0.5*float64(k)/4, b.Amperes(b.charger), 1e-4, "step %d", k)
		if k < 4 {
			require.Equal(t, "soft start", b.Segment(b.charger))
		}
	}
	require.Equal(t, "constant current", b.Segment(b.charger))
}

// Full: done until the cell falls to the recharge threshold, through a load.
func TestChargerRechargesAfterTheThreshold(t *testing.T) {
	b := connected(t, typical(), 0.05, 4.15)
	b.advance(t, 0.2)
	require.Equal(t, "done", b.Segment(b.charger))
	// 10 MΩ from the input is all that flows: 0.08 µA.
	require.InDelta(t, 0, b.Amperes(b.charger), 1e-7)
	in, err := b.InputAmperes(b.charger)
	require.NoError(t, err)
	require.InDelta(t, 505e-6, in, 1e-6)
	require.NoError(t, b.SetSwitch(b.contact, false))
	b.advance(t, 0.3)
	require.Equal(t, "input low", b.Segment(b.charger), "its own consumption empties the input")
	require.NoError(t, b.SetSwitch(b.contact, true))
	b.advance(t, 0.5)
	require.Equal(t, "done", b.Segment(b.charger), "a new charge starts with the input and ends again")
}

func TestChargerWaitsForHeadroomAndStopsWithoutInput(t *testing.T) {
	b := newBench(t, typical(), 1, 4.0, 0.1)
	require.NoError(t, b.SetVolts(b.supply, 4.05))
	require.NoError(t, b.SetSwitch(b.contact, true))
	b.advance(t, 0.1)
	// The 10 µF of the supply still have 5 V for a moment: it starts, and stops.
	require.Equal(t, "no headroom", b.Segment(b.charger))
	require.NoError(t, b.SetVolts(b.supply, 4.6))
	b.advance(t, 0.2)
	require.Equal(t, "constant current", b.Segment(b.charger))
	require.NoError(t, b.SetVolts(b.supply, 4.25))
	b.advance(t, 0.3)
	require.Equal(t, "dropout", b.Segment(b.charger))
	// 4.25 V less the cell over 0.05 + 0.1 + 0.4 + 0.1 ohm.
	require.InDelta(t, (4.25-b.Volts(b.bat))/(0.05+0.1+0.4), b.Amperes(b.charger), 2e-3)
	require.NoError(t, b.SetEnabled(b.supply, false))
	b.advance(t, 0.4)
	require.NotEqual(t, "dropout", b.Segment(b.charger))
	require.InDelta(t, 0, b.Amperes(b.charger), 1e-6)
}

func TestChargerDisabledLeavesOnlyLeaks(t *testing.T) {
	p := typical()
	p.Disabled = true
	b := connected(t, p, 1, 3.7)
	b.advance(t, 0.1)
	require.Equal(t, "off", b.Segment(b.charger))
	require.InDelta(t, 1.3/10e6, b.Amperes(b.charger), 1e-9)
	require.NoError(t, b.SetEnabled(b.charger, true))
	b.advance(t, 0.2)
	require.Equal(t, "constant current", b.Segment(b.charger))
	require.NoError(t, b.SetEnabled(b.charger, false))
	require.Equal(t, "off", b.Segment(b.charger))
	require.InDelta(t, 0, b.Amperes(b.charger), 1e-6)
}

// A supply that limits below the programmed current: the input falls until the
// pass element is open, and the cell gets what the supply gives.
func TestChargerOnAWeakSupply(t *testing.T) {
	b := connected(t, typical(), 10, 3.9)
	require.NoError(t, b.SetAmperes(b.supply, 0.2))
	b.advance(t, 0.5)
	require.Equal(t, "dropout", b.Segment(b.charger))
	require.Equal(t, "constant current", b.Segment(b.supply))
	require.InDelta(t, 0.2-505e-6, b.Amperes(b.charger), 1e-4)
}

// With the cell out and 4.25 V of a substitute on its pads nothing flows into
// it; at 4.1 V the current is constant; at 2.5 V it trickles.
func TestChargerOnASubstitute(t *testing.T) {
	for _, c := range []struct {
		volts   float64
		segment string
		amperes float64
	}{
		{2.5, "trickle", 0.05},
		{3.0, "constant current", 0.5},
		{3.7, "constant current", 0.5},
		{4.1, "constant current", 0.5},
		{4.25, "done", 0},
	} {
		n := circuit.New()
		in, bat := n.Node("in"), n.Node("bat")
		n.LimitedSupply("supply", in, circuit.Ground, 5, 0.1, 1.5, false)
		n.Capacitor("bulk", in, circuit.Ground, 10e-6, 0)
		q := n.Charger("charger", in, circuit.Ground, bat, typical())
		n.LimitedSupply("substitute", bat, circuit.Ground, c.volts, 0.05, 2, true)
		n.Capacitor("pad", bat, circuit.Ground, 1e-6, 0)
		s, err := n.Start()
		require.NoError(t, err)
		_, err = s.AdvanceTo(0.1)
		require.NoError(t, err)
		require.Equal(t, c.segment, s.Segment(q), "%g V", c.volts)
		require.InDelta(t, c.amperes, s.Amperes(q), 1e-6, "%g V", c.volts)
		require.NoError(t, s.OperatingPoint())
		require.Equal(t, c.segment, s.Segment(q), "%g V", c.volts)
	}
}

// A charger whose cell is a mere capacitor has no point of rest: full, it ends,
// the leak empties the capacitor, and it begins again.
func TestOperatingPointWithoutRest(t *testing.T) {
	n := circuit.New()
	in, bat := n.Node("in"), n.Node("bat")
	n.VoltageSource("supply", in, circuit.Ground, 5, 0.1)
	p := typical()
	p.ReverseOhms = 0
	n.Charger("charger", in, circuit.Ground, bat, p)
	n.Capacitor("cell", bat, circuit.Ground, 1, 3.7)
	n.Resistor("leak", bat, circuit.Ground, 1e6)
	s, err := n.Start()
	require.NoError(t, err)
	err = s.OperatingPoint()
	var chatter *circuit.ChatterError
	require.ErrorAs(t, err, &chatter)
	require.Equal(t, "charger", chatter.Element)
	require.ErrorIs(t, err, circuit.ErrChatter)
}

// Equal time constants on both sides of the constant voltage leave the network
// with one mode instead of two. By hand, with a the distance of the cell from
// 4.2 V: 5 V - v(in) = (u0 + a t/tau) exp(-t/tau).
func TestConstantVoltageWithEqualTimeConstants(t *testing.T) {
	p := typical()
	p.ChargeAmperes, p.OutputOhms, p.DropoutOhms = 10, 1, 0.01
	p.QuiescentAmperes, p.QuiescentOhms, p.ReverseOhms, p.TerminationAmperes = 0, 0, 0, 0
	n := circuit.New()
	in, bat := n.Node("in"), n.Node("bat")
	n.VoltageSource("supply", in, circuit.Ground, 5, 1)
	n.Capacitor("bulk", in, circuit.Ground, 1e-3, 4.9)
	q := n.Charger("charger", in, circuit.Ground, bat, p)
	n.Capacitor("cell", bat, circuit.Ground, 1e-3, 4)
	s, err := n.Start()
	require.NoError(t, err)
	require.Equal(t, "constant voltage", s.Segment(q))
	for _, at := range []float64{0, 1e-4, 1e-3, 3e-3, 2e-2} {
		v, err := s.VoltsAt(in, at)
		require.NoError(t, err)
		require.InDelta(t, 5-(0.1+0.2*at/1e-3)*math.Exp(-at/1e-3), v, 2e-5, "at %g s", at)
		v, err = s.VoltsAt(bat, at)
		require.NoError(t, err)
		require.InDelta(t, 4.2-0.2*math.Exp(-at/1e-3), v, 2e-5, "at %g s", at)
	}
}

// The next change of memory is found without moving, and it is where the
// segment changes.
func TestNextChange(t *testing.T) {
	b := connected(t, typical(), 0.1, 2.5)
	b.advance(t, 0.01)
	memory := b.Memory()
	at, err := b.NextChange(10)
	require.NoError(t, err)
	require.Equal(t, 0.01, b.Now())
	require.Equal(t, memory, b.Memory())
	b.advance(t, at-1e-9)
	require.Equal(t, "trickle", b.Segment(b.charger))
	b.advance(t, at+1e-9)
	require.Equal(t, "constant current", b.Segment(b.charger))
	at, err = b.NextChange(b.Now() + 1e-6)
	require.NoError(t, err)
	require.Equal(t, b.Now()+1e-6, at)
}

// Lock-out with hysteresis: a slow supply starts it at 3.8 V and stops it at
// 3.6 V, at its own input.
func TestChargerLockOut(t *testing.T) {
	n := circuit.New()
	in, bat := n.Node("in"), n.Node("bat")
	src := n.VoltageSource("supply", in, circuit.Ground, 3.79, 1e-3)
	q := n.Charger("charger", in, circuit.Ground, bat, typical())
	n.LimitedSupply("cell", bat, circuit.Ground, 3, 0.1, 2, true)
	s, err := n.Start()
	require.NoError(t, err)
	for _, step := range []struct {
		volts   float64
		segment string
	}{
		{3.79, "input low"}, {3.81, "constant current"}, {3.62, "constant current"}, {3.59, "input low"}, {3.7, "input low"}, {4, "constant current"},
	} {
		require.NoError(t, s.SetVolts(src, step.volts))
		require.Equal(t, step.segment, s.Segment(q), "%g V", step.volts)
	}
}
