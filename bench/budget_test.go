package bench

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// resistor is a part with a relative tolerance.
func resistor(name, a, b string, ohms, relative float64) *wiring.Part {
	return &wiring.Part{Name: name, Kind: wiring.Resistor, A: a, B: b,
		Value: wiring.Toleranced{Nominal: quantity.Ohms(ohms), Tolerance: quantity.Pure(relative)}}
}

// adcChip is a converter with the loading that one without a buffer has (TI
// ADS1115L data sheet SBASAV5: 6 MΩ at ±2.048 V).
func adcChip(loading float64) *wiring.Chip {
	return &wiring.Chip{Name: "adc", Kind: wiring.ADC, Inputs: []string{"tap"}, Gain: quantity.Pure(0.0015),
		Offset: quantity.Volts(0.3e-3), Noise: quantity.Volts(60e-6), Loading: quantity.Ohms(loading)}
}

// dividedBy is what a divider with an input beside its lower part divides by.
func dividedBy(u, l, z float64) float64 {
	p := l * z / (l + z)
	return (u + p) / p
}

func TestDividerBudgetAgreesWithDifferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(1e3, 1e6).Draw(t, "upper")
		l := rapid.Float64Range(1e3, 1e6).Draw(t, "lower")
		z := rapid.Float64Range(1e6, 1e9).Draw(t, "loading")
		chip := adcChip(z)
		b := chipBudget(chip, quantity.Voltage)
		b.divided(resistor("u", "net", "tap", u, 0.001), resistor("l", "tap", "gnd", l, 0.001), chip, 0)
		require.InEpsilon(t, dividedBy(u, l, z), b.factor, 1e-9)
		const h = 1e-5
		for i, moved := range []float64{
			(dividedBy(u*(1+h), l, z) - dividedBy(u*(1-h), l, z)) / (2 * h),
			(dividedBy(u, l*(1+h), z) - dividedBy(u, l*(1-h), z)) / (2 * h),
			(dividedBy(u, l, z*(1+h)) - dividedBy(u, l, z*(1-h))) / (2 * h),
		} {
			require.InDelta(t, moved/b.factor, b.relatives[1+i].sens, 1e-6, "%s", b.relatives[1+i].source)
		}
	})
}

func TestBudgetWithoutLoadingIsThePlainDivider(t *testing.T) {
	chip := adcChip(0)
	b := chipBudget(chip, quantity.Voltage)
	b.divided(resistor("u", "net", "tap", 30e3, 0.001), resistor("l", "tap", "gnd", 10e3, 0.001), chip, 0)
	require.InDelta(t, 4, b.factor, 1e-12)
	require.Len(t, b.relatives, 3, "gain and two resistors")
}

func TestShuntBudget(t *testing.T) {
	b := chipBudget(adcChip(0), quantity.Current)
	b.shunted(resistor("s", "a", "b", 0.1, 0.001))
	s := stats{step: meterStep}
	s.add(0.04)
	m := b.measured(&s, "ibus #1")
	require.InDelta(t, 0.4, m.SI, 1e-12)
	require.Equal(t, quantity.Current, m.Dim)
	// 0.15 % and 0.1 % of 0.4 A and 0.3 mV in 0.1 Ω, uniform, in quadrature.
	want := math.Sqrt(sq(0.0015*0.4)+sq(0.001*0.4)+sq(3e-3)+sq(meterStep/0.1/2)) / math.Sqrt(3)
	require.InEpsilon(t, want, m.Std(), 1e-6)
}

func sq(x float64) float64 { return x * x }

func TestSpreadIsTypeAFromFiveOn(t *testing.T) {
	s := stats{conversion: 2}
	for _, x := range []float64{1, 2, 3, 4} {
		s.add(x)
	}
	std, dof := s.spread()
	require.Equal(t, 1.0, std, "the noise that the wiring states, over √4")
	require.Zero(t, dof)
	s.add(5)
	std, dof = s.spread()
	// JCGM 100:2008, 4.2.3: s = √2.5 of 1 to 5, over √5.
	require.InEpsilon(t, math.Sqrt(2.5/5), std, 1e-12)
	require.Equal(t, 4.0, dof)
	mean, c := quantity.Repeat("x", []float64{1, 2, 3, 4, 5})
	require.InEpsilon(t, mean, s.mean, 1e-12)
	require.InEpsilon(t, c.Std, std, 1e-12)
}

func TestBudgetBounds(t *testing.T) {
	b := chipBudget(adcChip(0), quantity.Voltage)
	b.highest = 3
	for _, c := range []struct {
		s    stats
		si   float64
		want quantity.Bound
	}{
		{stats{mean: 1, n: 1}, 1, quantity.Exact},
		{stats{mean: 2, n: 1, high: true}, 2, quantity.AtLeast},
		{stats{mean: -2, n: 1, low: true}, -2, quantity.AtMost},
		{stats{mean: 3.5, n: 1}, 3, quantity.AtLeast},
	} {
		m := b.measured(&c.s, "x")
		require.Equal(t, c.want, m.Bound)
		require.Equal(t, c.si, m.SI)
	}
}

func TestRangeForHoldsTheValue(t *testing.T) {
	c := &channel{spec: &wiring.Channel{Highest: quantity.Volts(6)}, budget: budget{factor: 2}}
	for value, want := range map[float64]adc16x4.Range{
		0: adc16x4.FS4096, 6: adc16x4.FS4096, 5.5: adc16x4.FS4096, 4: adc16x4.FS2048, 3.3: adc16x4.FS2048,
		2: adc16x4.FS1024, -0.4: adc16x4.FS0256, 0.1: adc16x4.FS0256, 12: adc16x4.FS6144, 100: adc16x4.FS6144,
	} {
		require.Equal(t, want, c.rangeFor(value), "%g V", value)
	}
}

func TestRateForKeepsTheInterval(t *testing.T) {
	for interval, want := range map[time.Duration]adc16x4.Rate{
		0: adc16x4.SPS860, 1200 * time.Microsecond: adc16x4.SPS860, 8 * time.Millisecond: adc16x4.SPS128,
		time.Second: adc16x4.SPS8, 20 * time.Millisecond: adc16x4.SPS64,
	} {
		got, err := rateFor(interval)
		require.NoError(t, err)
		require.Equal(t, want, got, "%s", interval)
	}
	_, err := rateFor(time.Millisecond)
	require.Error(t, err)
}

func TestLoadsAreSeriesAndParallel(t *testing.T) {
	n := loads{{"cc", "tap", 510e3, "top", 0.001}, {"tap", wiring.Ground, 510e3, "bottom", 0.001}}
	g, err := n.conductance("cc")
	require.NoError(t, err)
	require.InEpsilon(t, 1/1.02e6, g, 1e-12)

	n = append(n, loadPart{"tap", wiring.Ground, 6e6, "input", 0.5}, loadPart{wiring.Ground, "cc", 2e6, "leak", 0.1})
	m, err := n.measured("cc")
	require.NoError(t, err)
	require.InEpsilon(t, 1/(510e3+510e3*6e6/(510e3+6e6))+1/2e6, m.SI, 1e-12)
	// A resistance alone: the conductance moves as much the other way.
	for _, p := range m.Parts {
		if p.Source == "leak" {
			require.InEpsilon(t, -1/2e6, p.Sens, 1e-6)
		}
	}
	require.Len(t, m.Parts, 4)

	none, err := loads{}.measured("cc")
	require.NoError(t, err)
	require.Zero(t, none.SI)
	_, err = loads{{"cc", wiring.Ground, 0, "short", 0}}.measured("cc")
	require.Error(t, err)
}

func TestResistanceSolvesThePullUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rd := math.Pow(10, rapid.Float64Range(1, 5).Draw(t, "log10 Ω"))
		pull := rapid.Float64Range(5e3, 50e3).Draw(t, "pull-up")
		load := 1 / rapid.Float64Range(0.5e6, 5e6).Draw(t, "load")
		v := 3.3 / pull / (1/pull + 1/rd + load)
		known := func(si float64, d quantity.Dim) quantity.Measured {
			return quantity.Known(quantity.Quantity{SI: si, Dim: d})
		}
		m, err := resistance(known(v, quantity.Voltage), known(3.3, quantity.Voltage),
			known(pull, quantity.Resistance), known(load, quantity.Conductance))
		require.NoError(t, err)
		require.InEpsilon(t, rd, m.SI, 1e-9)
		require.Equal(t, quantity.Resistance, m.Dim)
	})
}

func TestResistanceOfADrivenPinAndADeadRail(t *testing.T) {
	volts := func(v float64) quantity.Measured {
		return quantity.NewMeasured(quantity.Volts(v), quantity.Normal("", 1e-3, 1, 0))
	}
	pull := quantity.Known(quantity.Ohms(10e3))
	load := quantity.Known(quantity.Quantity{SI: 1e-6, Dim: quantity.Conductance})
	m, err := resistance(volts(3.4), volts(3.3), pull, load)
	require.NoError(t, err)
	require.Equal(t, quantity.AtLeast, m.Bound, "a pin above the rail shows no resistance to ground")
	_, err = resistance(volts(0), volts(0), pull, load)
	require.Error(t, err)
}
