package quantity

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyMeasured draws a value with contributions from a small set of sources, so
// that sharing is frequent.
func anyMeasured(dim Dim) *rapid.Generator[Measured] {
	return rapid.Custom(func(t *rapid.T) Measured {
		value := rapid.Float64Range(0.1, 10).Draw(t, "value")
		if rapid.Bool().Draw(t, "negative") {
			value = -value
		}
		var parts []Contribution
		for range rapid.IntRange(0, 6).Draw(t, "parts") {
			source := rapid.SampledFrom([]string{"gain", "offset", "divider", "noise 1", "noise 2", ""}).Draw(t, "source")
			std := map[string]float64{"gain": 0.001, "offset": 0.002, "divider": 0.01, "noise 1": 1e-4, "noise 2": 1e-4, "": 0.003}[source]
			parts = append(parts, Normal(source, std, rapid.Float64Range(-3, 3).Draw(t, "sens"), 0))
		}
		return NewMeasured(Quantity{value, dim}, parts...)
	})
}

// numericStd differentiates f by each source: the oracle for propagation.
func numericStd(f func(shift func(Measured) float64) float64, inputs ...Measured) float64 {
	anonymous := 0
	steps := map[string]float64{}
	for _, m := range inputs {
		for _, c := range m.Parts {
			if c.Source != "" {
				steps[c.Source] = c.Std
			}
		}
	}
	variance := 0.0
	slope := func(delta func(c Contribution) float64) float64 {
		const h = 1e-4
		at := func(sign float64) float64 {
			return f(func(m Measured) float64 {
				v := m.SI
				for _, c := range m.Parts {
					v += sign * h * c.Sens * delta(c)
				}
				return v
			})
		}
		return (at(1) - at(-1)) / (2 * h)
	}
	for source, std := range steps {
		s := slope(func(c Contribution) float64 {
			if c.Source == source {
				return std
			}
			return 0
		})
		variance += s * s
	}
	for i := range inputs {
		for j, c := range inputs[i].Parts {
			if c.Source != "" {
				continue
			}
			anonymous++
			target := &inputs[i].Parts[j]
			kept := *target
			mark := fmt.Sprintf("anonymous %d", anonymous)
			target.Source = mark
			s := slope(func(c Contribution) float64 {
				if c.Source == mark {
					return c.Std
				}
				return 0
			})
			*target = kept
			variance += s * s
		}
	}
	return math.Sqrt(variance)
}

func TestPropagationAgreesWithDifferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyMeasured(Voltage).Draw(t, "a"), anyMeasured(Voltage).Draw(t, "b")
		check := func(name string, got Measured, err error, f func(a, b float64) float64) {
			require.NoError(t, err, name)
			want := numericStd(func(at func(Measured) float64) float64 { return f(at(a), at(b)) }, a, b)
			require.InDelta(t, f(a.SI, b.SI), got.SI, 1e-12*math.Abs(got.SI), name)
			require.InDelta(t, want, got.Std(), 1e-6*want+1e-9*math.Abs(got.SI), name)
			require.LessOrEqual(t, len(got.Parts), len(a.Parts)+len(b.Parts))
		}
		sum, err := a.Add(b)
		check("add", sum, err, func(a, b float64) float64 { return a + b })
		difference, err := a.Sub(b)
		check("sub", difference, err, func(a, b float64) float64 { return a - b })
		product, err := a.Mul(b)
		check("mul", product, err, func(a, b float64) float64 { return a * b })
		quotient, err := a.Div(b)
		check("div", quotient, err, func(a, b float64) float64 { return a / b })
		mean, err := Mean(a, b)
		check("mean", mean, err, func(a, b float64) float64 { return (a + b) / 2 })
		magnitude, err := a.Abs()
		check("abs", magnitude, err, func(a, _ float64) float64 { return math.Abs(a) })
		if a.SI != b.SI { // there the slope of a maximum jumps
			largest, err := Max(a, b)
			check("max", largest, err, math.Max)
			smallest, err := Min(a, b)
			check("min", smallest, err, math.Min)
		}
		check("scale", a.Scale(-3), nil, func(a, _ float64) float64 { return -3 * a })
	})
}

func TestArithmeticLeavesItsOperandsAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyMeasured(Voltage).Draw(t, "a"), anyMeasured(Voltage).Draw(t, "b")
		before := fmt.Sprintf("%v %v %v %v", a.Quantity, a.Parts, b.Quantity, b.Parts)
		for _, do := range []func() (Measured, error){
			func() (Measured, error) { return a.Add(b) },
			func() (Measured, error) { return a.Sub(b) },
			func() (Measured, error) { return a.Mul(b) },
			func() (Measured, error) { return a.Div(b) },
			func() (Measured, error) { return Mean(a, b) },
			func() (Measured, error) { return a.Neg().Abs() },
		} {
			_, err := do()
			require.NoError(t, err)
		}
		require.Equal(t, before, fmt.Sprintf("%v %v %v %v", a.Quantity, a.Parts, b.Quantity, b.Parts))
	})
}

func TestSharedSourcesMerge(t *testing.T) {
	ok := must(t)
	gain := func(sens float64) Measured { return NewMeasured(Volts(1), Normal("gain", 0.01, sens, 0)) }
	require.InEpsilon(t, 0.05, ok(gain(2).Add(gain(3))).Std(), 1e-12, "full correlation adds")
	require.InEpsilon(t, 0.01, ok(gain(2).Sub(gain(3))).Std(), 1e-12, "and subtracts")
	require.Zero(t, ok(gain(2).Sub(gain(2))).Std())

	anonymous := func() Measured { return NewMeasured(Volts(1), Normal("", 0.03, 1, 0), Normal("", 0.04, 1, 0)) }
	require.InEpsilon(t, 0.05, anonymous().Std(), 1e-12, "no name, no correlation")

	byHand := Measured{Quantity: Volts(1), Parts: []Contribution{Normal("gain", 0.01, 2, 0), Normal("gain", 0.01, -2, 0)}}
	require.Zero(t, byHand.Std(), "a source named twice in one list is still one error")
}

func TestSourcesThatDisagreeAboutTheirSize(t *testing.T) {
	m := NewMeasured(Volts(1), Normal("gain", 0.01, 1, 9), Normal("gain", 0.02, 1, 4))
	require.Len(t, m.Parts, 1)
	require.InEpsilon(t, 0.03, m.Std(), 1e-12, "the shares add")
	require.Equal(t, 4.0, m.Parts[0].DOF, "the smaller number of degrees of freedom counts")
	m = NewMeasured(Volts(1), Normal("gain", 0, 1, 0), Normal("gain", 0.02, 1, 0))
	require.InEpsilon(t, 0.02, m.Std(), 1e-12)
}

func TestManyReadingsAverage(t *testing.T) {
	// Sixty-four readings of one converter: the noise falls by eight, the gain
	// stays. The list is long enough to be searched by map.
	values := make([]Measured, 64)
	for i := range values {
		values[i] = NewMeasured(Volts(5), Uniform("gain", 0.001, 5), Normal(fmt.Sprint("noise ", i), 0.008, 1, 0))
	}
	m := must(t)(Mean(values...))
	require.Len(t, m.Parts, 65)
	require.InEpsilon(t, math.Hypot(0.005/math.Sqrt(3), 0.001), m.Std(), 1e-12)
	require.Equal(t, "gain", m.Parts[0].Source)
	again := must(t)(m.Add(m))
	require.Len(t, again.Parts, 65)
	require.InEpsilon(t, 2*m.Std(), again.Std(), 1e-12)
	doubled := Measured{Quantity: m.Quantity, Parts: append(append([]Contribution{}, m.Parts...), m.Parts...)}
	require.InEpsilon(t, 2*m.Std(), doubled.Std(), 1e-12)
}

func TestPropagationRefuses(t *testing.T) {
	v, a, zero := with(Volts(5), 0.01), with(Amperes(1), 0.01), with(Amperes(0), 0.01)
	cases := []struct {
		name  string
		do    func() (Measured, error)
		cause error
	}{
		{"add", func() (Measured, error) { return v.Add(a) }, ErrDim},
		{"sub", func() (Measured, error) { return v.Sub(a) }, ErrDim},
		{"ratio", func() (Measured, error) { return Ratio(v, a) }, ErrDim},
		{"min", func() (Measured, error) { return Min(v, a) }, ErrDim},
		{"mean", func() (Measured, error) { return Mean(v, a) }, ErrDim},
		{"divide by zero", func() (Measured, error) { return v.Div(zero) }, ErrRange},
		{"overflow", func() (Measured, error) { return with(Volts(1e200), 1).Mul(with(Volts(1e200), 1)) }, ErrRange},
		{"mean of nothing", func() (Measured, error) { return Mean() }, ErrEmpty},
		{"min of nothing", func() (Measured, error) { return Min() }, ErrEmpty},
		{"max of nothing", func() (Measured, error) { return Max() }, ErrEmpty},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := c.do()
			require.ErrorIs(t, err, c.cause)
		})
	}
}
