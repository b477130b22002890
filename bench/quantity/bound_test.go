package quantity

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func anyBound() *rapid.Generator[Measured] {
	return rapid.Custom(func(t *rapid.T) Measured {
		v := rapid.IntRange(-4, 4).Draw(t, "value")
		return Known(Pure(float64(v))).WithBound(rapid.SampledFrom([]Bound{Exact, AtLeast, AtMost}).Draw(t, "bound"))
	})
}

// truths returns values that the true one may have under the bound, near and
// far.
func truths(m Measured) []float64 {
	if m.Bound == Exact {
		return []float64{m.SI}
	}
	var out []float64
	for _, step := range []float64{0, 0.25, 1, 3.5, 7, 40, 1e6} {
		out = append(out, m.SI+float64(m.Bound)*step)
	}
	return out
}

// holds tells whether a true value agrees with what m says.
func (m Measured) holds(truth float64) bool {
	const slack = 1e-9
	switch m.Bound {
	case AtLeast:
		return truth >= m.SI-slack
	case AtMost:
		return truth <= m.SI+slack
	}
	return truth >= m.SI-slack && truth <= m.SI+slack
}

func TestBoundsHoldForEveryTruth(t *testing.T) {
	operations := map[string]struct {
		measured func(a, b Measured) (Measured, error)
		number   func(a, b float64) float64
	}{
		"add": {Measured.Add, func(a, b float64) float64 { return a + b }},
		"sub": {Measured.Sub, func(a, b float64) float64 { return a - b }},
		"mul": {Measured.Mul, func(a, b float64) float64 { return a * b }},
		"div": {Measured.Div, func(a, b float64) float64 { return a / b }},
		"min": {func(a, b Measured) (Measured, error) { return Min(a, b) }, func(a, b float64) float64 { return min(a, b) }},
		"max": {func(a, b Measured) (Measured, error) { return Max(a, b) }, func(a, b float64) float64 { return max(a, b) }},
		"mean": {func(a, b Measured) (Measured, error) { return Mean(a, b) },
			func(a, b float64) float64 { return (a + b) / 2 }},
		"neg": {func(a, _ Measured) (Measured, error) { return a.Neg(), nil }, func(a, _ float64) float64 { return -a }},
		"abs": {func(a, _ Measured) (Measured, error) { return a.Abs() }, func(a, _ float64) float64 { return max(a, -a) }},
		"scale": {func(a, _ Measured) (Measured, error) { return a.Scale(-0.5), nil },
			func(a, _ float64) float64 { return -0.5 * a }},
		"scale by zero": {func(a, _ Measured) (Measured, error) { return a.Scale(0), nil },
			func(a, _ float64) float64 { return 0 }},
	}
	for name, op := range operations {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				a, b := anyBound().Draw(t, "a"), anyBound().Draw(t, "b")
				got, err := op.measured(a, b)
				if err != nil {
					return // the other test fixes when it may refuse
				}
				for _, x := range truths(a) {
					for _, y := range truths(b) {
						if name == "div" && y == 0 {
							continue
						}
						require.True(t, got.holds(op.number(x, y)), "%v %s %v = %v but %g and %g give %g", a, name, b, got, x, y, op.number(x, y))
					}
				}
			})
		})
	}
}

func TestBounds(t *testing.T) {
	exact := func(v float64) Measured { return Known(Pure(v)) }
	least := func(v float64) Measured { return Known(Pure(v)).WithBound(AtLeast) }
	most := func(v float64) Measured { return Known(Pure(v)).WithBound(AtMost) }
	type result struct {
		m   Measured
		err error
	}
	of := func(m Measured, err error) result { return result{m, err} }
	cases := []struct {
		name string
		got  result
		want string // empty: ErrNoBound
	}{
		{"at least plus exact", of(least(2).Add(exact(3))), "≥ 5"},
		{"at least plus at least", of(least(2).Add(least(3))), "≥ 5"},
		{"at least plus at most", of(least(2).Add(most(3))), ""},
		{"at least minus at least", of(least(2).Sub(least(3))), ""},
		{"at least minus at most", of(least(2).Sub(most(3))), "≥ -1"},
		{"exact minus at least", of(exact(2).Sub(least(3))), "≤ -1"},
		{"negated", of(least(2).Neg(), nil), "≤ -2"},
		{"times a negative", of(least(2).Mul(exact(-3))), "≤ -6"},
		{"both large", of(least(2).Mul(least(3))), "≥ 6"},
		{"both large, one negative", of(least(2).Mul(most(-3))), "≤ -6"},
		{"sign open", of(most(2).Mul(least(3))), ""},
		{"times zero", of(least(2).Mul(exact(0))), ""},
		{"divided by at least", of(exact(6).Div(least(3))), "≤ 2"},
		{"negative divided by at least", of(exact(-6).Div(least(3))), "≥ -2"},
		{"divided by at most", of(exact(6).Div(most(3))), ""},
		{"divided by at most a negative", of(exact(6).Div(most(-3))), "≥ -2"},
		{"at most divided by at least", of(most(6).Div(least(3))), "≤ 2"},
		{"at least divided by at least", of(least(6).Div(least(3))), ""},
		{"at least divided by a negative", of(least(6).Div(exact(-3))), "≤ -2"},
		{"magnitude", of(most(-2).Abs()), "≥ 2"},
		{"magnitude over zero", of(least(-2).Abs()), ""},
		{"magnitude of at most zero", of(most(0).Abs()), "≥ 0"},
		{"smallest is exact", of(Min(exact(1), least(2))), "1"},
		{"smallest is at least", of(Min(exact(3), least(2))), "≥ 2"},
		{"tie goes to the exact one", of(Min(least(2), exact(2))), "2"},
		{"smallest with at most", of(Min(exact(1), most(5))), "≤ 1"},
		{"smallest of at least and at most", of(Min(least(1), most(5))), "≤ 5"},
		{"largest is at least", of(Max(exact(1), least(5))), "≥ 5"},
		{"largest with at least", of(Max(exact(6), least(5))), "≥ 6"},
		{"largest is at most", of(Max(exact(1), most(5))), "≤ 5"},
		{"mean", of(Mean(exact(1), least(5))), "≥ 3"},
		{"mean open", of(Mean(most(1), least(5))), ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if c.want == "" {
				require.ErrorIs(t, c.got.err, ErrNoBound)
				return
			}
			require.NoError(t, c.got.err)
			require.Equal(t, c.want, c.got.m.String())
		})
	}
	require.Equal(t, "at least, at most, exact", AtLeast.String()+", "+AtMost.String()+", "+Exact.String())
}
