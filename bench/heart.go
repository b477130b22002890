package bench

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// ErrStopped is the cause when the heartbeat was stopped on purpose: only a new
// Open arms the coils again.
var ErrStopped = errors.New("the heartbeat was stopped on purpose")

// heart is the heartbeat of a rig. Nests that are open side by side share it:
// whoever has the turn gives the edge that is due. When it ends unasked it has
// ended for all of them.
type heart struct {
	line   line          // without a pin until the first nest is opened
	gap    time.Duration // longest between two edges
	period time.Duration // between two edges as they are due

	beating bool
	high    bool
	last    time.Duration // of the last edge
	nests   int           // that need it
	ends    int           // how often it has ended, so that each nest finds out
	why     *Fault        // of the last end
}

// due gives the edge, or ends where it would come too late.
func (h *heart) due(now time.Duration) {
	if late := now - h.last; late > h.gap {
		h.stop(&Fault{What: "serve the heartbeat", Thing: h.line.name, Hint: rearm,
			Err: fmt.Errorf("%w: %s since the last edge, allowed are %s", ErrLate, late, h.gap)})
		return
	}
	h.edge(now)
}

// edge toggles the line.
func (h *heart) edge(now time.Duration) {
	h.high = !h.high
	if err := h.line.set(h.high); err != nil {
		h.stop(&Fault{What: "serve the heartbeat", Thing: h.line.name, Hint: "Check the line of the computer.", Err: err})
		return
	}
	h.last = now
}

// start begins with an edge, unless it beats already.
func (h *heart) start(now time.Duration) {
	if h.beating {
		return
	}
	h.beating = true
	h.edge(now)
}

// stop ends it for every nest.
func (h *heart) stop(why *Fault) {
	h.beating, h.why = false, why
	h.ends++
}

// stopLooks is how often the coil supply is looked at while the heartbeat is
// missing, and stopGaps for how many of its longest gaps it is. Own choices.
const (
	stopLooks = time.Millisecond
	stopGaps  = 3
)

// ErrShared is the cause when other nests need the heartbeat.
var ErrShared = errors.New("other nests are open")

// HeartStop is what happened while the heartbeat was stopped on purpose.
type HeartStop struct {
	// Before, Without and Again are what the channel read with the heartbeat,
	// without it, and with it back but no arm pulse given.
	Before, Without, Again Reading
	// Dropped says that the line of the coil supply went off, After how long
	// after the last edge that was seen.
	Dropped bool
	After   time.Duration
	// Back says that the line came back without an arm pulse.
	Back bool
}

// StopHeart stops the heartbeat in the state that the rig stands in, with its
// coil registers as they are, and watches what the hardware does: the coil
// supply must go off within the longest gap and stay off when the heartbeat
// comes back. The channel shows whether contacts follow. Afterwards the rig is
// isolated and its run over: every call returns a *Fault that wraps ErrStopped
// until a new Open.
//
// Where no line reads the coil supply, Dropped and Back are false.
func (r *Rig) StopHeart(ctx context.Context, channel string) (HeartStop, error) {
	if err := r.begin(ctx); err != nil {
		return HeartStop{}, err
	}
	if r.guard.heart.nests > 1 {
		return HeartStop{}, refuse("stop the heartbeat", r.guard.heart.line.name, "Close the other nests first.", ErrShared)
	}
	out, err := r.stopHeart(ctx, channel)
	if err == nil {
		r.guard.lose(&Fault{What: "serve the heartbeat", Thing: r.guard.heart.line.name, Hint: "Open the rig again.", Err: ErrStopped})
	}
	ended := r.end(err)
	if errors.Is(ended, ErrStopped) {
		return out, nil
	}
	return out, ended
}

func (r *Rig) stopHeart(ctx context.Context, channel string) (out HeartStop, err error) {
	g := r.guard
	if out.Before, err = r.read(ctx, channel, ReadOptions{Periods: -1}); err != nil {
		return out, err
	}
	// The lines are still looked at; only the coil supply may go.
	g.heart.beating, g.armed = false, false
	last := g.heart.last
	for end := last + stopGaps*g.heart.gap; g.Now() < end; {
		if err := g.Sleep(ctx, stopLooks); err != nil {
			return out, err
		}
		if !out.Dropped && g.supply != nil && !g.supplied() {
			out.Dropped, out.After = true, g.Now()-last
		}
	}
	if out.Without, err = r.read(ctx, channel, ReadOptions{Periods: -1}); err != nil {
		return out, err
	}
	if err := g.start(); err != nil {
		return out, err
	}
	if err := g.Sleep(ctx, stopGaps*g.heart.gap); err != nil {
		return out, err
	}
	out.Back = out.Dropped && g.supplied()
	out.Again, err = r.read(ctx, channel, ReadOptions{Periods: -1})
	return out, err
}
