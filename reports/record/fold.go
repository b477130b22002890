package record

import (
	"errors"
	"fmt"
	"slices"
)

// ErrEvent is the cause when an event comes where none of its kind can be:
// before Opened, a second Opened, or after Closed.
var ErrEvent = errors.New("event out of order")

// Fold turns the events of one run into its record. The zero value is ready.
type Fold struct {
	run            Run
	opened, closed bool
}

// Expect makes room for what a run is going to hold. Whoever does not know leaves it
// out, and a run may hold more.
func (f *Fold) Expect(checks, readings, moves int) {
	f.run.Checks = slices.Grow(f.run.Checks, checks)
	f.run.Readings = slices.Grow(f.run.Readings, readings)
	f.run.Relays = slices.Grow(f.run.Relays, moves)
}

// Apply adds an event. It wraps ErrEvent when the event cannot follow what
// came before, and leaves the fold as it was then.
func (f *Fold) Apply(e Event) error {
	_, opening := e.(Opened)
	switch {
	case f.closed:
		return fmt.Errorf("record: %T after the run was closed: %w", e, ErrEvent)
	case opening == f.opened:
		return fmt.Errorf("record: %T with opened = %t: %w", e, f.opened, ErrEvent)
	}
	_, f.closed = e.(Closed)
	f.opened = true
	e.apply(&f.run)
	return nil
}

// Run returns the record as far as it has come; after Closed it is complete.
// The slices are shared with the fold and must not be changed.
func (f *Fold) Run() Run {
	run := f.run
	run.Schema = run.schema()
	run.Checks, run.Readings, run.Relays = some(run.Checks), some(run.Readings), some(run.Relays)
	return run
}

// some is nil for an empty list: what was only expected leaves no trace.
func some[T any](list []T) []T {
	if len(list) == 0 {
		return nil
	}
	return list
}

// Complete says whether the run was closed.
func (f *Fold) Complete() bool { return f.closed }
