package chiptest

import (
	"context"
	"fmt"
	"time"

	"periph.io/x/conn/v3/physic"
)

// Clock is a virtual chip.Clock. The zero value stands at 0.
type Clock struct {
	now time.Duration
	// Slept counts the calls of Sleep that advanced the clock.
	Slept int
	// Limit, when above 0, is the number of such calls after which Sleep
	// returns context.Canceled: a caller that gives up in the middle.
	Limit int
}

// Now returns the virtual time.
func (c *Clock) Now() time.Duration { return c.now }

// Advance lets time pass.
func (c *Clock) Advance(d time.Duration) { c.now += d }

// Sleep advances the clock by d at once.
func (c *Clock) Sleep(ctx context.Context, d time.Duration) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if d <= 0 {
		return nil
	}
	if c.Slept++; c.Limit > 0 && c.Slept >= c.Limit {
		c.Slept, c.Limit = 0, 0
		return context.Canceled
	}
	c.now += d
	return nil
}

// perByte is the time of a byte and its acknowledge at 400 kHz.
const perByte = 9 * time.Second / 400_000

// Wire is the part of an i2c.Bus that fake chips share.
type Wire struct {
	Clock *Clock
	// Addr is the address that answers.
	Addr uint16
	// Carried counts the transfers.
	Carried int
}

// String returns the name of the bus.
func (w *Wire) String() string { return "wire" }

// SetSpeed accepts every speed and keeps 400 kHz.
func (w *Wire) SetSpeed(physic.Frequency) error { return nil }

// Carry lets the time of a transfer pass and says whether anything answers. A
// fake calls it first in its Tx.
func (w *Wire) Carry(addr uint16, out, in []byte) error {
	w.Carried++
	bytes := 1 + len(out)
	if len(in) > 0 {
		bytes += 1 + len(in)
	}
	w.Clock.Advance(time.Duration(bytes) * perByte)
	if addr != w.Addr {
		return fmt.Errorf("no acknowledge from %02Xh", addr)
	}
	return nil
}
