package quantity

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParse(t *testing.T) {
	// Prefixes and units: SI Brochure, 9th edition, tables 4, 7 and 8. The
	// expected value is the Go constant, which is the nearest float64.
	cases := []struct {
		text string
		want Quantity
	}{
		{"4.75 V", Volts(4.75)},
		{"4.75V", Volts(4.75)},
		{" 4.75  V ", Volts(4.75)},
		{"4.75\u00a0V", Volts(4.75)},
		{"4.75\u202fV", Volts(4.75)},
		{"-0.3 V", Volts(-0.3)},
		{"\u22120.3 V", Volts(-0.3)},
		{"+5 V", Volts(5)},
		{"0.1e1 V", Volts(1)},
		{"250 mV", Volts(0.25)},
		{"1 MV", Volts(1e6)},
		{"7812.5 nV", Volts(7812.5e-9)},
		{"5.1 kΩ", Ohms(5100)},
		{"5.1 k\u2126", Ohms(5100)},
		{"5.1kOhm", Ohms(5100)},
		{"5.1 kohm", Ohms(5100)},
		{"50 mΩ", Ohms(0.05)},
		{"1 MΩ", Ohms(1e6)},
		{"10 \u00b5F", Farads(10e-6)},
		{"10 \u03bcF", Farads(10e-6)},
		{"10uF", Farads(10e-6)},
		{"4.7 nF", Farads(4.7e-9)},
		{"500 mA", Amperes(0.5)},
		{"11.05 µA", Amperes(11.05e-6)},
		{"475 ms", Seconds(0.475)},
		{"2 min", Seconds(120)},
		{"1.5 h", Seconds(5400)},
		{"50 Hz", Hertz(50)},
		{"400 kHz", Hertz(400e3)},
		{"25 °C", Celsius(25)},
		{"-40 °C", Celsius(-40)},
		{"298.15 K", Quantity{298.15, Temperature}},
		{"2 %", Pure(0.02)},
		{"100 ppm", Pure(100e-6)},
		{"0.05", Pure(0.05)},
		{"1e3", Pure(1000)},
		{"2.5 W", Quantity{2.5, Power}},
		{"1 J", Quantity{1, Energy}},
		{"1 S", Quantity{1, Conductance}},
		{"3 mC", Quantity{3e-3, Charge}},
		{"300 mAh", Quantity{1080, Charge}},
		{"1 Wh", Quantity{3600, Energy}},
		{"0.1 V/s", Quantity{0.1, SlewRate}},
		{"3 V/ms", Quantity{3000, SlewRate}},
		{"60 V/min", Quantity{1, SlewRate}},
		{"1 kg·m²/s³", Quantity{1, Power}},
		{"1 kg*m^2/s^3", Quantity{1, Power}},
		{"1 kg·m²·s⁻³", Quantity{1, Power}},
		{"1 kg·m²·s^-3/A", Volts(1)},
		{"50 ppm/K", Quantity{50e-6, -Temperature}},
	}
	for _, c := range cases {
		t.Run(c.text, func(t *testing.T) {
			got, err := Parse(c.text)
			require.NoError(t, err)
			require.Equal(t, c.want, got)
		})
	}
}

func TestParseRefuses(t *testing.T) {
	cases := []struct {
		name, text string
		dim        Dim
		offset     int
		found      string
		want       string
	}{
		{"no unit", "4.75", Voltage, 4, "no unit", "a voltage such as 4.75 V"},
		{"wrong unit", "4.75 A", Voltage, 5, `a current in "A"`, "a voltage such as 4.75 V"},
		{"wrong unit with prefix", "5 kΩ ", Capacitance, 2, `a resistance in "kΩ"`, "a capacitance such as 10 µF"},
		{"a unit on a number", "5 V", Number, 2, `a voltage in "V"`, "a number without a unit such as 0.05 or 5 %"},
		{"nameless unit", "5 V²", Energy, 2, `a quantity in V² in "V²"`, "an energy such as 10 mJ"},
		{"letter for the point", "4k7", Resistance, 1, `the prefix "k" without its unit`, "a resistance such as 5.1 kΩ"},
		{"prefix apart", "5.1k ohm", Resistance, 3, `the prefix "k" without its unit`, "a resistance such as 5.1 kΩ"},
		{"comma", "4,75 V", Voltage, 1, "a comma", "a decimal point, as in 4.75 V"},
		{"lower case", "4.75 v", Voltage, 5, `the unknown unit "v"`, "a voltage such as 4.75 V (is V meant?)"},
		{"kelvin for kilo", "5 KΩ", Resistance, 2, `the unknown unit "KΩ"`, "a resistance such as 5.1 kΩ (is kΩ meant?)"},
		{"m or M", "1 mhz", Frequency, 2, `the unknown unit "mhz"`, "a frequency such as 50 Hz (is mHz or MHz meant?)"},
		{"prefix on a percent", "5 k%", Number, 2, `the unknown unit "k%"`, "a number without a unit such as 0.05 or 5 %"},
		{"empty", "", Voltage, 0, "nothing", "a voltage such as 4.75 V"},
		{"blank", "   ", Voltage, 3, "nothing", "a voltage such as 4.75 V"},
		{"unit alone", "V", Voltage, 0, `"V"`, "a voltage such as 4.75 V"},
		{"not a number", "NaN V", Voltage, 0, `"NaN V"`, "a voltage such as 4.75 V"},
		{"infinite", "-Inf V", Voltage, 1, `"Inf V"`, "a voltage such as 4.75 V"},
		{"point first", ".5 V", Voltage, 0, `".5 V"`, "a voltage such as 4.75 V"},
		{"point last", "5. V", Voltage, 2, `"V"`, "a digit after the decimal point"},
		{"overflow", "1e400 V", Voltage, 0, "a value beyond the range of a number", "a voltage such as 4.75 V"},
		{"overflow by prefix", "1e305 TV", Voltage, 0, "a value beyond the range of a number", "a voltage such as 4.75 V"},
		{"overflow of the exponent", "1e99999999999999999999 V", Voltage, 0, "a value beyond the range of a number", "a voltage such as 4.75 V"},
		{"overflow by factor", "1e308 h", Time, 0, "a value beyond the range of a number", "a time such as 100 ms"},
		{"underflow", " 1e-400 V", Voltage, 1, "a value beyond the range of a number", "a voltage such as 4.75 V"},
		{"two units", "5 V A", Voltage, 4, `"A"`, "a voltage such as 4.75 V"},
		{"stroke at the end", "5 V/", SlewRate, 4, "nothing", "a slew rate such as 0.1 V/s"},
		{"stroke first", "5 /s", Frequency, 2, `"/s"`, "a frequency such as 50 Hz"},
		{"celsius in a slope", "1 °C/s", Number, 2, `"°C" inside a combined unit`, "K: a unit that counts from zero"},
		{"power zero", "1 V^0", Number, 3, `"^0"`, "a power from 1 to 9"},
		{"power missing", "1 V^", Number, 3, `"^"`, "a power from 1 to 9"},
		{"power too long", "1 V^10", Number, 3, `"^10"`, "a power from 1 to 9"},
		{"powers add up", "1 s^9·s^9·s^9·s^9·s^9·s^9·s^9·s^9·s^9·s^9·s^9·s^9", Number, 57, "a power too high", "a number without a unit such as 0.05 or 5 %"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := ParseAs(c.text, c.dim)
			var perr *ParseError
			require.ErrorAs(t, err, &perr)
			require.Equal(t, ParseError{c.text, c.offset, c.found, c.want}, *perr)
			require.Contains(t, err.Error(), c.found)
			require.Contains(t, err.Error(), c.want)
		})
	}
}

func TestParseUnit(t *testing.T) {
	cases := []struct {
		text  string
		dim   Dim
		scale float64
	}{
		{"", Number, 1}, {"V", Voltage, 1}, {"mV", Voltage, 1e-3}, {"kΩ", Resistance, 1e3}, {"%", Number, 0.01},
		{"V/ms", SlewRate, 1e3}, {"min", Time, 60}, {"mAh", Charge, 3.6}, {"K", Temperature, 1}, {"V/h", SlewRate, 1.0 / 3600},
	}
	for _, c := range cases {
		t.Run(c.text, func(t *testing.T) {
			dim, scale, err := ParseUnit(c.text)
			require.NoError(t, err)
			require.Equal(t, c.dim, dim)
			require.InEpsilon(t, c.scale, scale, 1e-15)
		})
	}
	for _, bad := range []string{"°C", "volt", "5 V", "T", "GV^9/pV^9/pV^9/pA^9"} {
		t.Run(bad, func(t *testing.T) {
			_, _, err := ParseUnit(bad)
			require.Error(t, err)
		})
	}
}

// anyFinite draws the values that a float64 can hold, subnormal ones included.
func anyFinite() *rapid.Generator[float64] {
	return rapid.Custom(func(t *rapid.T) float64 {
		v := math.Float64frombits(rapid.Uint64().Draw(t, "bits"))
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return rapid.Float64Range(-1000, 1000).Draw(t, "value")
		}
		return v
	})
}

func TestPrintedQuantityParsesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dim := rapid.SampledFrom(append(Dims(), 2*Voltage, Voltage+Current-2*Time, -Temperature)).Draw(t, "dim")
		si := anyFinite().Draw(t, "si")
		if rapid.Bool().Draw(t, "usual size") {
			si = rapid.Float64Range(-1e4, 1e4).Draw(t, "si")
		}
		q := Quantity{si, dim}
		got, err := ParseAs(q.String(), dim)
		require.NoError(t, err, q.String())
		require.Equal(t, q.SI, got.SI, q.String())
		if strings.HasPrefix(dim.Unit(), "1") {
			return // "5 1/K" needs its space
		}
		tight, err := Parse(strings.Replace(q.String(), " ", "", 1))
		require.NoError(t, err)
		require.Equal(t, got, tight)
	})
}

func TestCelsiusRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tenths := rapid.IntRange(-999, 9999).Draw(t, "tenths of a degree")
		q := Celsius(float64(tenths) / 10)
		require.Regexp(t, `^-?\d+(\.\d)? °C$`, q.String())
		got, err := ParseAs(q.String(), Temperature)
		require.NoError(t, err)
		require.Equal(t, q, got)
	})
}

func FuzzParse(f *testing.F) {
	for _, seed := range []string{
		"4.75 V", "5.1kΩ", "25 °C", "2 %", "3 V/ms", "1 kg·m²·s⁻³", "4k7", "1e999 V", "−5 µA", "1 V^-", "\xff V", "1 V·\xce",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		q, err := Parse(text)
		if err != nil {
			var perr *ParseError
			if !errors.As(err, &perr) || perr.Offset < 0 || perr.Offset > len(text) || perr.Found == "" || perr.Want == "" {
				t.Fatalf("error without place or meaning: %#v", err)
			}
			return
		}
		if math.IsNaN(q.SI) || math.IsInf(q.SI, 0) {
			t.Fatalf("%q gave %v", text, q.SI)
		}
		back, err := Parse(q.String())
		if overNine(q.Dim) {
			return
		}
		if err != nil || back != q {
			t.Fatalf("%q gave %v, printed %q, read back %v, %v", text, q, q.String(), back, err)
		}
	})
}

// overNine tells whether printing needs a power that parsing refuses.
func overNine(d Dim) bool {
	e := d.exponents()
	for _, n := range []int{e[0], e[3] + e[0], e[2] + 3*e[0], e[4], e[1] - 2*e[0]} {
		if n < -9 || n > 9 {
			return true
		}
	}
	return false
}
