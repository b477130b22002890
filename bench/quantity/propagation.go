package quantity

import (
	"fmt"
	"math"
)

// few is the number of contributions up to which a linear search for equal
// sources is faster than a map.
const few = 64

// combine returns a scaled by fa together with b scaled by fb. Contributions
// with equal sources become one: their sensitivities add with their signs,
// which is full correlation (JCGM 100:2008, 5.2.2, note 1). The order is that
// of first appearance.
func combine(a []Contribution, fa float64, b []Contribution, fb float64) []Contribution {
	if len(a)+len(b) == 0 {
		return nil
	}
	out := make([]Contribution, 0, len(a)+len(b))
	var seen index
	for i := range a {
		out = seen.merge(out, &a[i], i, fa)
	}
	for i := range b {
		out = seen.merge(out, &b[i], i, fb)
	}
	return out
}

// index finds contributions of a list by source. It is empty while the list is
// short.
type index map[string]int

// find returns the place of a source in the list, -1 for none. It looks at likely
// first: readings of one channel name what they share in the same places.
func (x index) find(list []Contribution, source string, likely int) int {
	switch {
	case likely < len(list) && list[likely].Source == source:
		return likely
	case x != nil:
		if i, ok := x[source]; ok {
			return i
		}
		return -1
	}
	for i := range list {
		if list[i].Source == source {
			return i
		}
	}
	return -1
}

// merge adds c, which stood at a place of its own list, scaled by factor.
func (x *index) merge(list []Contribution, c *Contribution, place int, factor float64) []Contribution {
	scaled := *c
	scaled.Sens *= factor
	if c.Source == "" {
		return append(list, scaled)
	}
	if i := x.find(list, c.Source, place); i >= 0 {
		list[i] = same(list[i], scaled)
		return list
	}
	x.note(list, c.Source)
	return append(list, scaled)
}

// note says that a source comes to the end of the list.
func (x *index) note(list []Contribution, source string) {
	if *x == nil {
		if len(list) < few {
			return
		}
		*x = make(index, 2*few)
		for i, c := range list {
			(*x)[c.Source] = i
		}
	}
	(*x)[source] = len(list)
}

// same joins two contributions of one source. Where they disagree about the
// size of the cause, the shares add in the unit of the first; the smaller
// number of degrees of freedom counts.
func same(a, b Contribution) Contribution {
	switch {
	case a.Std == b.Std:
		a.Sens += b.Sens
	case a.Std == 0:
		a, b = b, a
	default:
		a.Sens += b.Share() / a.Std
	}
	if b.DOF > 0 && (a.DOF == 0 || b.DOF < a.DOF) {
		a.DOF = b.DOF
	}
	return a
}

// Add returns m+n. Errors: *DimError, ErrRange, and ErrNoBound for bounds that
// point in opposite directions.
func (m Measured) Add(n Measured) (Measured, error) {
	q, err := m.Quantity.Add(n.Quantity)
	if err != nil {
		return Measured{}, err
	}
	bound, err := sumBound("add", m.Bound, n.Bound)
	if err != nil {
		return Measured{}, err
	}
	return Measured{q, combine(m.Parts, 1, n.Parts, 1), bound}, nil
}

// Sub returns m-n. Errors: *DimError, ErrRange, and ErrNoBound for bounds that
// point in the same direction.
func (m Measured) Sub(n Measured) (Measured, error) {
	q, err := m.Quantity.Sub(n.Quantity)
	if err != nil {
		return Measured{}, err
	}
	bound, err := sumBound("subtract", m.Bound, -n.Bound)
	if err != nil {
		return Measured{}, err
	}
	return Measured{q, combine(m.Parts, 1, n.Parts, -1), bound}, nil
}

// Mul returns m·n. Errors: ErrRange, ErrExponent, and ErrNoBound where signs
// leave the direction open.
func (m Measured) Mul(n Measured) (Measured, error) {
	q, err := m.Quantity.Mul(n.Quantity)
	if err != nil {
		return Measured{}, err
	}
	bound, err := productBound(m, n)
	if err != nil {
		return Measured{}, err
	}
	return Measured{q, combine(m.Parts, n.SI, n.Parts, m.SI), bound}, nil
}

// Div returns m/n. Errors: ErrRange for a zero divisor, ErrExponent, and
// ErrNoBound where signs leave the direction open.
//
// First order holds while the relative uncertainty of the divisor is small; at
// 10 % the neglected term is about 1 % of the value.
func (m Measured) Div(n Measured) (Measured, error) {
	q, err := m.Quantity.Div(n.Quantity)
	if err != nil {
		return Measured{}, err
	}
	bound, err := quotientBound(m, n)
	if err != nil {
		return Measured{}, err
	}
	return Measured{q, combine(m.Parts, 1/n.SI, n.Parts, -q.SI/n.SI), bound}, nil
}

// Ratio returns a/b of two values of one dimension as a pure number. A cause
// common to both with the same relative effect, such as the gain of one
// converter, cancels.
func Ratio(a, b Measured) (Measured, error) {
	if a.Dim != b.Dim {
		return Measured{}, &DimError{"ratio", a.Dim, b.Dim}
	}
	return a.Div(b)
}

// Scale returns m times an exactly known pure number.
func (m Measured) Scale(factor float64) Measured {
	bound := m.Bound
	switch {
	case factor < 0:
		bound = -bound
	case factor == 0:
		bound = Exact
	}
	return Measured{m.Quantity.Scale(factor), combine(m.Parts, factor, nil, 0), bound}
}

// Neg returns -m: what was at least becomes at most.
func (m Measured) Neg() Measured { return m.Scale(-1) }

// Abs returns the magnitude of m. First order holds where m is farther from
// zero than its uncertainty. A bound that may lie on both sides of zero is
// ErrNoBound.
func (m Measured) Abs() (Measured, error) {
	if m.Bound != Exact && float64(m.Bound)*m.SI < 0 {
		return Measured{}, fmt.Errorf("magnitude of a value %s %s: %w", m.Bound, m.Quantity, ErrNoBound)
	}
	if m.SI < 0 || (m.SI == 0 && m.Bound == AtMost) {
		return m.Neg(), nil
	}
	return m, nil
}

// Mean returns the mean of one or more values of one dimension. Sources common
// to all, such as a gain, do not average out; separate ones do. Errors:
// ErrEmpty, *DimError, ErrRange and ErrNoBound.
func Mean(values ...Measured) (Measured, error) {
	if len(values) == 0 {
		return Measured{}, fmt.Errorf("mean: %w", ErrEmpty)
	}
	q, bound, total := Quantity{0, values[0].Dim}, Exact, 0
	var err error
	for _, v := range values {
		if q, err = q.Add(v.Quantity); err != nil {
			return Measured{}, fmt.Errorf("mean: %w", err)
		}
		if bound, err = sumBound("mean", bound, v.Bound); err != nil {
			return Measured{}, err
		}
		total += len(v.Parts)
	}
	n := float64(len(values))
	parts := make([]Contribution, 0, min(total, few))
	var seen index
	for _, v := range values {
		for i := range v.Parts {
			parts = seen.merge(parts, &v.Parts[i], i, 1/n)
		}
	}
	return Measured{q.Scale(1 / n), parts, bound}, nil
}

// Std returns the combined standard uncertainty in SI (JCGM 100:2008, 5.1.2
// and 5.2.2): the root of the sum of squares over the sources. For a bound it
// is the uncertainty of the bound.
func (m Measured) Std() float64 {
	sum := 0.0
	for _, c := range distinct(m.Parts) {
		sum += c.Share() * c.Share()
	}
	return math.Sqrt(sum)
}

// distinct returns parts with equal sources merged; it allocates only where
// someone built the list by hand and named a source twice.
func distinct(parts []Contribution) []Contribution {
	var seen index
	for i := range parts {
		source := parts[i].Source
		if source == "" {
			continue
		}
		if seen.find(parts[:i], source, i) >= 0 {
			return combine(parts, 1, nil, 0)
		}
		seen.note(parts[:i], source)
	}
	return parts
}
