package plot

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestTicksAtOneTwoFive(t *testing.T) {
	cases := []struct {
		name      string
		low, high float64
		want      string
	}{
		{"volts", 0, 5, "0 1 2 3 4 5"},
		{"with room at the edges", -0.3, 5.3, "0 2 4"},
		{"tenths", 0, 0.5, "0 0.1 0.2 0.3 0.4 0.5"},
		{"hundreds", 0, 1300, "0 500 1000"},
		{"negative", -3, 2, "-3 -2 -1 0 1 2"},
		{"small", 0, 0.0003, "0 0.0001 0.0002 0.0003"},
		{"large", 0, 4e8, "0 1e+08 2e+08 3e+08 4e+08"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var labels []string
			for _, tick := range (ticks{5}).Ticks(c.low, c.high) {
				labels = append(labels, tick.Label)
			}
			require.Equal(t, c.want, strings.Join(labels, " "))
		})
	}
}

func TestLongLabelsGetHalfAsManyTicks(t *testing.T) {
	require.Len(t, (ticks{10}).Ticks(0, 10), 11)
	long := (ticks{10}).Ticks(145.6, 145.600005)
	require.LessOrEqual(t, len(long), 6)
	require.Equal(t, "145.600000", long[0].Label)
}

func TestTicksOfNoRange(t *testing.T) {
	for _, high := range []float64{1, math.Inf(1), math.NaN()} {
		require.Len(t, (ticks{5}).Ticks(1, high), 1)
	}
}

func TestTicksKeepTheirPromises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e6, 1e6).Draw(t, "low")
		size := math.Pow(10, rapid.Float64Range(-3, 7).Draw(t, "size"))
		want := rapid.IntRange(2, 12).Draw(t, "want")
		list := (ticks{want}).Ticks(low, low+size)
		require.LessOrEqual(t, len(list), want+1)
		require.GreaterOrEqual(t, len(list), want/2*2/5-1, "a step is at most two and a half times the least one")
		for i, tick := range list {
			// A share of the range, and the last bits of the numbers themselves.
			slack := size*1e-8 + (math.Abs(low)+size)*1e-15
			require.True(t, tick.Value >= low-slack && tick.Value <= low+size+slack, "%g is outside", tick.Value)
			read, err := strconv.ParseFloat(tick.Label, 64)
			require.NoError(t, err)
			require.InDelta(t, tick.Value, read, size*1e-3+math.Abs(tick.Value)*1e-5)
			if i == 0 {
				continue
			}
			step := tick.Value - list[i-1].Value
			mantissa := step / math.Pow(10, math.Floor(math.Log10(step)+1e-6))
			require.True(t, near(mantissa, 1) || near(mantissa, 2) || near(mantissa, 5), "step %g", step)
			require.NotEqual(t, list[i-1].Label, tick.Label)
		}
	})
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-3 }

func TestPrefixes(t *testing.T) {
	cases := []struct {
		unit    string
		largest float64
		want    string
	}{
		{"A", 0.4, "mA"}, {"A", 4e-7, "nA"}, {"A", 1, "A"}, {"A", 0.9999, "mA"}, {"V", 5.2, "V"}, {"Ω", 5100, "kΩ"},
		{"Ω", 3.4e6, "MΩ"}, {"F", 1e-6, "µF"}, {"F", 1e-15, "pF"}, {"s", 0.02, "ms"}, {"s", 90, "s"}, {"s", 5000, "s"},
		{"Hz", 1e12, "GHz"}, {"V/s", 12000, "kV/s"}, {"°C", 0.01, "°C"}, {"1", 1e6, "1"}, {"", 1e-6, ""}, {"V", 0, "V"},
	}
	for _, c := range cases {
		t.Run(c.unit+strconv.FormatFloat(c.largest, 'g', -1, 64), func(t *testing.T) {
			a, factor := Axis{Unit: c.unit}.prefixed(c.largest)
			require.Equal(t, c.want, a.Unit)
			if c.largest > 1e-12 && c.largest < 1e3 && c.unit != "1" && c.unit != "" && c.unit != "°C" {
				require.True(t, c.largest/factor >= 0.999 && c.largest/factor < 1000, "%g / %g", c.largest, factor)
			}
		})
	}
}

func TestDigits(t *testing.T) {
	for v, want := range map[float64]string{
		0: "0", 4: "4.0", 0.8: "0.80", 4.75: "4.75", 60: "60", 500: "500", 438.7: "438.7", 1.164: "1.164",
		-0.25: "-0.25", 0.00001: "1e-05", 1234567: "1235000", 1e9: "1e+09", 9.9999: "10", 0.1 + 0.2: "0.30",
	} {
		require.Equal(t, want, digits(v))
	}
}
