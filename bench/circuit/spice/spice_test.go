package spice_test

import (
	"testing"

	"sinkproof/bench/circuit"
	"sinkproof/bench/circuit/spice"

	"github.com/stretchr/testify/require"
)

func params() circuit.ChargerParams {
	return circuit.ChargerParams{
		StartVolts: 3.8, StopVolts: 3.6,
		HeadroomStartVolts: 0.1, HeadroomStopVolts: 0.03,
		TrickleAmperes: 0.05, TrickleVolts: 2.9, TrickleHysteresisVolts: 0.1,
		ChargeAmperes: 0.5, RegulationVolts: 4.2, OutputOhms: 0.05, DropoutOhms: 0.4,
		TerminationAmperes: 0.05, RechargeVolts: 4.05,
		SoftStartSteps: 4, SoftStartSeconds: 1e-3,
		QuiescentAmperes: 500e-6, QuiescentOhms: 1e6, ReverseOhms: 10e6,
	}
}

// charging is a supply, a contact, cable with a ground of its own, a charger
// and a small cell.
func charging(t testing.TB, cellVolts float64) (*circuit.Sim, circuit.ElementID) {
	n := circuit.New()
	g := circuit.Ground
	vbus, in, gnd, bat, cell := n.Node("vbus"), n.Node("in"), n.Node("gnd"), n.Node("bat"), n.Node("cell")
	n.LimitedSupply("supply", vbus, g, 5, 0.05, 1.5, false)
	n.Capacitor("supply c", vbus, g, 10e-6, 5)
	contact := n.Switch("contact", vbus, in, 0.1)
	n.Resistor("cable gnd", gnd, g, 0.05)
	n.Capacitor("gnd c", gnd, g, 10e-12, 0)
	n.Capacitor("bulk", in, gnd, 4.7e-6, 0)
	n.Charger("charger", in, gnd, bat, params())
	n.Capacitor("bat c", bat, gnd, 4.7e-6, cellVolts)
	n.Resistor("cell r", bat, cell, 0.1)
	n.Capacitor("cell", cell, gnd, 0.01, cellVolts)
	led := n.Node("led")
	n.Resistor("led r", in, led, 1000)
	n.Diode("led", led, gnd, 1.9, 20, 1e-9)
	s, err := n.Start()
	require.NoError(t, err)
	return s, contact
}

func TestChargerAgainstNgspice(t *testing.T) {
	for _, cell := range []float64{2.5, 3.7, 4.1} {
		s, contact := charging(t, cell)
		require.NoError(t, s.SetSwitch(contact, true))
		d, err := spice.CompareAll(s, 0.03, 1e-5, 20)
		require.NoError(t, err)
		t.Log(cell, d)
		require.LessOrEqual(t, d.Of, 1.0, d.String())
	}
}
