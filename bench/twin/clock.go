package twin

import (
	"context"
	"time"

	"sinkproof/bench"
)

// Timebase is where a twin's time comes from. Now is the present instant.
// Reach returns when an instant has come; the twin then plays what happened
// until there.
type Timebase interface {
	Now() time.Duration
	Reach(ctx context.Context, at time.Duration) error
}

// NewTime returns a timebase that jumps, for twins that stand side by side: one
// of them moves it, and the others find what happened meanwhile.
func NewTime() Timebase { return &virtual{} }

// virtual is a timebase that jumps.
type virtual struct {
	now  time.Duration
	pace func(at time.Duration)
}

// Now returns the instant that was reached last.
func (v *virtual) Now() time.Duration { return v.now }

// Reach jumps, after the pace has been told.
func (v *virtual) Reach(ctx context.Context, at time.Duration) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if v.pace != nil && at > v.now {
		v.pace(at)
	}
	v.now = max(v.now, at)
	return nil
}

// clock is the bench's view of the twin's time.
type clock struct{ t *Twin }

// Now returns the present instant.
func (c clock) Now() time.Duration { return c.t.base.Now() }

// Sleep lets d pass. A context that is done ends it at once, as it would a
// sleep on the wall clock.
func (c clock) Sleep(ctx context.Context, d time.Duration) error {
	return c.t.pass(ctx, d)
}

// jumping is the clock of a twin whose time jumps: a run looks at it tens of
// thousands of times.
type jumping struct{ clock }

// Now returns the present instant.
func (j jumping) Now() time.Duration { return j.t.jumps.now }

// clock returns the bench's view of the time.
func (t *Twin) clock() bench.Clock {
	if t.jumps != nil {
		return jumping{clock{t}}
	}
	return clock{t}
}
