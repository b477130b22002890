package quantity

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestString(t *testing.T) {
	tenth := 0.1 // a variable, so that the sum is a float64 sum
	cases := []struct {
		q    Quantity
		want string
	}{
		{Volts(4.75), "4.75 V"},
		{Volts(-4.75), "-4.75 V"},
		{Volts(0), "0 V"},
		{Volts(math.Copysign(0, -1)), "0 V"},
		{Volts(0.25), "250 mV"},
		{Volts(tenth + 0.2), "300.00000000000004 mV"},
		{Volts(999.9), "999.9 V"},
		{Volts(1000), "1 kV"},
		{Ohms(5100), "5.1 kΩ"},
		{Ohms(126e3), "126 kΩ"},
		{Ohms(1.0 / 6), "166.66666666666666 mΩ"},
		{Farads(10e-6), "10 µF"},
		{Farads(4.7e-13), "470 fF"},
		{Amperes(11.05e-6), "11.05 µA"},
		{Seconds(0.475), "475 ms"},
		{Seconds(1800), "1800 s"},
		{Hertz(860), "860 Hz"},
		{Hertz(1e16), "10000 THz"},
		{Quantity{1.5, SlewRate}, "1.5 V/s"},
		{Quantity{3000, SlewRate}, "3 kV/s"},
		{Quantity{25, 2 * Voltage}, "25 V²"},
		{Quantity{0.01, -Temperature}, "0.01 1/K"},
		{Celsius(25), "25 °C"},
		{Celsius(-40), "-40 °C"},
		{Celsius(0), "0 °C"},
		{Quantity{5, Temperature}, "5 K"},
		{Quantity{0.25, Temperature}, "250 mK"},
		{Pure(0.05), "0.05"},
		{Pure(123456), "123456"},
		{Pure(1e-9), "1e-9"},
		{Pure(1.5e20), "1.5e20"},
		{Volts(1e30), "1e30 V"},
		{Farads(1e-30), "1e-30 F"},
		{Volts(math.NaN()), "NaN V"},
		{Pure(math.Inf(-1)), "-Inf"},
		{Quantity{math.Inf(1), Temperature}, "+Inf K"},
	}
	for _, c := range cases {
		t.Run(c.want, func(t *testing.T) { require.Equal(t, c.want, c.q.String()) })
	}
}

func TestText(t *testing.T) {
	cases := []struct {
		q      Quantity
		digits int
		want   string
	}{
		{Volts(4.7), 4, "4.700 V"},
		{Volts(4.98765), 4, "4.988 V"},
		{Volts(0.99996), 4, "1.000 V"},
		{Volts(0.0999), 1, "100 mV"},
		{Volts(0), 3, "0.00 V"},
		{Ohms(5103.4), 3, "5.10 kΩ"},
		{Seconds(1234), 2, "1200 s"},
		{Seconds(0.475), 2, "480 ms"},
		{Celsius(23.46), 3, "23.5 °C"},
		{Pure(0.98765), 2, "0.99"},
		{Volts(4.7), 0, "5 V"},
		{Volts(math.NaN()), 3, "NaN V"},
	}
	for _, c := range cases {
		t.Run(c.want, func(t *testing.T) { require.Equal(t, c.want, c.q.Text(c.digits)) })
	}
}

func TestPercent(t *testing.T) {
	require.Equal(t, "5 %", Pure(0.05).Percent())
	require.Equal(t, "0.1 %", Pure(0.001).Percent())
	require.Equal(t, "-12.5 %", Pure(-0.125).Percent())
	require.Equal(t, "100 %", Pure(1).Percent())
	require.Equal(t, "4.75 V", Volts(4.75).Percent())
	require.Equal(t, "NaN", Pure(math.NaN()).Percent())
	back, err := Parse(Pure(0.07).Percent())
	require.NoError(t, err)
	require.Equal(t, Pure(0.07), back)
}

func TestIn(t *testing.T) {
	v, err := Volts(0.25).In("mV")
	require.NoError(t, err)
	require.Equal(t, 250.0, v)
	_, err = Volts(1).In("mA")
	require.ErrorIs(t, err, ErrDim)
	_, err = Volts(1).In("volt")
	var perr *ParseError
	require.ErrorAs(t, err, &perr)
}
