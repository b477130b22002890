package population

import (
	"context"

	"sinkproof/reports/record"
)

// Simulator is a rig that runs units one after the other. It is used by one
// goroutine.
type Simulator interface {
	// Run takes one unit in, through the scenario, and out again. The error
	// is the simulation's own or the context's; what the bench could not judge
	// is in the record.
	Run(ctx context.Context, u Unit) (Outcome, error)
	// Close ends the rig.
	Close() error
}

// Factory makes a rig as it was drawn. It is called from several goroutines.
type Factory func(ctx context.Context, r Rig) (Simulator, error)

// Outcome is what became of a unit.
type Outcome struct {
	Run record.Run
	// Truth holds what the unit really was, in SI units, by names that the
	// factory gives. Nothing on hardware could know it.
	Truth map[string]float64
	// Kept is what else the factory kept of the run; nil for nothing.
	Kept any
}
