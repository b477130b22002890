package quantity

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyDim draws exponents that keep products of a few dimensions in range.
func anyDim() *rapid.Generator[Dim] {
	return rapid.Custom(func(t *rapid.T) Dim {
		exponent := func(name string) Dim { return Dim(rapid.IntRange(-20, 20).Draw(t, name)) }
		return exponent("kg")*kilogram + exponent("m")*metre + exponent("s")*second +
			exponent("A")*ampere + exponent("K")*kelvin
	})
}

func TestDimensionsOfTheElectricalUnits(t *testing.T) {
	// SI Brochure, 9th edition, table 4: expression in SI base units, in the
	// order kg, m, s, A, K.
	cases := []struct {
		dim  Dim
		unit string
		base [5]int
	}{
		{Frequency, "Hz", [5]int{0, 0, -1, 0, 0}},
		{Energy, "J", [5]int{1, 2, -2, 0, 0}},
		{Power, "W", [5]int{1, 2, -3, 0, 0}},
		{Charge, "C", [5]int{0, 0, 1, 1, 0}},
		{Voltage, "V", [5]int{1, 2, -3, -1, 0}},
		{Capacitance, "F", [5]int{-1, -2, 4, 2, 0}},
		{Resistance, "Ω", [5]int{1, 2, -3, -2, 0}},
		{Conductance, "S", [5]int{-1, -2, 3, 2, 0}},
		{Time, "s", [5]int{0, 0, 1, 0, 0}},
		{Current, "A", [5]int{0, 0, 0, 1, 0}},
		{Temperature, "K", [5]int{0, 0, 0, 0, 1}},
	}
	for _, c := range cases {
		t.Run(c.unit, func(t *testing.T) {
			require.Equal(t, c.base, c.dim.exponents())
			require.Equal(t, c.unit, c.dim.Unit())
		})
	}
}

// twoDigits finds a power of two digits in a unit.
var twoDigits = regexp.MustCompile(`\^-?\d\d`)

func TestUnitOfADimensionParsesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDim().Draw(t, "dim")
		if twoDigits.MatchString(d.Unit()) {
			return // the parser takes powers up to nine
		}
		back, scale, err := ParseUnit(d.Unit())
		require.NoError(t, err, d.Unit())
		require.Equal(t, d, back, d.Unit())
		require.Equal(t, 1.0, scale)
	})
}

func TestDimensionAlgebra(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := anyDim().Draw(t, "a"), anyDim().Draw(t, "b"), anyDim().Draw(t, "c")
		times := func(x, y Dim) Dim {
			d, err := x.Times(y)
			require.NoError(t, err)
			return d
		}
		per := func(x, y Dim) Dim {
			d, err := x.Per(y)
			require.NoError(t, err)
			return d
		}
		require.Equal(t, times(a, b), times(b, a))
		require.Equal(t, times(times(a, b), c), times(a, times(b, c)))
		require.Equal(t, a, per(times(a, b), b))
		require.Equal(t, Number, per(a, a))
		require.Equal(t, a, times(a, Number))
		sum := a.exponents()
		for i, e := range b.exponents() {
			sum[i] += e
		}
		require.Equal(t, sum, times(a, b).exponents())
	})
}

func TestExponentsBeyondReasonAreRefused(t *testing.T) {
	d := Voltage
	var err error
	steps := 0
	for ; err == nil; steps++ {
		require.Less(t, steps, 100)
		d, err = d.Times(Voltage)
	}
	require.ErrorIs(t, err, ErrExponent)
	require.Equal(t, 33, steps, "s^-3 of a volt reaches -100 after 33 factors")
}

func TestNamesOfDimensions(t *testing.T) {
	for _, d := range Dims() {
		back, ok := DimNamed(d.String())
		require.True(t, ok, d.String())
		require.Equal(t, d, back)
	}
	_, ok := DimNamed("tension")
	require.False(t, ok)
	require.Equal(t, "quantity in V²", (2 * Voltage).String())
	require.Equal(t, "1/K", (-Temperature).Unit())
	require.Equal(t, "V²·s/K", (2*Voltage + Time - Temperature).Unit())
	require.Equal(t, "A^4", (4 * Current).Unit())
}

func TestExamplesOfDimensionsParse(t *testing.T) {
	for _, d := range Dims() {
		n, ok := d.known()
		require.True(t, ok)
		if d == Number {
			continue // its example names two
		}
		_, err := ParseAs(n.example, d)
		require.NoError(t, err, n.example)
	}
}
