package bench

import (
	"time"

	"sinkproof/bench/quantity"
)

// Options are what one opening of a rig may choose.
type Options struct {
	// Current and Temperature are the ceilings of the interlock: a reading
	// above one isolates the rig and comes back as *Interlock. The zero
	// Quantity sets no ceiling.
	Current     quantity.Quantity
	Temperature quantity.Quantity
	// Calibration corrects the channels that it names; nil for none.
	Calibration *Calibration
	// Observer is told of moves and guard events; nil is allowed.
	Observer Observer
}

// Observer watches a rig. Both methods are called in the loop that serves the
// heartbeat: they must return at once and must not call the rig.
type Observer interface {
	Moved(Move)
	Noticed(Notice)
}

// Move is one line of the relay log: a coil or a select that changed.
type Move struct {
	At   time.Duration // when the last coil register of the pattern was written
	Name string        // of the relay or select
	On   bool
}

// Notice is an event of the guard: "armed", "coils dropped", "interlock",
// "safe" and the like.
type Notice struct {
	At   time.Duration
	What string
	Err  error // nil where the event is no trouble
}
