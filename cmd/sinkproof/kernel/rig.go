package kernel

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"syscall"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
)

// Rig is a world with the twin of a rig on the real clock. The twin is for one
// goroutine; the lock makes it that of whoever holds it.
type Rig struct {
	mu    sync.Mutex
	clock *realTime
	twin  *twin.Twin
	bus   i2c.Bus
	pins  [8]gpio.PinIO // nil where the wiring has no line

	outputs, levels uint8
	transfers       int
	hang            hang
	nak             int // transfers from now until one is not acknowledged
}

// hang is a transfer that takes long and then answers as if nothing had been.
type hang struct {
	in    int // transfers from now
	lasts time.Duration
	begun chan<- time.Duration
}

// NewRig returns a rig with an empty nest. Its lines are those of a wiring file
// that Wiring has written.
func NewRig(w *wiring.Rig, p *product.Product, seed uint64) (*Rig, error) {
	r := &Rig{clock: &realTime{start: time.Now()}, hang: hang{in: -1}, nak: -1}
	var err error
	if r.twin, err = twin.New(twin.Config{Wiring: w, Product: p, Seed: seed, Base: r.clock}); err != nil {
		return nil, fmt.Errorf("the rig outside: %w", err)
	}
	hw := r.twin.Hardware()
	if len(w.Buses) != 1 {
		return nil, fmt.Errorf("the rig outside has %d buses, the machine one: %w", len(w.Buses), ErrMachine)
	}
	r.bus = hw.Buses[w.Buses[0].Name]
	for _, l := range w.Lines {
		n, err := offset(l.Device)
		if err != nil {
			return nil, err
		}
		r.pins[n] = hw.Lines[l.Name]
	}
	return r, nil
}

// realTime lets a twin follow the computer's clock. What a twin does within a
// transfer, the bits of a few bytes, may run ahead of it: the way into the
// machine takes longer than that.
type realTime struct {
	start time.Time
	ahead time.Duration // the latest instant that was reached
}

// lead is how far a twin may run ahead of the clock.
const lead = 2 * time.Millisecond

// Now is the present instant.
func (c *realTime) Now() time.Duration { return max(time.Since(c.start), c.ahead) }

// Reach waits for an instant, or nearly.
func (c *realTime) Reach(_ context.Context, at time.Duration) error {
	if wait := at - lead - time.Since(c.start); wait > 0 {
		time.Sleep(wait)
	}
	c.ahead = max(c.ahead, at)
	return nil
}

// Tx is a transfer on the rig's bus.
func (r *Rig) Tx(addr uint16, w, read []byte) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.transfers++
	if r.hang.in == 0 {
		// Whoever looks from outside goes on looking.
		h := r.hang
		h.begun <- r.clock.Now()
		r.mu.Unlock()
		time.Sleep(h.lasts)
		r.mu.Lock()
	}
	if r.hang.in >= 0 {
		r.hang.in--
	}
	r.nak = max(r.nak-1, -1)
	if r.nak == 0 {
		return ErrNoAnswer
	}
	err := r.bus.Tx(addr, w, read)
	if errors.Is(err, syscall.ENXIO) {
		return ErrNoAnswer
	}
	return err
}

// Direct makes lines outputs.
func (r *Rig) Direct(outputs uint8) {
	r.mu.Lock()
	defer r.mu.Unlock()
	fresh := outputs &^ r.outputs
	r.outputs = outputs
	r.drive(fresh)
}

// Set drives lines.
func (r *Rig) Set(mask, levels uint8) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.levels = r.levels&^mask | levels&mask
	r.drive(mask & r.outputs)
}

// drive gives the twin the levels of some outputs.
func (r *Rig) drive(lines uint8) {
	for i, pin := range r.pins {
		if pin != nil && lines>>i&1 != 0 {
			// A line of the twin fails where the twin has: Looks tell.
			_ = pin.Out(gpio.Level(r.levels>>i&1 != 0))
		}
	}
}

// Levels are the levels on all lines.
func (r *Rig) Levels() uint8 {
	r.mu.Lock()
	defer r.mu.Unlock()
	v := r.levels & r.outputs
	for i, pin := range r.pins {
		if pin != nil && r.outputs>>i&1 == 0 && pin.Read() == gpio.High {
			v |= 1 << i
		}
	}
	return v
}

// Use lets f have the twin for itself: to seat units and to break things.
func (r *Rig) Use(f func(*twin.Twin) error) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return f(r.twin)
}

// Now is the rig's clock.
func (r *Rig) Now() time.Duration {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.clock.Now()
}

// Transfers is how many transfers there were.
func (r *Rig) Transfers() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.transfers
}

// HangAfter lets the n-th transfer from now take a time before it answers. The
// channel gets the instant at which it begins.
func (r *Rig) HangAfter(n int, lasts time.Duration) <-chan time.Duration {
	begun := make(chan time.Duration, 1)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.hang = hang{n, lasts, begun}
	return begun
}

// NakAfter lets the n-th transfer from now go without an acknowledge.
func (r *Rig) NakAfter(n int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.nak = n
}
