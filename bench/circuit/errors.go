package circuit

import (
	"errors"
	"fmt"
	"strings"
)

// What callers branch on. Every error of this package wraps one of these.
var (
	// ErrFloating: nodes with neither a path to ground nor a capacitor.
	ErrFloating = errors.New("no path to ground and no capacitor")
	// ErrSingular: the equations have no unique solution.
	ErrSingular = errors.New("no unique solution")
	// ErrChatter: segments that keep changing at one instant.
	ErrChatter = errors.New("segments keep changing at one instant")
	// ErrComplex: the network would oscillate, which RC networks never do.
	ErrComplex = errors.New("complex time constants")
	// ErrValue: an element value outside its domain.
	ErrValue = errors.New("value out of its domain")
	// ErrKind: a setter applied to an element that has no such property.
	ErrKind = errors.New("the element has no such property")
	// ErrTime: an instant before now.
	ErrTime = errors.New("instant lies in the past")
	// ErrEventBetween: a look-ahead over a change of segment or a watch.
	ErrEventBetween = errors.New("an event lies between now and that instant")
)

// FloatingError names the nodes of a group whose voltage is undefined.
type FloatingError struct{ Nodes []string }

func (e *FloatingError) Error() string {
	return fmt.Sprintf("node %s: %v", strings.Join(e.Nodes, ", "), ErrFloating)
}

// Unwrap lets errors.Is find ErrFloating.
func (e *FloatingError) Unwrap() error { return ErrFloating }

// SingularError names the node at which the elimination found no pivot.
type SingularError struct{ Node string }

func (e *SingularError) Error() string {
	return fmt.Sprintf("node %s: %v", e.Node, ErrSingular)
}

// Unwrap lets errors.Is find ErrSingular.
func (e *SingularError) Unwrap() error { return ErrSingular }

// ChatterError names the element that changed last when the changes at one
// instant, or the events of one advance, exceeded their bound.
type ChatterError struct {
	Element string
	Segment string
	Seconds float64
}

func (e *ChatterError) Error() string {
	return fmt.Sprintf("element %s at %.9g s, last segment %q: %v", e.Element, e.Seconds, e.Segment, ErrChatter)
}

// Unwrap lets errors.Is find ErrChatter.
func (e *ChatterError) Unwrap() error { return ErrChatter }

// ComplexError names the nodes of an island whose modes are not real.
type ComplexError struct{ Nodes []string }

func (e *ComplexError) Error() string {
	return fmt.Sprintf("nodes %s: %v", strings.Join(e.Nodes, ", "), ErrComplex)
}

// Unwrap lets errors.Is find ErrComplex.
func (e *ComplexError) Unwrap() error { return ErrComplex }

// ValueError names the element and the value that is outside its domain.
type ValueError struct {
	Element string
	What    string
	Value   float64
}

func (e *ValueError) Error() string {
	return fmt.Sprintf("element %s: %s is %g: %v", e.Element, e.What, e.Value, ErrValue)
}

// Unwrap lets errors.Is find ErrValue.
func (e *ValueError) Unwrap() error { return ErrValue }
