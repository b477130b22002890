package bench

import (
	"fmt"

	"sinkproof/bench/quantity"
)

// Fault says that the bench cannot do or cannot trust something. It is never
// the unit's: a check that meets a Fault is unanswered.
type Fault struct {
	What  string // what the bench was doing, such as "read back coils"
	Thing string // the chip, relay, channel, condition or line concerned
	Hint  string // the next step of the person at the bench
	Err   error  // the cause

	// refused: nothing was begun, so the run may go on.
	refused bool
}

// Error names the thing, the deed and the cause; the hint stays apart.
func (f *Fault) Error() string {
	return fmt.Sprintf("%s: %s: %v", f.Thing, f.What, f.Err)
}

// refuse is a fault that leaves the rig as it was: what was asked for does not
// exist here or is not allowed now.
func refuse(what, thing, hint string, err error) *Fault {
	return &Fault{What: what, Thing: thing, Hint: hint, Err: err, refused: true}
}

// Unwrap returns the cause.
func (f *Fault) Unwrap() error { return f.Err }

// InterlockKind is why a run was isolated.
type InterlockKind string

// The interlocks.
const (
	StopPressed     InterlockKind = "emergency stop"
	LidOpen         InterlockKind = "lid"
	OverVoltage     InterlockKind = "over-voltage"
	OverCurrent     InterlockKind = "over-current"
	OverTemperature InterlockKind = "temperature"
)

// Interlock says that the guard isolated the rig. The rig was led to its safe
// state before the error came back; Safe tells what could not be confirmed.
type Interlock struct {
	Kind  InterlockKind
	Thing string // the line, chip or channel that saw it
	// Value and Limit are what was read and what it must not exceed; both are
	// zero where a line tripped.
	Value, Limit quantity.Quantity
	Hint         string // the next step of the person at the bench
	Safe         error  // nil when the safe state was confirmed
}

// Error says what tripped, and with which value.
func (i *Interlock) Error() string {
	text := fmt.Sprintf("interlock: %s: %s", i.Kind, i.Thing)
	if i.Limit != (quantity.Quantity{}) {
		text += fmt.Sprintf(" reads %v, above %v", i.Value, i.Limit)
	}
	if i.Safe != nil {
		text += fmt.Sprintf("; the safe state is not confirmed: %v", i.Safe)
	}
	return text
}

// Unwrap returns what could not be confirmed on the way to the safe state.
func (i *Interlock) Unwrap() error { return i.Safe }
