package twin

import (
	"context"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
)

// Config is what a twin is made from.
type Config struct {
	Wiring  *wiring.Rig
	Product *product.Product
	Seed    uint64
	// Pace, when set, is told every instant before the twin goes there: a
	// demonstration in real time waits in it.
	Pace func(at time.Duration)
	// Base, when set, gives the time instead of the virtual clock.
	Base Timebase
}

// Twin is a simulated rig.
type Twin struct {
	config Config
	base   Timebase
	now    time.Duration // what has been played
	queue  queue
}

// New builds a rig with an empty nest, its coil supply latched off.
func New(c Config) (*Twin, error) {
	t := &Twin{config: c, base: c.Base}
	if t.base == nil {
		t.base = &virtual{pace: c.Pace}
	}
	return t, nil
}

// Hardware returns the buses, the lines and the clock of the rig: everything
// that a bench can reach.
func (t *Twin) Hardware() bench.Hardware {
	return bench.Hardware{Clock: clock{t}}
}

// Seat draws the unit of a serial with its faults and seats it.
func (t *Twin) Seat(serial string, faults ...Fault) error { return Combine(faults...) }

// Unseat takes the unit out of the nest.
func (t *Twin) Unseat() {}

// Break makes the rig faulty.
func (t *Twin) Break(f RigFault) error { return nil }

// Mend takes all faults off the rig.
func (t *Twin) Mend() {}

// pass lets d go by.
func (t *Twin) pass(ctx context.Context, d time.Duration) error {
	if err := t.base.Reach(ctx, t.base.Now()+d); err != nil {
		return err
	}
	t.play(t.base.Now())
	return nil
}

// play acts out everything up to an instant.
func (t *Twin) play(to time.Duration) {
	for t.queue.next() <= to {
		t.now = t.queue.next()
		t.queue.pop().Due(t.now)
	}
	t.now = max(t.now, to)
}
