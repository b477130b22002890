package bench

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

var (
	// ErrHeld is the cause when VBUS does not fall below Safe0V although
	// every coil is proven off: the unit feeds it, or contacts are welded.
	ErrHeld = errors.New("VBUS is held up")
	// ErrNeeds is the cause when a setting needs a condition that has not
	// passed in this run.
	ErrNeeds = errors.New("a condition that it needs has not passed in this run")
)

// emptying is how long VBUS may take to fall: 2.5 s. Through a bleeder of
// 470 Ω it empties 2700 µF from 5.5 V to 0.8 V in that time. Own choice.
const emptying = 2500 * time.Millisecond

// Enter leads the rig to a setting, break before make. Feeds go off, VBUS is
// waited below Safe0V where a relay has to move, relays open, relays close,
// feeds come on. Where only selects change the feed stays on. Every coil
// register is read back. A setting whose Needs have not passed is refused.
//
// Where VBUS does not fall, isolated is entered all the same, so that it can
// be measured there; any other setting comes back as a *Fault that wraps
// ErrHeld, with the rig isolated.
func (r *Rig) Enter(ctx context.Context, s wiring.Setting) error {
	if err := r.begin(ctx); err != nil {
		return err
	}
	return r.end(r.enter(ctx, s, nil))
}

// enter is Enter inside an operation. ready is called right before the last
// coil write, for those who must not miss what follows it.
func (r *Rig) enter(ctx context.Context, s wiring.Setting, ready func() error) error {
	to, err := r.resolve(s)
	if err != nil {
		return err
	}
	if err := r.allowed(to); err != nil {
		return err
	}
	// The probe's own contacts may open and close under its few milliamperes.
	gentle := r.state.Setting.Condition == ProbeVbus && to.state.Setting.Condition == ProbeVbus
	if err := r.move(ctx, to.on, to.feed, gentle, ready); err != nil {
		return fmt.Errorf("enter %s: %w", s, err)
	}
	r.state = to.state
	return nil
}

// resolved is a setting as the bank takes it.
type resolved struct {
	asked    wiring.Setting
	state    wiring.State
	needs    []string
	on, feed pattern
}

// resolve works out what a setting turns on. Every run asks for the same few, so
// each is worked out once.
func (r *Rig) resolve(s wiring.Setting) (*resolved, error) {
	for _, known := range r.resolved {
		if known.asked.Equal(s) {
			return known, nil
		}
	}
	state, err := r.wiring.Expand(s)
	if err != nil {
		return nil, refuse("enter "+s.String(), s.Condition, "Name a condition of the wiring file.", err)
	}
	on, err := r.bank.patternOf(state.On)
	if err != nil {
		return nil, refuse("enter "+s.String(), s.Condition, "Check the wiring file.", err)
	}
	feed, err := r.bank.patternOf(state.Feed)
	if err != nil {
		return nil, refuse("enter "+s.String(), s.Condition, "Check the wiring file.", err)
	}
	c, _ := r.wiring.Condition(s.Condition)
	asked := wiring.Setting{Condition: s.Condition, Axes: slices.Clone(s.Axes)}
	to := &resolved{asked: asked, state: state, needs: c.Needs, on: on, feed: feed}
	r.resolved = append(r.resolved, to)
	return to, nil
}

// allowed refuses a setting whose needs have not passed.
func (r *Rig) allowed(to *resolved) error {
	for _, need := range to.needs {
		if !r.passed[need] {
			return refuse("enter "+to.state.Setting.String(), to.state.Setting.Condition, "Let "+need+" pass first in this run.",
				fmt.Errorf("%w: %s", ErrNeeds, need))
		}
	}
	return nil
}

// move leads the outputs from where they are to on and feed. A gentle move
// leaves VBUS as it is.
func (r *Rig) move(ctx context.Context, on, feed pattern, gentle bool, ready func() error) error {
	b := r.bank
	target := on.or(feed)
	if gentle || target.differs(b.now).and(b.contacts).empty() {
		return r.switchOver(ctx, target, ready)
	}
	held, err := r.clearWay(ctx, target)
	if err != nil {
		return err
	}
	if held != nil && !target.empty() {
		return held
	}
	// Selects change with the opening contacts, when no supply is connected.
	opened := b.now.without(b.contacts.or(b.selects)).or(target.and(b.selects)).or(b.now.and(target).and(b.contacts))
	if err := r.write(ctx, opened, (*bank).open); err != nil {
		return err
	}
	closed := opened.or(target.and(b.contacts))
	if err := r.write(ctx, closed, (*bank).shut); err != nil {
		return err
	}
	semis := target.and(b.solid)
	if first := semis.without(feed); !semis.and(feed).empty() && !first.empty() {
		if err := r.write(ctx, closed.or(first), (*bank).shut); err != nil {
			return err
		}
	}
	if ready != nil {
		if err := ready(); err != nil {
			return err
		}
	}
	return r.last(ctx, target)
}

// switchOver changes what may change at any time: selects, semiconductors and
// the contacts of the probe. What is fed stays fed; it still breaks before it
// makes.
func (r *Rig) switchOver(ctx context.Context, target pattern, ready func() error) error {
	b := r.bank
	switches := b.solid.or(b.contacts)
	closing := target.without(b.now).and(switches)
	opening := b.now.without(target).and(switches)
	if !closing.empty() && !opening.empty() {
		if err := r.write(ctx, b.now.without(opening), (*bank).open); err != nil {
			return err
		}
	}
	if ready != nil {
		if err := ready(); err != nil {
			return err
		}
	}
	return r.last(ctx, target)
}

// last writes the last pattern of a move and remembers when. It does not wait
// until everything stands still: Wait and Capture sample from here on, Read waits.
func (r *Rig) last(ctx context.Context, target pattern) error {
	moved := target.differs(r.bank.now)
	if moved.empty() {
		return ctx.Err()
	}
	if err := r.put(target); err != nil {
		return err
	}
	r.entered = r.guard.wrote
	r.still = r.entered.hi + max(r.bank.open(moved), r.bank.shut(moved))
	return ctx.Err()
}

// write changes the outputs and waits until the contacts stand still.
func (r *Rig) write(ctx context.Context, want pattern, still func(*bank, pattern) time.Duration) error {
	moved := want.differs(r.bank.now)
	if moved.empty() {
		return nil
	}
	if err := r.put(want); err != nil {
		return err
	}
	r.entered = r.guard.wrote
	r.still = r.entered.hi + still(r.bank, moved)
	return r.guard.Sleep(ctx, r.still-r.Now())
}

// put writes a pattern and tells the observer what moved.
func (r *Rig) put(want pattern) error {
	err := r.bank.write(want)
	r.report()
	return err
}

// clearWay takes every semiconductor to rest, so that feeds are off and the
// bleeder bleeds, and waits until VBUS has fallen. Where it does not fall every
// output goes off: what holds VBUS up then is no supply of the rig. The fault
// comes back beside err, because isolated may be entered with it.
func (r *Rig) clearWay(ctx context.Context, target pattern) (held, err error) {
	rest := r.bank.now.without(r.bank.solid)
	if r.state.Setting.Condition == ProbeVbus {
		rest = pattern{} // or the probe's current would hold VBUS up
	}
	if err := r.write(ctx, rest, (*bank).open); err != nil {
		return nil, err
	}
	held, err = r.awaitEmpty(ctx)
	if held == nil || err != nil {
		return nil, err
	}
	r.notice("VBUS does not fall", held)
	if err := r.write(ctx, pattern{}, (*bank).open); err != nil {
		return nil, err
	}
	r.state = r.isolated
	if target.empty() {
		return held, nil
	}
	return r.awaitEmpty(ctx)
}

// awaitEmpty waits until VBUS, with its uncertainty, is below Safe0V. held is
// the fault when it does not fall in time.
func (r *Rig) awaitEmpty(ctx context.Context) (held, err error) {
	end := r.guard.Now() + emptying
	pause := time.Duration(0)
	var room [16]quantity.Contribution // nobody keeps what these readings are wrong by
	for {
		sum, err := r.quick(ctx, r.vbus)
		if err != nil {
			return nil, err
		}
		// What is not below by itself is not with its uncertainty.
		v := quantity.Quantity{SI: r.vbus.budget.value(sum.mean), Dim: r.vbus.dim}
		if v.SI < r.wiring.Guard.Safe0V.SI {
			u := r.vbus.budget.mean(room[:0], &sum, "step", "repeatability").U()
			if v.SI+u.SI < r.wiring.Guard.Safe0V.SI {
				return nil, nil
			}
		}
		if r.guard.Now() >= end {
			return heldFault(v, r.wiring.Guard.Safe0V), nil
		}
		pause = min(pause+time.Millisecond, slice)
		if err := r.guard.Sleep(ctx, pause); err != nil {
			return nil, err
		}
	}
}

func heldFault(v, limit quantity.Quantity) *Fault {
	return &Fault{What: "wait for VBUS to fall", Thing: "vbus", refused: true,
		Hint: "Take the unit out. If VBUS falls, the unit feeds it; if not, look for welded contacts and a dead bleeder.",
		Err:  fmt.Errorf("%w at %s for %s, off means below %s", ErrHeld, v.Text(4), emptying, limit)}
}
