package twin

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
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

// correlationOf is that of two figures over many units.
func correlationOf(p *product.Product, units int, pick func(*board) (x, y float64)) float64 {
	var sx, sy, sxx, syy, sxy float64
	for i := range units {
		x, y := pick(drawBoard(1, p, strconv.Itoa(i)))
		sx, sy, sxx, syy, sxy = sx+x, sy+y, sxx+x*x, syy+y*y, sxy+x*y
	}
	n := float64(units)
	return (sxy - sx*sy/n) / math.Sqrt((sxx-sx*sx/n)*(syy-sy*sy/n))
}

// TestFiguresHangTogether: two normal figures have the stated correlation; two
// uniform ones 6/π asin(ρ/2) of it, the rank correlation of the Gaussian
// copula (Kruskal, JASA 53 (1958) 814).
func TestFiguresHangTogether(t *testing.T) {
	const units, rho = 4000, 0.8
	uniform := 6 / math.Pi * math.Asin(rho/2)
	for name, c := range map[string]struct {
		first, second string
		law           product.Law
		want          float64
		pick          func(*board) (float64, float64)
	}{
		"two figures of one part, uniform": {"charger.lockout_start", "charger.fast_current", product.Uniform, uniform,
			func(b *board) (float64, float64) { return b.charger.StartVolts, b.charger.ChargeAmperes }},
		"normal, five sigmas": {"charger.lockout_start", "charger.fast_current", product.Normal, rho,
			func(b *board) (float64, float64) { return b.charger.StartVolts, b.charger.ChargeAmperes }},
		"the same part twice": {"terminations.rd", "terminations.rd", product.Uniform, uniform,
			func(b *board) (float64, float64) { return b.rd[0], b.rd[1] }},
		"a figure and a part at each pin": {"indicator.light", "terminations.rd", product.Uniform, uniform,
			func(b *board) (float64, float64) { return b.light, b.rd[1] }},
		"nothing is said of these": {"port.load", "port.residual", product.Uniform, 0,
			func(b *board) (float64, float64) { return b.rd[0], b.rd[1] }},
	} {
		t.Run(name, func(t *testing.T) {
			p := *shippedProduct(t, "hand-lamp")
			p.Togethers = []product.Together{{First: c.first, Second: c.second, Correlation: rho}}
			p.Spreads = []product.Spread{
				{Parameter: c.first, Law: c.law, Sigmas: 5}, {Parameter: c.second, Law: c.law, Sigmas: 5},
			}
			require.InDelta(t, c.want, correlationOf(&p, units, c.pick), 0.04)
		})
	}
}

// TestEveryParameterHasItsStream: what hangs on a parameter hangs on the very
// number that the parameter was drawn from.
func TestEveryParameterHasItsStream(t *testing.T) {
	for _, name := range product.KnownParameters() {
		p := *shippedProduct(t, "hand-lamp")
		v, given := p.Parameter(name)
		if !given || v.HalfWidth() == 0 {
			continue
		}
		second := "port.load"
		if name == second {
			second = "port.residual"
		}
		p.Togethers = []product.Together{{First: name, Second: second, Correlation: 0.999999}}
		d := drawer{seed: 4, serial: "S1", product: &p}
		hanging := d.share(purposeBeside(second, ""), second)
		own := unitStream(4, "S1", purposeBeside(name, "")).Float64()
		require.InDelta(t, own, hanging, 0.01, name)
		// The board draws from the stream of that name and from no other.
		before := drawBoard(4, &p, "S1")
		p.Spreads = []product.Spread{{Parameter: name, Law: product.Normal, Sigmas: 9}}
		require.NotEqual(t, before, drawBoard(4, &p, "S1"), name)
	}
}

// TestALawChangesNothingElse: the draws of other parameters stay.
func TestALawChangesNothingElse(t *testing.T) {
	p := *shippedProduct(t, "hand-lamp")
	p.Spreads, p.Togethers = nil, nil
	plain := drawBoard(4, &p, "S1")
	p.Spreads = []product.Spread{{Parameter: "charger.regulation", Law: product.Normal, Sigmas: 3}}
	shaped := drawBoard(4, &p, "S1")
	require.NotEqual(t, plain.charger.RegulationVolts, shaped.charger.RegulationVolts)
	shaped.charger.RegulationVolts, shaped.charger.RechargeVolts = plain.charger.RegulationVolts, plain.charger.RechargeVolts
	shaped.charger.ReverseOhms = plain.charger.ReverseOhms
	shaped.product = plain.product
	require.Equal(t, plain, shaped)
}
