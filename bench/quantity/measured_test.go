package quantity

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// with returns a value with one contribution that makes U (k = 2) equal to u.
func with(q Quantity, u float64) Measured { return NewMeasured(q, Normal("test", u/2, 1, 0)) }

func TestMeasuredString(t *testing.T) {
	cases := []struct {
		name string
		m    Measured
		want string
	}{
		{"one digit from 3 on", with(Volts(4.98712), 0.0061), "4.987 V ± 0.006 V"},
		{"two digits below 3", with(Volts(4.98712), 0.0124), "4.987 V ± 0.012 V"},
		{"the limit of the rule", with(Volts(4.98712), 0.0299), "4.99 V ± 0.03 V"},
		{"carry to a new digit", with(Volts(4.98), 0.0096), "4.980 V ± 0.010 V"},
		{"prefix of the value", with(Ohms(5103.3), 12.2), "5.103 kΩ ± 0.012 kΩ"},
		{"prefix of the uncertainty", with(Volts(0.00014), 0.0148), "0 mV ± 15 mV"},
		{"value rounds to zero", with(Volts(0.001), 0.05), "0 mV ± 50 mV"},
		{"negative", with(Volts(-0.3), 0.001), "-300.0 mV ± 1.0 mV"},
		{"negative rounds to zero", with(Volts(-0.0003), 0.005), "0 mV ± 5 mV"},
		{"place above the unit", with(Ohms(5103), 3000), "5 kΩ ± 3 kΩ"},
		{"place above the unit, no prefix", with(Seconds(1234), 300), "1200 s ± 300 s"},
		{"place far above", with(Seconds(1234), 30000), "0 s ± 30000 s"},
		{"temperature", with(Celsius(25.04), 0.5), "25.0 °C ± 0.5 °C"},
		{"difference of temperatures", with(Quantity{5.04, Temperature}, 0.5), "5.0 K ± 0.5 K"},
		{"number", with(Pure(0.99876), 0.0021), "0.9988 ± 0.0021"},
		{"microamperes", with(Amperes(11.05e-6), 0.4e-6), "11.1 µA ± 0.4 µA"},
		{"carry of the value to a new prefix", with(Volts(0.99996), 0.001), "1.0000 V ± 0.0010 V"},
		{"out of the prefixes", with(Pure(1e-9), 3e-10), "1.0e-9 ± 3e-10"},
		{"at least", with(Volts(6.1435), 0.012).WithBound(AtLeast), "≥ 6.144 V"},
		{"at least, no uncertainty", Known(Volts(6.14)).WithBound(AtLeast), "≥ 6.14 V"},
		{"at most", with(Volts(0.0012), 0.001).WithBound(AtMost), "≤ 1.2 mV"},
		{"known", Known(Volts(4.75)), "4.75 V"},
		{"not finite", with(Volts(math.NaN()), 1), "NaN V"},
		{"uncertainty not finite", with(Volts(1), math.Inf(1)), "1 V"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, c.m.String()) })
	}
}

func TestPrintedUncertaintyKeepsItsSize(t *testing.T) {
	// The rule keeps two digits up to 29 and one from 3 on: rounding changes U
	// by less than half of the last digit, at worst 0.5/3.
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(1e-9, 1e6).Draw(t, "u")
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "v")
		m := with(Volts(v), u)
		number, spread := m.rounded(u)
		printedV, err := ParseAs(number, Voltage)
		require.NoError(t, err)
		printedU, err := ParseAs(spread, Voltage)
		require.NoError(t, err)
		require.InEpsilon(t, u, printedU.SI, 0.5/3+1e-9, m.String())
		require.InDelta(t, v, printedV.SI, u*0.5/3*(1+1e-9)+1e-9*math.Abs(v), m.String())
	})
}

func TestValidate(t *testing.T) {
	require.NoError(t, with(Volts(5), 0.01).Validate())
	require.ErrorIs(t, with(Volts(math.Inf(1)), 0.01).Validate(), ErrRange)
	for name, c := range map[string]Contribution{
		"negative std": Normal("gain", -1, 1, 0),
		"std NaN":      Normal("gain", math.NaN(), 1, 0),
		"sens Inf":     Normal("gain", 1, math.Inf(1), 0),
		"negative dof": Normal("gain", 1, 1, -1),
	} {
		t.Run(name, func(t *testing.T) {
			err := NewMeasured(Volts(5), c).Validate()
			require.ErrorIs(t, err, ErrUncertainty)
			require.ErrorContains(t, err, `contribution "gain"`)
		})
	}
}

func TestDistributions(t *testing.T) {
	cases := []struct {
		name string
		c    Contribution
		std  float64
	}{
		{"uniform 4.3.7", Uniform("a", 0.6, 1), 0.346410161513775},
		{"resolution F.2.2.1", Resolution("a", 1, 1), 0.288675134594813},
		{"triangular 4.3.9", Triangular("a", 1, 1), 0.408248290463863},
		{"certificate 4.3.3", Certificate("a", 0.4, 2, 1), 0.2},
		// Example of 4.3.4: a standard resistor with 129 µΩ at 99 %, k = 2.58,
		// has a standard uncertainty of 50 µΩ.
		{"certificate 4.3.4", Certificate("r_s", 129, 2.58, 1), 50},
		{"normal", Normal("a", 0.1, 1, 5), 0.1},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { require.InEpsilon(t, c.std, c.c.Std, 1e-12) })
	}
}

func TestRepeat(t *testing.T) {
	// JCGM 100:2008, 4.4.3 and table 1: twenty temperatures, mean 100.145 °C,
	// s = 1.489 °C, standard uncertainty of the mean 0.333 °C (rounded there
	// to 0.33). Readings from memory; they reproduce the printed figures.
	readings := []float64{
		96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
		100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
	}
	mean, c := Repeat("thermometer repeat", readings)
	require.InDelta(t, 100.145, mean, 5e-4)
	require.InDelta(t, 0.333, c.Std, 5e-4)
	require.Equal(t, 19.0, c.DOF)

	_, c = Repeat("one", []float64{5})
	require.Zero(t, c.Std)
	require.Zero(t, c.DOF)
	mean, _ = Repeat("none", nil)
	require.True(t, math.IsNaN(mean))
}
