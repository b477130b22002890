package spice_test

import (
	"math"
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

// A leak of 100 Ω from the cell back to the input closes the loop around the
// constant voltage, so that its equations are neither symmetric nor triangular.
func TestBackFeedAroundTheChargerAgainstNgspice(t *testing.T) {
	for _, ohms := range []float64{1, 100, 10e3} {
		n := circuit.New()
		g := circuit.Ground
		vbus, in, gnd, bat := n.Node("vbus"), n.Node("in"), n.Node("gnd"), n.Node("bat")
		supply := n.LimitedSupply("supply", vbus, g, 5, 0.05, 1.5, false)
		n.Resistor("cable", vbus, in, 0.15)
		n.Resistor("cable gnd", gnd, g, 0.05)
		n.Capacitor("bulk", in, gnd, 4.7e-6, 5)
		n.Capacitor("stray", bat, g, 1e-9, 4.17)
		charger := n.Charger("charger", in, gnd, bat, params())
		n.Resistor("back", bat, in, ohms)
		n.LimitedSupply("cell", bat, gnd, 4.17, 0.1, 2, true)
		n.Capacitor("bat c", bat, gnd, 10e-6, 4.17)
		s, err := n.Start()
		require.NoError(t, err)
		_, err = s.AdvanceTo(0.1)
		require.NoError(t, err)
		if ohms > 1 {
			require.Equal(t, "constant voltage", s.Segment(charger))
		}
		d, err := spice.CompareDC(s)
		require.NoError(t, err)
		require.LessOrEqual(t, d.Of, 1.0, d.String())
		require.NoError(t, s.SetVolts(supply, 4.8))
		d, err = spice.CompareAll(s, 1e-3, 1e-6, 10)
		require.NoError(t, err)
		require.LessOrEqual(t, d.Of, 1.0, d.String())
	}
}

// An LED on 1 kΩ, exponential in ngspice and two straight lines here. Both
// touch at 3 mA; the bound between 0.3 and 6 mA is that of ExponentialDiodes.
func TestExponentialDiodeWithinItsBound(t *testing.T) {
	const amperes, ohms = 3e-3, 20.0
	for _, volts := range []float64{2.3, 3, 5, 7.5} {
		n := circuit.New()
		in, led := n.Node("in"), n.Node("led")
		n.VoltageSource("v", in, circuit.Ground, volts, 1e-3)
		r := n.Resistor("r", in, led, 1000)
		n.Diode("led", led, circuit.Ground, 1.9, ohms, 1e-9)
		n.Capacitor("c", led, circuit.Ground, 1e-9, 0)
		s, err := n.Start()
		require.NoError(t, err)
		require.NoError(t, s.OperatingPoint())
		theirs, err := spice.DC(s, spice.ExponentialDiodes(amperes))
		require.NoError(t, err)
		x := s.Amperes(r) / amperes
		bound := amperes * ohms * (x - 1 - math.Log(x))
		require.InDelta(t, s.Volts(led), theirs[led], bound+1e-3, "%g V", volts)
		if x < 0.5 {
			require.Less(t, theirs[led], s.Volts(led), "the exponential diode conducts before its corner")
		}
	}
}

func TestWithoutNgspiceTheErrorSaysWhatToInstall(t *testing.T) {
	s, _ := charging(t, 3.7)
	t.Setenv("PATH", t.TempDir())
	_, err := spice.DC(s)
	require.ErrorIs(t, err, spice.ErrMissing)
	require.ErrorContains(t, err, "install the Debian package ngspice")
}

func TestTransientReturnsWaves(t *testing.T) {
	n := circuit.New()
	in, out := n.Node("in"), n.Node("out")
	n.VoltageSource("v", in, circuit.Ground, 1, 1e-3)
	n.Resistor("r", in, out, 1000)
	n.Capacitor("c", out, circuit.Ground, 1e-6, 0)
	s, err := n.Start()
	require.NoError(t, err)
	w, err := spice.Transient(s, 5e-3, 1e-5)
	require.NoError(t, err)
	require.InDelta(t, 1-math.Exp(-1), w.At(out, 1e-3), 1e-4)
	require.InDelta(t, 1-math.Exp(-5), w.At(out, 1), 1e-4)
	require.Zero(t, w.At(circuit.Ground, 1e-3))
	require.True(t, math.IsNaN(w.At(99, 1e-3)))
}
