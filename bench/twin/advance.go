package twin

import (
	"context"
	"time"
)

// pass lets d go by, or less where a context ends it.
func (t *Twin) pass(ctx context.Context, d time.Duration) error {
	if ctx.Err() == nil && t.skip(d) {
		return t.failure
	}
	return t.reach(ctx, t.base.Now()+d)
}

// elapse lets d go by: a part of a transfer, or a look at a line. A run has some
// 15,000 of them.
func (t *Twin) elapse(d time.Duration) error {
	if t.skip(d) {
		return t.failure
	}
	return t.reach(context.Background(), t.base.Now()+d)
}

// skip lets d go by where time jumps and nothing is due, and tells whether that
// was so.
func (t *Twin) skip(d time.Duration) bool {
	v := t.jumps
	if v == nil || d < 0 || v.now+d >= t.queue.first {
		return false
	}
	v.now += d
	return true
}

// present returns the instant that time has come to.
func (t *Twin) present() time.Duration {
	if t.jumps != nil {
		return t.jumps.now
	}
	return t.came
}

// reach lets time go by up to an instant, and acts out what the rig does until
// there.
func (t *Twin) reach(ctx context.Context, at time.Duration) error {
	if err := t.base.Reach(ctx, at); err != nil {
		return err
	}
	t.came = max(t.came, t.base.Now())
	t.play(t.present())
	return t.failure
}

// meet brings a nest up to the present that another one has come to.
func (t *Twin) meet() time.Duration {
	t.came = max(t.came, t.base.Now())
	t.play(t.present())
	return t.present()
}

// play acts out everything up to an instant. The circuit is brought only as
// far as the last actor needs it: a transfer between two events costs a
// comparison.
func (t *Twin) play(to time.Duration) {
	for t.queue.next() <= to && t.failure == nil {
		at := t.queue.next()
		if t.solve(at) {
			continue // a crossing may have put something in front
		}
		t.now = at
		t.queue.pop().Due(at)
		if t.unit != nil {
			t.unit.notice(at)
		}
	}
}

// bring acts out everything up to an instant and brings the circuit there.
// What the circuit does by itself is found no earlier than somebody looks at
// it, and then in the order in which it happened.
func (t *Twin) bring(to time.Duration) {
	t.play(to)
	for t.failure == nil && t.solve(to) {
		t.play(to)
	}
	t.now = max(t.now, to)
}

// catchUp brings the circuit itself up to the present instant.
func (t *Twin) catchUp() {
	t.came = max(t.came, t.base.Now())
	t.bring(t.present())
}

// instant converts to the time of the circuit, which has come there.
func (t *Twin) instant(at time.Duration) float64 {
	came := t.sim.Now()
	if x := float64(at-t.origin) * 1e-9; x < came {
		return x
	}
	return came
}

// follow lets the converters take in what the circuit has shown so far.
func (t *Twin) follow() {
	if t.sim == nil {
		return
	}
	now := t.origin + time.Duration(t.sim.Now()*1e9)
	for _, s := range t.samplers {
		s.Follow(now)
	}
}

// solve advances the circuit to an instant. When a watched voltage reaches its
// level before, or a charger changes its phase, it stops there, tells who
// wants to know, and returns true.
func (t *Twin) solve(at time.Duration) bool {
	to := float64(at-t.origin) * 1e-9
	if came := t.sim.Now(); to < came {
		to = came
	}
	t.lookAhead(to)
	id, err := t.sim.AdvanceTo(to)
	if err != nil {
		t.check(err)
		return false
	}
	if id == -1 {
		return false
	}
	// The instant is rounded up, so that what follows never lies before.
	crossing := t.origin + time.Duration(t.sim.Now()*1e9) + 1
	t.now = min(max(crossing, t.now), at)
	if id >= 0 {
		if w := t.watchers[id]; w != nil {
			w.crossed(t.now)
		}
	}
	if t.unit != nil {
		t.unit.notice(t.now)
	}
	return true
}

// ahead is how far the circuit is asked whether anything will happen in it:
// some conversions of a monitor. Until there it advances without a search.
const ahead = 20e-3

// lookAhead lets the circuit find out once that nothing happens for a while,
// instead of at every event of the rig.
func (t *Twin) lookAhead(to float64) {
	if to <= t.quiet && t.sim.Now() <= t.quiet {
		return
	}
	t.quiet = to + ahead
	if !t.sim.Quiet(t.quiet) {
		// Something will: asking again is of no use before it has happened.
		t.quiet = to + ahead/8
	}
}
