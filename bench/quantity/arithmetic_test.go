package quantity

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestOhmsLaw(t *testing.T) {
	r, err := Volts(5).Div(Amperes(0.5))
	require.NoError(t, err)
	require.Equal(t, Ohms(10), r)
	p, err := Volts(5).Mul(Amperes(0.5))
	require.NoError(t, err)
	require.Equal(t, Quantity{2.5, Power}, p)
	tau, err := Ohms(56e3).Mul(Farads(10e-6))
	require.NoError(t, err)
	require.Equal(t, Time, tau.Dim)
	require.InDelta(t, 0.56, tau.SI, 1e-12, "56 kΩ × 10 µF = 0.56 s")
}

func TestArithmeticRefuses(t *testing.T) {
	cases := []struct {
		name  string
		do    func() (Quantity, error)
		cause error
		text  string
	}{
		{"add", func() (Quantity, error) { return Volts(1).Add(Amperes(1)) }, ErrDim, "add: a voltage (V) and a current (A): dimensions differ"},
		{"subtract", func() (Quantity, error) { return Volts(1).Sub(Pure(1)) }, ErrDim, "subtract: a voltage (V) and a number without unit: dimensions differ"},
		{"nameless", func() (Quantity, error) { return Quantity{1, 2 * Voltage}.Add(Volts(1)) }, ErrDim, "add: a quantity in V² and a voltage (V): dimensions differ"},
		{"divide by zero", func() (Quantity, error) { return Volts(1).Div(Ohms(0)) }, ErrRange, "divide to a current: the result is not a finite number"},
		{"overflow of a sum", func() (Quantity, error) { return Pure(math.MaxFloat64).Add(Pure(math.MaxFloat64)) }, ErrRange, "add to a number: the result is not a finite number"},
		{"overflow of a product", func() (Quantity, error) { return Volts(1e200).Mul(Amperes(1e200)) }, ErrRange, "multiply to a power: the result is not a finite number"},
		{"power beyond reason", func() (Quantity, error) { return Quantity{1, 30 * Voltage}.Mul(Quantity{1, 30 * Voltage}) }, ErrExponent, "multiply: combine the units V^30 and V^30: exponent of a base unit beyond ±100"},
		{"inverse power beyond reason", func() (Quantity, error) { return Quantity{1, 30 * Voltage}.Div(Quantity{1, -30 * Voltage}) }, ErrExponent, "divide: combine the units V^30 and 1/V^30: exponent of a base unit beyond ±100"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := c.do()
			require.ErrorIs(t, err, c.cause)
			require.EqualError(t, err, c.text)
		})
	}
	_, err := Volts(1).Less(Ohms(1))
	var derr *DimError
	require.ErrorAs(t, err, &derr)
	require.Equal(t, DimError{"compare", Voltage, Resistance}, *derr)
}

func TestCompare(t *testing.T) {
	less, err := Volts(1).Less(Volts(2))
	require.NoError(t, err)
	require.True(t, less)
	less, err = Volts(2).Less(Volts(2))
	require.NoError(t, err)
	require.False(t, less)
	c, err := Ohms(2).Cmp(Ohms(1))
	require.NoError(t, err)
	require.Equal(t, 1, c)
}

func TestArithmeticLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Float64Range(0.001, 1000)
		a := Quantity{value.Draw(t, "a"), anyDim().Draw(t, "dim a")}
		b := Quantity{value.Draw(t, "b"), anyDim().Draw(t, "dim b")}
		product, err := a.Mul(b)
		require.NoError(t, err)
		back, err := product.Div(b)
		require.NoError(t, err)
		require.Equal(t, a.Dim, back.Dim)
		require.InEpsilon(t, a.SI, back.SI, 1e-14)

		c := Quantity{value.Draw(t, "c"), a.Dim}
		sum, err := a.Add(c)
		require.NoError(t, err)
		difference, err := sum.Sub(c)
		require.NoError(t, err)
		require.InDelta(t, a.SI, difference.SI, 1e-12*(a.SI+c.SI))
		require.Equal(t, a, a.Neg().Abs())
		require.Equal(t, a.Dim, a.Scale(3).Dim)
	})
}
