package quantity

import (
	"errors"
	"fmt"
	"math"
)

// ErrNoBound is the cause when arithmetic on bounds leaves a value open on
// both sides, such as the difference of two values of which both are "at
// least".
var ErrNoBound = errors.New("the bounds leave the result open on both sides")

// ErrEmpty is the cause when a mean or an extreme is asked of no values.
var ErrEmpty = errors.New("no values")

// sumBound joins the bounds of two summands.
func sumBound(op string, a, b Bound) (Bound, error) {
	if a != Exact && b != Exact && a != b {
		return Exact, fmt.Errorf("%s a value %s and one %s: %w", op, a, b, ErrNoBound)
	}
	if a == Exact {
		return b, nil
	}
	return a, nil
}

// sign returns -1, 0 or 1.
func sign(x float64) Bound {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}

// away tells whether the bound points away from zero, so that the sign of the
// true value is known.
func (m Measured) away() bool { return sign(m.SI) != -m.Bound }

// productBound follows from the signs. With one factor exact, the bound of the
// other is kept or turned round. With both bounded, both must point away from
// zero: the magnitude is then at least the product of the magnitudes.
func productBound(m, n Measured) (Bound, error) {
	switch {
	case m.Bound == Exact && n.Bound == Exact:
		return Exact, nil
	case n.Bound == Exact && n.SI != 0:
		return m.Bound * sign(n.SI), nil
	case m.Bound == Exact && m.SI != 0:
		return n.Bound * sign(m.SI), nil
	case m.Bound != Exact && n.Bound != Exact && m.away() && n.away():
		return m.Bound * n.Bound, nil
	}
	return Exact, openBounds("multiply", m, n)
}

// quotientBound: an exact divisor acts by its sign. A bounded divisor must
// point away from zero; its reciprocal then lies between zero and the
// reciprocal of the bound, so the quotient is bounded on the side of the
// dividend.
func quotientBound(m, n Measured) (Bound, error) {
	if n.Bound == Exact {
		return m.Bound * sign(n.SI), nil
	}
	if !n.away() {
		return Exact, openBounds("divide", m, n)
	}
	// Both are turned so that the divisor is positive.
	value, bound := sign(m.SI)*n.Bound, m.Bound*n.Bound
	switch {
	case bound == Exact && value != 0:
		return -value, nil
	case bound != Exact && value != bound:
		return bound, nil
	}
	return Exact, openBounds("divide", m, n)
}

func openBounds(op string, m, n Measured) error {
	return fmt.Errorf("%s %s (%s) and %s (%s): %w", op, m.Quantity, m.Bound, n.Quantity, n.Bound, ErrNoBound)
}

// Min returns the smallest of one or more values of one dimension, with its
// contributions. Where one of them is only known as "at most", so is the
// smallest. Errors: ErrEmpty, *DimError.
//
// First order: values closer together than their uncertainty would need the
// distribution of the minimum.
func Min(values ...Measured) (Measured, error) { return extreme("min", values, 1) }

// Max returns the largest of one or more values of one dimension, with its
// contributions. Where one of them is only known as "at least", so is the
// largest. Errors: ErrEmpty, *DimError.
func Max(values ...Measured) (Measured, error) { return extreme("max", values, -1) }

// extreme finds the smallest of sign·value. A value that may be arbitrarily
// small makes the result "at most"; then those that are only "at least" say
// nothing about it.
func extreme(op string, values []Measured, sign Bound) (Measured, error) {
	if len(values) == 0 {
		return Measured{}, fmt.Errorf("%s: %w", op, ErrEmpty)
	}
	open := false
	for _, v := range values {
		if v.Dim != values[0].Dim {
			return Measured{}, &DimError{op, values[0].Dim, v.Dim}
		}
		open = open || v.Bound*sign < 0
	}
	var best Measured
	least := math.Inf(1)
	for _, v := range values {
		bound, x := v.Bound*sign, float64(sign)*v.SI
		if open && bound > 0 {
			continue
		}
		if x < least || (x == least && bound == Exact && !open) {
			best, least = v, x
		}
	}
	if open {
		best.Bound = -sign
	}
	return best, nil
}
