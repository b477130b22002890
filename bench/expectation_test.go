package bench_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

func TestEveryChannelHasABudget(t *testing.T) {
	w := shippedRig(t)
	for i := range w.Channels {
		c := &w.Channels[i]
		at := c.Highest.Scale(0.5)
		switch c.Kind {
		case wiring.TerminationChannel:
			at = quantity.Ohms(5100)
		case wiring.TemperatureChannel:
			at = quantity.Celsius(25)
		case wiring.CurrentChannel:
			at = quantity.Amperes(0.05)
		}
		list, err := bench.Expect(w, nil, c.Name, at)
		require.NoError(t, err, c.Name)
		require.Len(t, list, max(1, len(c.Ranges), len(c.Pulls)), c.Name)
		for _, e := range list {
			require.Equal(t, c.Name, e.Channel)
			require.InEpsilon(t, at.SI, e.Value.SI, 1e-6, "%s %s", c.Name, e.Variant)
			require.NoError(t, e.Value.Validate())
			require.Positive(t, e.Value.Std(), c.Name)
		}
	}
	_, err := bench.Expect(w, nil, "nothing", quantity.Volts(1))
	require.ErrorIs(t, err, wiring.ErrUnknown)
	_, err = bench.Expect(w, nil, "vbus", quantity.Amperes(1))
	var dim *quantity.DimError
	require.ErrorAs(t, err, &dim)
}

func TestExpectationBeyondARangeIsABound(t *testing.T) {
	list, err := bench.Expect(shippedRig(t), nil, "ibus", quantity.Amperes(0.5))
	require.NoError(t, err)
	require.Equal(t, quantity.Exact, list[0].Value.Bound, "high range")
	require.Equal(t, quantity.AtLeast, list[1].Value.Bound, "the 1 Ω shunt ends at 82 mV")
}

// loadingHalf is what the bench allows for the input resistance of a converter.
const loadingHalf = 0.5

// divides is what a divider with an input beside its lower part divides by.
func divides(u, l, z float64) float64 {
	p := l * z / (l + z)
	return (u + p) / p
}

// draws are values of what the model of a voltage channel is uncertain of, each
// from the distribution that the wiring stands for (JCGM 101:2008, 6.4).
type draws struct{ rng *rand.Rand }

func (d draws) within(half float64) float64 { return half * (2*d.rng.Float64() - 1) }

// volts is one trial of a voltage read through a divider: what a converter with
// these errors shows, turned back by the nominal values.
func (d draws) volts(truth float64, c *wiring.Chip, upper, lower *wiring.Part, step float64, n int) float64 {
	u := upper.Value.Nominal.SI * (1 + d.within(upper.Value.Relative()))
	l := lower.Value.Nominal.SI * (1 + d.within(lower.Value.Relative()))
	z := c.Loading.SI * (1 + d.within(loadingHalf))
	raw := truth/divides(u, l, z)*(1+d.within(c.Gain.SI)) + d.within(c.Offset.SI) + d.within(step/2)
	raw += c.Noise.SI / math.Sqrt(float64(n)) * d.rng.NormFloat64()
	return raw * divides(upper.Value.Nominal.SI, lower.Value.Nominal.SI, c.Loading.SI)
}

// The law of propagation against JCGM 101:2008, section 7: 200,000 trials of
// the whole model, not of its derivatives.
func TestVoltageBudgetAgreesWithMonteCarlo(t *testing.T) {
	w := shippedRig(t)
	const truth, trials = 4.9, 200_000
	list, err := bench.Expect(w, nil, "vbus", quantity.Volts(truth))
	require.NoError(t, err)
	chip, _ := w.Chip("adc1")
	upper, _ := w.Part("r_vbus_top")
	lower, _ := w.Part("r_vbus_bot")
	d := draws{rand.New(rand.NewPCG(1, 2))}
	values := make([]float64, trials)
	for i := range values {
		values[i] = d.volts(truth, chip, upper, lower, adc16x4.FS4096.LSB().SI, list[0].Conversions)
	}
	agrees(t, values, list[0].Value)
}

// The same for a termination, whose model is not linear: two readings of one
// converter, whose gain cancels.
func TestTerminationBudgetAgreesWithMonteCarlo(t *testing.T) {
	w := shippedRig(t)
	const truth, rail, trials = 5100.0, 3.3, 200_000
	list, err := bench.Expect(w, nil, "rd1", quantity.Ohms(truth))
	require.NoError(t, err)
	chip, _ := w.Chip("adc1")
	part := func(name string) *wiring.Part {
		p, ok := w.Part(name)
		require.True(t, ok)
		return p
	}
	pull, ct, cb, rt, rb := part("r_pu_lo"), part("r_cc1_top"), part("r_cc1_bot"), part("r_rail_top"), part("r_rail_bot")
	d := draws{rand.New(rand.NewPCG(3, 4))}
	step := adc16x4.FS2048.LSB().SI
	values := make([]float64, trials)
	for i := range values {
		of := func(p *wiring.Part) float64 { return p.Value.Nominal.SI * (1 + d.within(p.Value.Relative())) }
		up, u, l, u2, l2 := of(pull), of(ct), of(cb), of(rt), of(rb)
		gain, z1, z2 := 1+d.within(chip.Gain.SI), chip.Loading.SI*(1+d.within(loadingHalf)), chip.Loading.SI*(1+d.within(loadingHalf))
		offset := d.within(chip.Offset.SI) // of one converter: the same in both
		noise := func() float64 {
			return chip.Noise.SI/math.Sqrt(float64(list[0].Conversions))*d.rng.NormFloat64() + d.within(step/2)
		}
		load := 1 / (u + l*z1/(l+z1))
		pin := rail / (1 + up*(1/truth+load))
		nominal := divides(510e3, 510e3, chip.Loading.SI)
		v := (pin/divides(u, l, z1)*gain + offset + noise()) * nominal
		r := (rail/divides(u2, l2, z2)*gain + offset + noise()) * nominal
		q, g := v/r, 1/(510e3+510e3*chip.Loading.SI/(510e3+chip.Loading.SI))
		values[i] = q * 10e3 / (1 - q*(1+10e3*g))
	}
	agrees(t, values, list[0].Value)
}

// agrees holds trials against a budget: the standard deviation within 2 %, and
// the part of the trials within U (k = 2) at or above 95 %, as it is where
// rectangular causes dominate (JCGM 101:2008, 9.2.3).
func agrees(t *testing.T, values []float64, m quantity.Measured) {
	t.Helper()
	mean, squares := 0.0, 0.0
	for _, v := range values {
		mean += v / float64(len(values))
	}
	inside := 0
	for _, v := range values {
		squares += (v - mean) * (v - mean)
		if math.Abs(v-m.SI) <= m.U().SI {
			inside++
		}
	}
	std := math.Sqrt(squares / float64(len(values)-1))
	require.InEpsilon(t, std, m.Std(), 0.02)
	require.InDelta(t, m.SI, mean, 0.05*std)
	share := float64(inside) / float64(len(values))
	require.Greater(t, share, 0.95)
}

func TestCalibrationTakesThePlaceOfTolerances(t *testing.T) {
	w := shippedRig(t)
	cal := &bench.Calibration{ID: "c-1", Corrections: []bench.Correction{{
		Channel: "vbus", Centre: 2.5, Level: 2.503, Slope: 1.0012, LevelStd: 2e-4, SlopeStd: 1e-4, DOF: 3,
		Reference: "reference meter", ReferenceGain: 5e-5, ReferenceOffset: 1e-4, DriftGain: 1e-4, DriftOffset: 1e-4,
	}}}
	before, err := bench.Expect(w, nil, "vbus", quantity.Volts(5))
	require.NoError(t, err)
	after, err := bench.Expect(w, cal, "vbus", quantity.Volts(5))
	require.NoError(t, err)
	require.InDelta(t, 5, after[0].Value.SI, 1e-9)
	require.Less(t, after[0].Value.U().SI, before[0].Value.U().SI/2)
	shares := map[string]float64{}
	for _, p := range after[0].Value.Parts {
		require.NotContains(t, p.Source, "tolerance")
		require.NotContains(t, p.Source, "adc1")
		shares[p.Source] = p.Share()
	}
	// What was read is 2.5 + (5 - 2.503)/1.0012, so the slope acts over 2.494.
	require.InEpsilon(t, 1e-4*(5-2.503)/1.0012, shares["vbus calibration, slope"], 1e-9)
	require.InEpsilon(t, 2e-4, shares["vbus calibration, level"], 1e-9)
	require.InEpsilon(t, 5*5e-5, shares["reference meter gain"], 1e-9)
	require.InEpsilon(t, 5*1e-4/math.Sqrt(3), shares["vbus drift, gain"], 1e-9)
	// Another channel keeps what the wiring says.
	other, err := bench.Expect(w, cal, "cc1", quantity.Volts(1))
	require.NoError(t, err)
	require.Contains(t, sources(other[0].Value), "adc1 gain")
}

func sources(m quantity.Measured) []string {
	var out []string
	for _, p := range m.Parts {
		out = append(out, p.Source)
	}
	return out
}

func TestCalibrationMustFitTheRig(t *testing.T) {
	w := shippedRig(t)
	for name, k := range map[string]bench.Correction{
		"no such channel":        {Channel: "nothing", Slope: 1},
		"a range of a voltage":   {Channel: "vbus", Range: "high", Slope: 1},
		"a current without one":  {Channel: "ibus", Slope: 1},
		"a computed channel":     {Channel: "rd1", Slope: 1},
		"a slope of the mirror":  {Channel: "vbus", Slope: -1},
		"a slope that is no one": {Channel: "vbus", Slope: math.NaN()},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := bench.Expect(w, &bench.Calibration{ID: "c-1", Corrections: []bench.Correction{k}}, "vbus", quantity.Volts(1))
			require.Error(t, err)
			require.ErrorContains(t, err, "c-1")
		})
	}
}
