package scenarios

import (
	"context"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// Seater is what a run needs of a rig to know who sits in the nest.
type Seater interface {
	Begin(ctx context.Context) error
	Empty(ctx context.Context) (bench.Presence, error)
	Probe(ctx context.Context) (bench.Presence, error)
	Pass(condition string)
}

// Mover leads a rig from one setting to another and to safety.
type Mover interface {
	Now() time.Duration
	Enter(ctx context.Context, s wiring.Setting) error
	// Entered is the instant that waits count from.
	Entered() time.Duration
	Do(f func() error) error
	Safe() error
}

// Meter measures.
type Meter interface {
	Read(ctx context.Context, channel string, o bench.ReadOptions) (bench.Reading, error)
	ReadTogether(ctx context.Context, asks []bench.Ask) ([]bench.Answer, error)
	Wait(ctx context.Context, u bench.Until) (bench.Waited, error)
	Capture(ctx context.Context, c bench.Capture) (bench.Waveform, error)
}

// Bench is what a run needs of a rig; *bench.Rig is one.
type Bench interface {
	Seater
	Mover
	Meter
}

var _ Bench = (*bench.Rig)(nil)

// Handler moves the unit: the twin does it itself, on hardware the operator is
// asked. Each call returns when it is done.
type Handler interface {
	// Seat puts the unit into the nest that was measured empty.
	Seat(ctx context.Context, serial string) error
	// Unseat takes it out; why is for the operator.
	Unseat(ctx context.Context, serial, why string) error
	// Reseat plugs it once more; why is for the operator.
	Reseat(ctx context.Context, serial, why string) error
}

// Job is one run to be done.
type Job struct {
	// Opening is what is known of the run; it was committed before.
	Opening  record.Opening
	Scenario *Scenario
	Bench    Bench
	Handler  Handler
	// Given are the values that the scenario cannot read by itself, by the
	// names of its given steps. A unit with a cell of its own comes with its
	// open-circuit voltage here.
	Given map[string]quantity.Quantity
	// Relays is the relay log that the bench writes to (bench.Options.
	// Observer); nil leaves the record without one.
	Relays *RelayLog
	// Prover proves the bench before a unit is failed; nil fails it without.
	Prover Prover
	// NoProof is why there is no prover; a unit that fails is told so with it.
	NoProof string
	// Keeper has the check receptacle that proves the pins of the test plug after
	// the Prover has found nothing; nil fails a unit without, and NoReceptacle says
	// why.
	Keeper       Keeper
	NoReceptacle string
	// Emit is told of every event of the run; nil is allowed. It must return
	// at once.
	Emit func(record.Event)
	// At is told when a stage begins, with an empty step, and when each of its
	// steps does; nil is allowed. It must return at once.
	At func(st Stage, step string)
}
