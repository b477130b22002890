package quantity

import (
	"errors"
	"fmt"
	"math"
)

// Contribution is one input to the uncertainty of a measured value.
// Two contributions with the same Source name the same error and are fully
// correlated; contributions with different sources are independent. A
// contribution without a source is independent of every other.
type Contribution struct {
	// Source names the cause, such as "adc1 gain" or "r_div_top tolerance".
	Source string
	// Std is the standard uncertainty of the cause in the cause's own unit
	// (relative causes are pure numbers).
	Std float64
	// Sens is the signed sensitivity: the change of the measured value, in SI,
	// per unit of the cause. Sens*Std is the part's share.
	Sens float64
	// DOF is the degrees of freedom; 0 means infinite (a Type B bound).
	DOF float64
	// Dist is the distribution assumed: "normal", "uniform", "triangular", "t".
	Dist string
}

// Share is the signed part of the contribution in the standard uncertainty of
// the value, in SI.
func (c Contribution) Share() float64 { return c.Sens * c.Std }

// Bound says how a value stands to the true one.
type Bound int8

const (
	// Exact: the value is an estimate with an uncertainty.
	Exact Bound = 0
	// AtLeast: the input was saturated or the search ended; the true value is
	// at or above this one.
	AtLeast Bound = 1
	// AtMost: the true value is at or below this one.
	AtMost Bound = -1
)

// String returns "exact", "at least" or "at most".
func (b Bound) String() string {
	switch {
	case b > 0:
		return "at least"
	case b < 0:
		return "at most"
	}
	return "exact"
}

// Measured is a value with the contributions to its uncertainty.
//
// Parts may be shared between values and are never changed in place.
type Measured struct {
	Quantity
	Parts []Contribution
	Bound Bound
}

// Known returns a value without uncertainty, such as a constant of a file.
func Known(q Quantity) Measured { return Measured{Quantity: q} }

// NewMeasured returns an estimate with its contributions; those with equal
// sources are merged. The slice is copied.
func NewMeasured(q Quantity, parts ...Contribution) Measured {
	return Measured{Quantity: q, Parts: combine(parts, 1, nil, 0)}
}

// ErrUncertainty is the cause when a contribution is no uncertainty.
var ErrUncertainty = errors.New("no valid uncertainty")

// Validate returns ErrUncertainty for a contribution with a negative or
// non-finite number, and ErrRange for a value that is not finite.
func (m Measured) Validate() error {
	if _, err := finite("measure", m.Quantity); err != nil {
		return err
	}
	for _, c := range m.Parts {
		share := c.Share()
		if c.Std < 0 || c.DOF < 0 || math.IsNaN(share) || math.IsInf(share, 0) || math.IsNaN(c.DOF) {
			return fmt.Errorf("contribution %q with std %g, sensitivity %g, dof %g: %w",
				c.Source, c.Std, c.Sens, c.DOF, ErrUncertainty)
		}
	}
	return nil
}

// WithBound returns the value as a bound.
func (m Measured) WithBound(b Bound) Measured {
	m.Bound = b
	return m
}

// String returns value and expanded uncertainty (k = 2) in one unit and to
// one place: "4.987 V ± 0.006 V". The uncertainty has two significant digits
// when they begin with 1 or 2 and one digit otherwise: JCGM 100:2008, 7.2.6
// asks for two at most; the choice between one and two is common practice, so
// that rounding never changes it by more than a sixth. A bound prints with the
// relation before it and without an uncertainty: "≥ 6.14 V". A value that is
// known exactly prints as a Quantity.
func (m Measured) String() string {
	relation := ""
	switch {
	case m.Bound > 0:
		relation = "≥ "
	case m.Bound < 0:
		relation = "≤ "
	}
	u := m.Std() * coverage
	if u == 0 || math.IsNaN(u) || math.IsInf(u, 0) || math.IsNaN(m.SI) || math.IsInf(m.SI, 0) {
		return relation + m.Quantity.String()
	}
	value, spread := m.rounded(u)
	if m.Bound != Exact {
		return relation + value
	}
	return value + " ± " + spread
}

// rounded writes the value and the uncertainty u to the place of u, with the
// prefix that suits the larger of the two.
func (m Measured) rounded(u float64) (value, spread string) {
	unit, low, high := m.Dim.style()
	si := m.SI
	if m.celsius() {
		unit, low, high, si = "°C", 0, 0, si-zeroCelsius
	}
	place := significantPlace(u)
	v, d := atPlace(si, place), atPlace(u, place)
	larger := v
	if d.zero() || (!v.zero() && v.leading() >= d.leading()) {
		larger = v
	} else {
		larger = d
	}
	p := larger.engineering(low, high)
	if off := larger.leading() - p; off < plainLow || off > plainHigh {
		return join(v.exponential(), unit), join(d.exponential(), unit)
	}
	return join(v.times(p), prefixFor(p)+unit), join(d.times(p), prefixFor(p)+unit)
}

// significantPlace returns the power of ten of the last digit of u > 0 that is
// kept: two digits when they begin with 1 or 2, otherwise one.
func significantPlace(u float64) int {
	two := significant(u, 2)
	if two.digits[0] <= '2' {
		return two.exp
	}
	return two.exp + 1
}
