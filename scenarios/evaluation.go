package scenarios

import (
	"errors"
	"fmt"

	"sinkproof/bench/quantity"
)

// errMissing is the cause when a reading that an expression needs was never
// taken, because its stage was not asked or the bench failed.
var errMissing = errors.New("the reading was not taken")

// values gives an expression what a run has measured.
type values interface {
	// reading returns an earlier reading; it wraps errMissing.
	reading(name string) (quantity.Measured, error)
	// channel reads a channel now.
	channel(name string) (quantity.Measured, error)
}

// evaluate computes a value with its uncertainty. Equal sources stay
// correlated through every operator. Errors: errMissing, what values gives,
// and quantity's ErrRange and ErrNoBound.
func evaluate(e Expr, v values) (quantity.Measured, error) {
	switch e := e.(type) {
	case literal:
		return quantity.Known(e.value), nil
	case readingRef:
		return v.reading(e.name)
	case channelRef:
		return v.channel(e.name)
	case negation:
		m, err := evaluate(e.of, v)
		if err != nil {
			return quantity.Measured{}, err
		}
		return m.Neg(), nil
	case arithmetic:
		return e.evaluate(v)
	case call:
		return e.evaluate(v)
	}
	return quantity.Measured{}, fmt.Errorf("evaluate %s: a truth is no value", e)
}

func (e arithmetic) evaluate(v values) (quantity.Measured, error) {
	left, err := evaluate(e.left, v)
	if err != nil {
		return quantity.Measured{}, err
	}
	right, err := evaluate(e.right, v)
	if err != nil {
		return quantity.Measured{}, err
	}
	var m quantity.Measured
	switch e.op {
	case '+':
		m, err = left.Add(right)
	case '-':
		m, err = left.Sub(right)
	case '*':
		m, err = left.Mul(right)
	case '/':
		m, err = left.Div(right)
	default:
		err = fmt.Errorf("unknown operator %q", e.op)
	}
	if err != nil {
		return quantity.Measured{}, fmt.Errorf("evaluate %s: %w", e, err)
	}
	return m, nil
}

func (e call) evaluate(v values) (quantity.Measured, error) {
	args := make([]quantity.Measured, len(e.args))
	for i, a := range e.args {
		m, err := evaluate(a, v)
		if err != nil {
			return quantity.Measured{}, err
		}
		args[i] = m
	}
	var m quantity.Measured
	var err error
	switch e.name {
	case "abs":
		m, err = args[0].Abs()
	case "min":
		m, err = quantity.Min(args...)
	case "max":
		m, err = quantity.Max(args...)
	case "mean":
		m, err = quantity.Mean(args...)
	case "ratio":
		m, err = quantity.Ratio(args[0], args[1])
	default:
		err = fmt.Errorf("unknown function %q", e.name)
	}
	if err != nil {
		return quantity.Measured{}, fmt.Errorf("evaluate %s: %w", e, err)
	}
	return m, nil
}

// trilean is a truth that may be open: a bound need not tell on which side of
// a value the true one lies.
type trilean int8

const (
	no   trilean = -1
	open trilean = 0
	yes  trilean = 1
)

// decide evaluates a truth. An operand that was not measured makes it open
// only where the other operand does not settle it; err then is nil.
func decide(e truth, v values) (trilean, error) {
	switch e := e.(type) {
	case fact:
		if e.holds {
			return yes, nil
		}
		return no, nil
	case not:
		t, err := decide(e.of, v)
		return -t, err
	case logic:
		return e.decide(v)
	case comparison:
		return e.decide(v)
	}
	return open, fmt.Errorf("decide %s: not a truth", e)
}

// decide follows Kleene's three values: "and" is the smaller, "or" the larger.
func (e logic) decide(v values) (trilean, error) {
	left, err := decide(e.left, v)
	if err != nil {
		return open, err
	}
	right, err := decide(e.right, v)
	if err != nil {
		return open, err
	}
	if e.op == "&&" {
		return min(left, right), nil
	}
	return max(left, right), nil
}

func (e comparison) decide(v values) (trilean, error) {
	left, err := evaluate(e.left, v)
	if err != nil {
		return open, err
	}
	right, err := evaluate(e.right, v)
	if err != nil {
		return open, err
	}
	if e.op == "<" || e.op == "<=" {
		left, right = right, left
	}
	strict := e.op == "<" || e.op == ">"
	return above(left, right, strict)
}

// above compares the values as they were measured; a "when" chooses a way and
// is no judgement, so uncertainty has no part in it. A bound is settled only
// where the whole of it lies on one side.
func above(left, right quantity.Measured, strict bool) (trilean, error) {
	c, err := left.Cmp(right.Quantity)
	if err != nil {
		return open, err
	}
	holds := c > 0 || c == 0 && !strict
	canRise := left.Bound == quantity.AtLeast || right.Bound == quantity.AtMost
	canFall := left.Bound == quantity.AtMost || right.Bound == quantity.AtLeast
	switch {
	case holds && !canFall:
		return yes, nil
	case !holds && !canRise:
		return no, nil
	}
	return open, nil
}
