package quantity

import (
	"cmp"
	"errors"
	"fmt"
	"math"
)

// ErrDim is the cause of every DimError: two quantities of different
// dimensions where the same is needed.
var ErrDim = errors.New("dimensions differ")

// ErrRange is the cause when a result is no finite number: a division by zero
// or an overflow.
var ErrRange = errors.New("the result is not a finite number")

// DimError names the operation and the two dimensions that do not fit.
// errors.Is(err, ErrDim) holds for it.
type DimError struct {
	Op          string
	Left, Right Dim
}

// Error names both dimensions with their units.
func (e *DimError) Error() string {
	return fmt.Sprintf("%s: %s and %s: %v", e.Op, e.Left.withUnit(), e.Right.withUnit(), ErrDim)
}

// Unwrap returns ErrDim.
func (e *DimError) Unwrap() error { return ErrDim }

// withUnit is for messages: "a voltage (V)".
func (d Dim) withUnit() string {
	if d == Number {
		return "a number without unit"
	}
	if _, ok := d.known(); ok {
		return d.article() + " (" + d.Unit() + ")"
	}
	return d.article()
}

// finite returns q, or ErrRange with the operation that left the range.
func finite(op string, q Quantity) (Quantity, error) {
	if math.IsNaN(q.SI) || math.IsInf(q.SI, 0) {
		return Quantity{}, fmt.Errorf("%s to %s: %w", op, q.Dim.article(), ErrRange)
	}
	return q, nil
}

// Add returns q+r. It returns a *DimError for different dimensions and
// ErrRange on overflow.
func (q Quantity) Add(r Quantity) (Quantity, error) {
	if q.Dim != r.Dim {
		return Quantity{}, &DimError{"add", q.Dim, r.Dim}
	}
	return finite("add", Quantity{q.SI + r.SI, q.Dim})
}

// Sub returns q-r. It returns a *DimError for different dimensions and
// ErrRange on overflow. A difference of temperatures is in kelvin.
func (q Quantity) Sub(r Quantity) (Quantity, error) {
	if q.Dim != r.Dim {
		return Quantity{}, &DimError{"subtract", q.Dim, r.Dim}
	}
	return finite("subtract", Quantity{q.SI - r.SI, q.Dim})
}

// Mul returns q·r. It returns ErrRange on overflow and ErrExponent for a
// power of a unit beyond reason.
func (q Quantity) Mul(r Quantity) (Quantity, error) {
	dim, err := q.Dim.Times(r.Dim)
	if err != nil {
		return Quantity{}, fmt.Errorf("multiply: %w", err)
	}
	return finite("multiply", Quantity{q.SI * r.SI, dim})
}

// Div returns q/r. It returns ErrRange for a zero divisor or on overflow and
// ErrExponent for a power of a unit beyond reason.
func (q Quantity) Div(r Quantity) (Quantity, error) {
	dim, err := q.Dim.Per(r.Dim)
	if err != nil {
		return Quantity{}, fmt.Errorf("divide: %w", err)
	}
	return finite("divide", Quantity{q.SI / r.SI, dim})
}

// Neg returns -q.
func (q Quantity) Neg() Quantity { return Quantity{-q.SI, q.Dim} }

// Abs returns the magnitude of q.
func (q Quantity) Abs() Quantity { return Quantity{math.Abs(q.SI), q.Dim} }

// Scale returns q times a pure number.
func (q Quantity) Scale(factor float64) Quantity { return Quantity{q.SI * factor, q.Dim} }

// Cmp returns -1, 0 or +1 as q is less than, equal to or greater than r, and a
// *DimError for different dimensions. NaN is less than every number.
func (q Quantity) Cmp(r Quantity) (int, error) {
	if q.Dim != r.Dim {
		return 0, &DimError{"compare", q.Dim, r.Dim}
	}
	return cmp.Compare(q.SI, r.SI), nil
}

// Less tells whether q < r; different dimensions are a *DimError.
func (q Quantity) Less(r Quantity) (bool, error) {
	c, err := q.Cmp(r)
	return c < 0, err
}
