package bench

import (
	"context"
	"errors"
	"time"

	"sinkproof/bench/wiring"
)

// Rig is one open rig: it stands in one state and takes one unit. It is not
// for concurrent use, because one loop serves everything.
type Rig struct {
	wiring *wiring.Rig
	clock  Clock
}

// Open writes every coil register off and reads it back, then gives the arm
// pulse, identifies the chips, sets the alert limits and ends in isolated,
// confirmed by measuring. On an error the rig is left with its coils off and
// without a heartbeat.
func Open(ctx context.Context, w *wiring.Rig, hw Hardware, o Options) (*Rig, error) {
	return nil, errUnbuilt
}

// Now is the time on the rig's clock.
func (r *Rig) Now() time.Duration { return r.clock.Now() }

// Wiring is the description that the rig was opened with.
func (r *Rig) Wiring() *wiring.Rig { return r.wiring }

// State is the state that the rig stands in.
func (r *Rig) State() wiring.State { return wiring.State{} }

// Entered is the instant of the last coil write of the last Enter.
func (r *Rig) Entered() time.Duration { return 0 }

// Begin starts a run: no condition has passed yet. It clears an interlock
// that is over, and refuses where only a new Open can arm the coils again.
func (r *Rig) Begin(ctx context.Context) error { return errUnbuilt }

// Enter leads the rig to a setting, break before make. Feeds go off, VBUS is
// waited below Safe0V where a relay has to move, relays open, relays close,
// feeds come on. Where only selects change the feed stays on. Every coil
// register is read back. A setting whose Needs have not passed is refused.
func (r *Rig) Enter(ctx context.Context, s wiring.Setting) error { return errUnbuilt }

// Pass marks a condition as passed in this run, so that what needs it may be
// entered. Begin, Safe and Empty forget it.
func (r *Rig) Pass(condition string) {}

// Read measures one channel in the state that the rig stands in.
func (r *Rig) Read(ctx context.Context, channel string, o ReadOptions) (Reading, error) {
	return Reading{}, errUnbuilt
}

// Wait samples one channel until what is asked for is true, and ends as soon
// as it is. Not met within the time is an answer (Met is false), not an
// error.
func (r *Rig) Wait(ctx context.Context, u Until) (Waited, error) { return Waited{}, errUnbuilt }

// Capture samples one channel from now on.
func (r *Rig) Capture(ctx context.Context, c Capture) (Waveform, error) {
	return Waveform{}, errUnbuilt
}

// Probe enters probe-vbus with each probe current that it needs and leaves
// the rig there with the source off. It passes no judgement: the caller marks
// the condition as passed.
func (r *Rig) Probe(ctx context.Context) (Presence, error) { return Presence{}, errUnbuilt }

// Empty proves that nothing is seated, and forgets what the last unit passed.
// A nest that is not measured empty is refused with a *Fault that wraps
// ErrOccupied.
func (r *Rig) Empty(ctx context.Context) (Presence, error) { return Presence{}, errUnbuilt }

// Do runs f so that every way out of it, a panic included, ends in Safe. What
// Safe could not confirm is joined to f's error.
func (r *Rig) Do(f func() error) error { return errUnbuilt }

// Safe leads to isolated under its own deadline and confirms it by measuring
// VBUS below Safe0V. It works when chips are gone, and twice. What could not
// be confirmed comes back as *Fault.
func (r *Rig) Safe() error { return errUnbuilt }

// Close makes the rig safe, stops the heartbeat and releases the lines.
func (r *Rig) Close() error { return errUnbuilt }

var errUnbuilt = errors.New("the rig cannot do this yet")
