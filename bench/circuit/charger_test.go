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
