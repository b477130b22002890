package kernel

import (
	"context"
	"errors"
	"fmt"
	"slices"
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
	uses  [8]wiring.LineUse

	relays    []*wiring.Relay // those with contacts that move
	expanders map[uint16]bool

	outputs, levels uint8
	transfers       int
	hang            hang
	nak             int // transfers from now until one is not acknowledged
	slow            time.Duration

	// What was seen: heartbeat edges, arm pulses, writes to coil registers.
	beats, arms, coils []time.Duration
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
	r := &Rig{clock: &realTime{start: time.Now()}, hang: hang{in: -1}, nak: -1, expanders: map[uint16]bool{}}
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
		r.pins[n], r.uses[n] = hw.Lines[l.Name], l.Use
	}
	for i := range w.Relays {
		if k := &w.Relays[i]; !k.SolidState {
			r.relays = append(r.relays, k)
		}
	}
	for _, c := range w.Chips {
		if c.Kind == wiring.Expander {
			r.expanders[c.Address] = true
		}
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
	r.delay()
	if r.nak >= 0 {
		if r.nak--; r.nak < 0 {
			return ErrNoAnswer
		}
	}
	err := r.bus.Tx(addr, w, read)
	if r.expanders[addr] && len(w) > 1 {
		r.coils = append(r.coils, r.clock.Now())
	}
	if errors.Is(err, syscall.ENXIO) {
		return ErrNoAnswer
	}
	return err
}

// delay lets a transfer take longer. Whoever looks from outside goes on
// looking meanwhile.
func (r *Rig) delay() {
	wait := r.slow
	if r.hang.in >= 0 {
		if r.hang.in--; r.hang.in < 0 {
			wait = r.hang.lasts
			r.hang.begun <- r.clock.Now()
		}
	}
	if wait > 0 {
		r.mu.Unlock()
		time.Sleep(wait)
		r.mu.Lock()
	}
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
			high := r.levels>>i&1 != 0
			_ = pin.Out(gpio.Level(high))
			switch {
			case r.uses[i] == wiring.Heartbeat:
				r.beats = append(r.beats, r.clock.Now())
			case r.uses[i] == wiring.Arm && high:
				r.arms = append(r.arms, r.clock.Now())
			}
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

// Slow lets every transfer from now on take longer.
func (r *Rig) Slow(by time.Duration) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.slow = by
}

// Seen are the instants of what the machine did to the rig.
type Seen struct {
	Beats []time.Duration // edges of the heartbeat
	Arms  []time.Duration // beginnings of arm pulses
	Coils []time.Duration // writes to coil registers
}

// Seen is what was seen so far.
func (r *Rig) Seen() Seen {
	r.mu.Lock()
	defer r.mu.Unlock()
	return Seen{slices.Clone(r.beats), slices.Clone(r.arms), slices.Clone(r.coils)}
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
