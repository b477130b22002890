package wiring

import (
	"math"

	"sinkproof/bench/quantity"
)

// HalfWidth returns the half-width of the tolerance interval in the unit of
// the nominal value, in SI. A tolerance that is a pure number is relative, of
// a nominal value that is a pure number as well.
func (t Toleranced) HalfWidth() float64 {
	if t.Tolerance.Dim == quantity.Number {
		return math.Abs(t.Nominal.SI) * t.Tolerance.SI
	}
	return t.Tolerance.SI
}

// Relative returns the half-width as a fraction of the nominal value; zero
// for a nominal value of zero.
func (t Toleranced) Relative() float64 {
	if t.Tolerance.Dim == quantity.Number {
		return t.Tolerance.SI
	}
	if t.Nominal.SI == 0 {
		return 0
	}
	return t.Tolerance.SI / math.Abs(t.Nominal.SI)
}

// Low returns the lower end of the tolerance interval.
func (t Toleranced) Low() quantity.Quantity {
	return quantity.Quantity{SI: t.Nominal.SI - t.HalfWidth(), Dim: t.Nominal.Dim}
}

// High returns the upper end of the tolerance interval.
func (t Toleranced) High() quantity.Quantity {
	return quantity.Quantity{SI: t.Nominal.SI + t.HalfWidth(), Dim: t.Nominal.Dim}
}
