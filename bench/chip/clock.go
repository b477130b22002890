package chip

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Clock is the time that a driver lives in, real or virtual.
type Clock interface {
	// Now returns the time since a fixed start. It never goes back.
	Now() time.Duration
	// Sleep returns after at least d, or with the cause when ctx ends first.
	// A d of zero or less returns at once, with ctx's error if it has ended.
	Sleep(ctx context.Context, d time.Duration) error
}

// ErrNotReady says that a chip had not finished in the longest time its data
// sheet allows.
var ErrNotReady = errors.New("not ready in time")

// margin is added to the longest legal time: 2 ms. It covers the power-up of
// a converter (25 µs, ADS1115 data sheet, from memory) and a loop that was
// held up between two transfers. Own choice; short against a coil's 10 ms.
const margin = 2 * time.Millisecond

// shortestPoll is the least time between two looks at a ready bit: 20 µs,
// about a sixth of what the look itself takes on a 400 kHz bus. Own choice. It
// must not be zero, because on a virtual clock only Sleep may advance time.
const shortestPoll = 20 * time.Microsecond

// Wait describes how long a conversion takes.
type Wait struct {
	// Nominal is the time at the oscillator's nominal frequency.
	Nominal time.Duration
	// Longest is the time at its slowest.
	Longest time.Duration
}

// Shortest is 0.9 of the nominal time, which an oscillator up to 11 % fast does not
// undercut.
func (w Wait) Shortest() time.Duration { return w.Nominal / 10 * 9 }

// Until returns when ready reports true. It sleeps until the shortest time has
// passed since start, and then asks ready again and again.
//
// When Longest and a margin have passed it asks one last time: a loop that was
// itself late must not blame the chip. Then it returns ErrNotReady.
func (w Wait) Until(ctx context.Context, c Clock, start time.Duration, ready func() (bool, error)) error {
	quiet := start + w.Shortest() - c.Now()
	if err := c.Sleep(ctx, quiet); err != nil {
		return fmt.Errorf("wait %s: %w", quiet, err)
	}
	// slept stops the loop even under a clock whose Now stands still.
	slept := max(quiet, 0)
	step := max(w.Nominal/32, shortestPoll)
	for {
		passed := max(c.Now()-start, slept)
		ok, err := ready()
		if err != nil || ok {
			return err
		}
		if passed > w.Longest+margin {
			return fmt.Errorf("%w: waited %s, longest legal time %s", ErrNotReady, passed, w.Longest)
		}
		if err := c.Sleep(ctx, step); err != nil {
			return fmt.Errorf("wait %s: %w", step, err)
		}
		slept += step
	}
}
