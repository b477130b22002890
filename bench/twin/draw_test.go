package twin

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

func TestStreamsAreNamed(t *testing.T) {
	first := stream(1, "unit", "S1", "rd cc1").Uint64()
	require.Equal(t, first, stream(1, "unit", "S1", "rd cc1").Uint64(), "the same name gives the same numbers")
	for _, other := range [][]string{{"unit", "S1", "rd cc2"}, {"unit", "S2", "rd cc1"}, {"unit", "S1rd", " cc1"}, {"unit", "S1"}} {
		require.NotEqual(t, first, stream(1, other...).Uint64(), "%q", other)
	}
	require.NotEqual(t, first, stream(2, "unit", "S1", "rd cc1").Uint64())
}

// The first numbers of many streams are as even as the numbers of one: each
// tenth of the interval gets its share (chi-squared with 9 degrees of freedom,
// 0.1 % point 27.88; any table).
func TestStreamsAreEven(t *testing.T) {
	var tenths [10]int
	const n = 20000
	for i := range n {
		tenths[int(10*stream(uint64(i), "even").Float64())]++
	}
	chi := 0.0
	for _, k := range tenths {
		d := float64(k) - n/10
		chi += d * d / (n / 10)
	}
	require.Less(t, chi, 27.88)
}

func TestDrawsStayWithinTolerance(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		nominal := rapid.Float64Range(-1e3, 1e3).Draw(r, "nominal")
		share := rapid.Float64Range(0, 0.9).Draw(r, "share")
		dim := rapid.SampledFrom([]quantity.Dim{quantity.Voltage, quantity.Number}).Draw(r, "dimension")
		v := wiring.Toleranced{Nominal: quantity.Quantity{SI: nominal, Dim: dim}, Tolerance: quantity.Pure(share)}
		x := within(stream(rapid.Uint64().Draw(r, "seed"), "x"), v)
		require.LessOrEqual(r, x, v.High().SI+1e-9)
		require.GreaterOrEqual(r, x, v.Low().SI-1e-9)
	})
}

func TestSeverityScales(t *testing.T) {
	require.Equal(t, 2.0, linear(0, 2, 8))
	require.Equal(t, 8.0, linear(1, 2, 8))
	require.Equal(t, 5.0, linear(0.5, 2, 8))
	require.InDelta(t, 2.0, logarithmic(0, 2, 8), 1e-12)
	require.InDelta(t, 8.0, logarithmic(1, 2, 8), 1e-12)
	require.InDelta(t, 4.0, logarithmic(0.5, 2, 8), 1e-12)
}

// A fault draws only what is its own: everything else of the unit stays as it
// is without the fault.
func TestFaultsShiftNoOtherDraw(t *testing.T) {
	p := shippedProduct(t, "hand-lamp")
	good := drawBoard(3, p, "S1")
	for _, d := range Faults() {
		bad := drawBoard(3, p, "S1")
		require.NoError(t, bad.damage(3, []Fault{{Name: d.Name}}))
		if d.Name != "indicator-dead" {
			require.Equal(t, good.light, bad.light, d.Name)
		}
		if d.Groups[0] != groupBulk {
			require.Equal(t, good.farads, bad.farads, d.Name)
		}
		if d.Groups[0] != groupRd {
			require.Equal(t, good.rd, bad.rd, d.Name)
		}
		if d.Groups[0] != groupCurrent {
			require.Equal(t, good.charger.ChargeAmperes, bad.charger.ChargeAmperes, d.Name)
		}
		require.Equal(t, good.load, bad.load, d.Name)
		require.Equal(t, good.leak, bad.leak, d.Name)
	}
}
