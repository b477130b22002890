package page

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

func TestNumbers(t *testing.T) {
	cases := []struct {
		name string
		v    record.Value
		want string
	}{
		{"with uncertainty", record.Value{Value: 4.98712, Unit: "V", U: 0.006}, "4.987 V ± 0.006 V"},
		{"small", record.Value{Value: -0.0005675, Unit: "V", U: 0.0007}, "-600 µV ± 700 µV"},
		{"kiloohm", record.Value{Value: 5097.32, Unit: "Ω", U: 11.3}, "5.097 kΩ ± 0.011 kΩ"},
		{"without uncertainty", record.Value{Value: 1.0 / 3, Unit: "V"}, "333.333 mV"},
		{"exact", record.Value{Value: 0.4, Unit: "A"}, "400 mA"},
		{"at least, rounded down", record.Value{Value: 1.30099, Unit: "s", Bound: record.AtLeast}, "≥ 1.3 s"},
		{"at least, exact", record.Value{Value: 1e6, Unit: "Ω", Bound: record.AtLeast}, "≥ 1 MΩ"},
		{"at most, rounded up", record.Value{Value: 0.120001, Unit: "A", Bound: record.AtMost}, "≤ 120.1 mA"},
		{"at least, negative", record.Value{Value: -1.23456, Unit: "V", Bound: record.AtLeast}, "≥ -1.235 V"},
		{"bound of zero", record.Value{Unit: "V", Bound: record.AtMost}, "≤ 0 V"},
		{"pure number", record.Value{Value: 0.981, Unit: "1", U: 0.002}, "0.9810 ± 0.0020"},
		{"unknown unit", record.Value{Value: 3, Unit: "furlong"}, "3 furlong"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, plainSpaces(valueText(c.v))) })
	}
}

// Rounding a bound must not make it untrue.
func TestBoundsStayTrue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-1e9, 1e9).Draw(t, "value")
		for _, side := range []float64{-1, 1} {
			read, err := quantity.ParseAs(outward(quantity.Volts(v), side), quantity.Voltage)
			require.NoError(t, err)
			require.GreaterOrEqual(t, (read.SI-v)*side, -math.Abs(v)*1e-12)
			require.LessOrEqual(t, math.Abs(read.SI-v), math.Abs(v)*1.001e-3)
		}
	})
}

func TestLimits(t *testing.T) {
	l := func(v, accept float64) *record.Limit { return bound(v, accept, "V", "s") }
	other := bound(5, 4.9, "V", "t")
	numbers := func(s string) string { return map[string]string{"s": "1", "t": "2"}[s] }
	cases := []struct {
		name           string
		lower, upper   *record.Limit
		want, accepted string
	}{
		{"none", nil, nil, "", ""},
		{"range", l(0.25, 0.2511), l(0.61, 0.6089), "250 mV to 610 mV [1]", "251.1 mV to 608.9 mV"},
		{"simple rule", l(0.25, 0.25), l(0.61, 0.61), "250 mV to 610 mV [1]", ""},
		{"rounded inwards", l(4, 4.00011), l(5, 4.99999), "4 V to 5 V [1]", "4.001 V to 4.999 V"},
		{"two sources", l(4, 4.01), other, "4 V [1] to 5 V [2]", "4.01 V to 4.9 V"},
		{"lower", l(4, 4.01), nil, "≥ 4 V [1]", "≥ 4.01 V"},
		{"upper", nil, l(0.8, 0.7993), "≤ 800 mV [1]", "≤ 799.3 mV"},
		{"one drawn in", l(1, 1), l(2, 1.9), "1 V to 2 V [1]", "≤ 1.9 V"},
		{"rounding of a product", nil, l(0.36669999999999997, 0.36669999999999997), "≤ 366.7 mV [1]", ""},
		{"unknown unit", &record.Limit{Value: 2, Unit: "ell", Source: "s", Acceptance: 3}, nil, "≥ 2 ell [1]", "≥ 3 ell"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, plainSpaces(c.want), plainSpaces(limitsText(c.lower, c.upper, numbers)))
			require.Equal(t, tie(c.accepted), acceptedText(c.lower, c.upper))
		})
	}
}

func TestTie(t *testing.T) {
	require.Equal(t, "at 4.75\u00a0V ±\u00a010\u00a0% or", tie("at 4.75 V ± 10 % or"))
	require.Equal(t, "", tie(""))
	require.Equal(t, "5 ", tie("5 "))
}

func TestTimesAndHashes(t *testing.T) {
	require.Equal(t, "18.734\u00a0s", offsetText(18_734_112))
	require.Equal(t, "2026-05-04 07:30:00 UTC", startText("2026-05-04T07:30:00.25Z"))
	require.Equal(t, "yesterday", startText("yesterday"))
	require.Equal(t, "01234567 89abcdef 01", grouped("0123456789abcdef01"))
	require.Equal(t, "", grouped(""))
	require.Equal(t, "Ärger", capital("ärger"))
	require.Equal(t, "", capital(""))
}

// plainSpaces compares texts without regard to where a line may break.
func plainSpaces(s string) string { return strings.ReplaceAll(s, "\u00a0", " ") }
