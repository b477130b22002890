package bench

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sinkproof/bench/wiring"
)

// The conditions that the bench itself leads to, by the names that every
// wiring file gives them.
const (
	Isolated  = "isolated"
	ProbeVbus = "probe-vbus"
)

// ErrClosed is the cause when a rig is used after Close.
var ErrClosed = errors.New("the rig is closed")

// Rig is one open rig: it stands in one state and takes one unit. It is not
// for concurrent use, because one loop serves everything. Between two calls
// somebody must go on serving the heartbeat: Pause does.
type Rig struct {
	wiring   *wiring.Rig
	guard    *guard
	bank     *bank
	observer Observer
	limits   Options

	converters   []*converter
	meters       []*meter
	thermometers []*sensor
	channels     []*channel
	vbus         *channel // the voltage at the sense pin

	state, isolated wiring.State
	resolved        []*resolved // what was entered so far
	// entered is the transfer of the last coil write, within which the coils
	// moved; still is when its contacts stand still.
	entered span
	still   time.Duration
	told    pattern // what the observer knows of
	passed  map[string]bool
	// readings numbers the readings, so that the spread of each has a source
	// of its own.
	readings int
	points   []point // of the wait or capture that runs; reused
	watching bool    // the temperature is being looked at
	closed   bool
	unproven error // why coils could not be proven off at the opening
}

// Now is the time on the rig's clock.
func (r *Rig) Now() time.Duration { return r.guard.Now() }

// Wiring is the description that the rig was opened with.
func (r *Rig) Wiring() *wiring.Rig { return r.wiring }

// State is the state that the rig stands in. Its lists must not be changed.
func (r *Rig) State() wiring.State { return r.state }

// Entered is the instant of the last coil write of the last Enter: the middle
// of its transfer.
func (r *Rig) Entered() time.Duration { return r.entered.middle() }

// Begin starts a run: no condition has passed yet. It clears a fault or an
// interlock of the last run that is over, and returns it where only a new Open
// can arm the coils again.
func (r *Rig) Begin(ctx context.Context) error {
	if r.closed {
		return refuse("begin a run", r.wiring.Name, "Open the rig.", ErrClosed)
	}
	clear(r.passed)
	// An alert that is over must not trip again while it is being cleared.
	r.guard.quiet = true
	var errs []error
	for _, m := range r.meters {
		errs = append(errs, chipFault("clear the alert", m.spec.Name, m.dev.ClearAlert()))
	}
	r.guard.quiet = false
	if err := errors.Join(append(errs, r.guard.clear())...); err != nil {
		return r.end(err)
	}
	return ctx.Err()
}

// Pass marks a condition as passed in this run, so that what needs it may be
// entered. Begin, Safe and Empty forget it.
func (r *Rig) Pass(condition string) { r.passed[condition] = true }

// Passed tells whether a condition has passed in this run.
func (r *Rig) Passed(condition string) bool { return r.passed[condition] }

// Pause lets time pass in the state that the rig stands in, and serves the
// guard meanwhile.
func (r *Rig) Pause(ctx context.Context, d time.Duration) error {
	if err := r.begin(ctx); err != nil {
		return err
	}
	return r.end(r.guard.Sleep(ctx, d))
}

// Err is why the run is over: the *Fault or *Interlock that every call returns
// until Begin clears it. Nil while the run may go on.
func (r *Rig) Err() error { return r.guard.err }

// begin opens every operation.
func (r *Rig) begin(ctx context.Context) error {
	if r.closed {
		return refuse("use the rig", r.wiring.Name, "Open the rig.", ErrClosed)
	}
	if r.guard.err != nil {
		return r.guard.err
	}
	return ctx.Err()
}

// end closes every operation. What tripped the guard comes first; the rig is
// then led to the safe state before anything is returned. The same goes for
// any fault that leaves open where the rig stands. A context that ended and a
// refusal do not.
func (r *Rig) end(err error) error {
	if r.guard.err == nil {
		if err == nil || !r.fatal(err) {
			return err
		}
		r.guard.err = asFault(err)
		r.notice("fault", r.guard.err)
	}
	unsafe := r.Safe()
	var lock *Interlock
	if errors.As(r.guard.err, &lock) {
		lock.Safe = unsafe
		return r.guard.err
	}
	if unsafe != nil {
		return errors.Join(r.guard.err, unsafe)
	}
	return r.guard.err
}

// fatal tells whether an error leaves open where the rig stands.
func (r *Rig) fatal(err error) bool {
	var f *Fault
	if errors.As(err, &f) {
		return !f.refused
	}
	return !errors.Is(err, context.Canceled) && !errors.Is(err, context.DeadlineExceeded)
}

// asFault keeps a fault and wraps everything else in one: whatever a driver
// could not do is the bench's.
func asFault(err error) error {
	var f *Fault
	if errors.As(err, &f) {
		return err
	}
	return &Fault{What: "drive the bench", Thing: "bus", Hint: "Run the self-test of the rig.", Err: err}
}

// chipFault is a driver's error as the bench's, unless the driver only passed
// on what the guard or the context said.
func chipFault(what, chip string, err error) error {
	if err == nil {
		return nil
	}
	var f *Fault
	var lock *Interlock
	if errors.As(err, &f) || errors.As(err, &lock) ||
		errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return &Fault{What: what, Thing: chip,
		Hint: fmt.Sprintf("Check supply, address and wires of %s, then run the self-test.", chip), Err: err}
}

// notice tells the observer of a guard event.
func (r *Rig) notice(what string, err error) {
	if r.observer != nil {
		r.observer.Noticed(Notice{At: r.guard.Now(), What: what, Err: err})
	}
}

// report tells the observer which outputs the last coil write has moved.
func (r *Rig) report() {
	moved, at := r.told.differs(r.bank.now), r.guard.wrote.middle()
	r.told = r.bank.now
	if r.observer == nil || moved.empty() {
		return
	}
	for i, left := 0, moved.count(); left > 0 && i < len(r.bank.coils); i++ {
		if c := &r.bank.coils[i]; c.in(&moved) {
			r.observer.Moved(Move{At: at, Name: c.name, On: c.in(&r.bank.now)})
			left--
		}
	}
}
