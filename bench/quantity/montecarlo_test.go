package quantity

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// trial draws one value per source, so that inputs that share a source share
// its error, as in JCGM 101:2008, section 7.
type trial struct {
	rng   *rand.Rand
	drawn map[string]float64
}

func (t *trial) error(c Contribution) float64 {
	if z, ok := t.drawn[c.Source]; ok {
		return z
	}
	z := 0.0
	switch c.Dist {
	case "uniform":
		z = math.Sqrt(3) * (2*t.rng.Float64() - 1)
	case "triangular":
		z = math.Sqrt(6) * (t.rng.Float64() + t.rng.Float64() - 1)
	default:
		z = t.rng.NormFloat64()
	}
	t.drawn[c.Source] = z
	return z
}

func (t *trial) draw(m Measured) float64 {
	v := m.SI
	for _, c := range m.Parts {
		v += c.Share() * t.error(c)
	}
	return v
}

// spread evaluates f over n trials and returns the standard deviation.
func spread(n int, f func(draw func(Measured) float64) float64) float64 {
	rng := rand.New(rand.NewPCG(1, 2))
	sum, squares := 0.0, 0.0
	for range n {
		t := &trial{rng: rng, drawn: map[string]float64{}}
		v := f(t.draw)
		sum += v
		squares += v * v
	}
	mean := sum / float64(n)
	return math.Sqrt(squares/float64(n) - mean*mean)
}

// must unwraps a result of arithmetic that cannot fail in the test at hand.
func must(t *testing.T) func(Measured, error) Measured {
	return func(m Measured, err error) Measured {
		t.Helper()
		require.NoError(t, err)
		return m
	}
}

// readings of one converter: a common gain error, separate offsets and steps.
func converterReading(volts float64, input string) Measured {
	return NewMeasured(Volts(volts),
		Uniform("adc gain", 0.0015, volts),
		Uniform("offset "+input, 3*62.5e-6, 1),
		Resolution("step "+input, 62.5e-6, 1),
		Normal("noise "+input, 40e-6, 1, 0))
}

func TestPropagationAgreesWithMonteCarlo(t *testing.T) {
	const trials = 40000
	cc, supply := converterReading(0.4173, "cc"), converterReading(3.3, "supply")
	pullUp := NewMeasured(Ohms(56e3), Uniform("pull-up tolerance", 56, 1))
	shunt := NewMeasured(Ohms(0.1), Triangular("shunt tolerance", 0.001, 1))
	drop := converterReading(0.05, "drop")
	ok := must(t)

	cases := []struct {
		name     string
		first    Measured
		evaluate func(draw func(Measured) float64) float64
	}{
		{
			name: "Rd as a ratio on one converter",
			first: func() Measured {
				return ok(ok(pullUp.Mul(cc)).Div(ok(supply.Sub(cc))))
			}(),
			evaluate: func(draw func(Measured) float64) float64 {
				r, v, s := draw(pullUp), draw(cc), draw(supply)
				return r * v / (s - v)
			},
		},
		{
			name:  "ratio",
			first: ok(Ratio(cc, supply)),
			evaluate: func(draw func(Measured) float64) float64 {
				return draw(cc) / draw(supply)
			},
		},
		{
			name:  "sum",
			first: ok(cc.Add(supply)),
			evaluate: func(draw func(Measured) float64) float64 {
				return draw(cc) + draw(supply)
			},
		},
		{
			name:  "difference",
			first: ok(supply.Sub(cc)),
			evaluate: func(draw func(Measured) float64) float64 {
				return draw(supply) - draw(cc)
			},
		},
		{
			name:  "current through a shunt times voltage",
			first: ok(ok(drop.Div(shunt)).Mul(supply)),
			evaluate: func(draw func(Measured) float64) float64 {
				return draw(drop) / draw(shunt) * draw(supply)
			},
		},
		{
			name:  "mean",
			first: ok(Mean(cc, supply, drop)),
			evaluate: func(draw func(Measured) float64) float64 {
				return (draw(cc) + draw(supply) + draw(drop)) / 3
			},
		},
		{
			name:  "magnitude of a difference",
			first: ok(ok(cc.Sub(supply)).Abs()),
			evaluate: func(draw func(Measured) float64) float64 {
				return math.Abs(draw(cc) - draw(supply))
			},
		},
		{
			name:  "scaled square",
			first: ok(cc.Mul(cc)).Scale(-2),
			evaluate: func(draw func(Measured) float64) float64 {
				v := draw(cc)
				return -2 * v * v
			},
		},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			// The standard deviation of 40000 trials is known to 0.35 %; four
			// times that, and second-order terms far below.
			require.InEpsilon(t, spread(trials, c.evaluate), c.first.Std(), 0.015)
		})
	}
}

func TestSharedGainCancelsInARatio(t *testing.T) {
	ok := must(t)
	gainOnly := func(volts float64, source string) Measured {
		return NewMeasured(Volts(volts), Uniform(source, 0.0015, volts))
	}
	one := ok(Ratio(gainOnly(0.4173, "adc gain"), gainOnly(3.3, "adc gain")))
	require.InDelta(t, 0, one.Std(), 1e-18)
	two := ok(Ratio(gainOnly(0.4173, "adc1 gain"), gainOnly(3.3, "adc2 gain")))
	require.InEpsilon(t, one.SI*0.0015/math.Sqrt(3)*math.Sqrt2, two.Std(), 1e-12)
	require.Len(t, one.Parts, 1, "the cancelled source stays in the budget")
}
