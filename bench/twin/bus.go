package twin

import (
	"errors"
	"fmt"
	"math"
	"syscall"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"sinkproof/bench/twin/chips"
)

// addresses is the number of 7-bit addresses.
const addresses = 128

// bus is one I2C bus: chips by address, and the time of its bits.
type bus struct {
	t     *Twin
	name  string
	hertz float64
	bit   time.Duration
	// chips at an address; more than one is a clash, and all of them answer.
	chips  [addresses][]*chip
	closed bool

	transfers int // since the bus was made
	troubled  bool
	trouble   busTrouble
	clash     clash
}

// chip is a device with its name, the twin that it is part of, and whether it is
// there.
type chip struct {
	t      *Twin
	name   string
	device chips.Device
	absent bool
}

// busTrouble is what is wrong with a bus, by the number of the transfer.
type busTrouble struct {
	hangAt, nakAt, deadFrom int
	hang                    time.Duration
}

// noTrouble is a healthy bus.
func noTrouble() busTrouble {
	return busTrouble{hangAt: -1, nakAt: -1, deadFrom: math.MaxInt}
}

var _ i2c.BusCloser = (*bus)(nil)

// errClosed is the cause when a bus is used after Close.
var errClosed = errors.New("the bus is closed")

// deadAfter is how long a controller tries on a bus whose lines do not move
// before it gives up: common practice, the order of the time-outs of small
// computers' controllers, which run from 10 ms to seconds.
const deadAfter = 25 * time.Millisecond

// newBus returns a bus without chips at a frequency in hertz.
func newBus(t *Twin, name string, hertz float64) *bus {
	b := &bus{t: t, name: name, hertz: hertz, trouble: noTrouble()}
	b.slow(1)
	return b
}

// slow lets every bit take so many times its time.
func (b *bus) slow(factor float64) {
	b.bit = time.Duration(math.Round(1e9 / b.hertz * factor))
}

// String returns the name of the bus.
func (b *bus) String() string { return b.name }

// Close ends the use of the bus.
func (b *bus) Close() error {
	b.closed = true
	return nil
}

// SetSpeed fails as it does where the kernel's set-up fixes the speed.
func (b *bus) SetSpeed(physic.Frequency) error {
	return fmt.Errorf("%s: set the speed: not supported", b.name)
}

// Tx writes w to the chip at addr and, after a repeated start, reads r from
// it. A transfer of nothing does not touch the bus, as with the kernel's
// interface.
func (b *bus) Tx(addr uint16, w, r []byte) error {
	if len(w) == 0 && len(r) == 0 {
		return nil
	}
	if b.closed {
		return fmt.Errorf("%s: %w", b.name, errClosed)
	}
	n := b.transfers
	b.transfers++
	device := b.device(addr)
	if b.troubled {
		if err := b.suffer(n, addr); err != nil {
			return err
		}
		if n == b.trouble.nakAt {
			device = nil
		}
	}
	if device == nil {
		// Start, the address byte with its missing acknowledge, stop.
		if err := b.clock(1 + 9 + 1); err != nil {
			return err
		}
		return fmt.Errorf("%s: no chip acknowledges address %#02x: %w", b.name, addr, syscall.ENXIO)
	}
	if len(r) == 0 || len(w) > 1 {
		if err := b.clock(1 + 9 + 9*len(w)); err != nil {
			return err
		}
		device.Write(b.t.present(), w)
		if len(r) == 0 {
			return b.clock(1)
		}
		w = nil
	}
	// A pointer does nothing by itself: it may arrive when the reading begins.
	bits := 1 + 9
	if len(w) == 1 {
		bits += 1 + 9 + 9
	}
	if err := b.clock(bits); err != nil {
		return err
	}
	now := b.t.present()
	if len(w) == 1 {
		device.Write(now, w)
	}
	device.Read(now, r)
	return b.clock(9*len(r) + 1)
}

// clock lets the time of some bits pass.
func (b *bus) clock(bits int) error { return b.t.elapse(time.Duration(bits) * b.bit) }

// suffer plays what is wrong with the bus at the n-th transfer.
func (b *bus) suffer(n int, addr uint16) error {
	if n == b.trouble.hangAt {
		if err := b.t.elapse(b.trouble.hang); err != nil {
			return err
		}
		return fmt.Errorf("%s: transfer with address %#02x: %w", b.name, addr, syscall.ETIMEDOUT)
	}
	if n >= b.trouble.deadFrom {
		if err := b.t.elapse(deadAfter); err != nil {
			return err
		}
		return fmt.Errorf("%s: transfer with address %#02x: %w", b.name, addr, syscall.ETIMEDOUT)
	}
	return nil
}

// device is what answers at an address: the one chip there, nil for none.
func (b *bus) device(addr uint16) chips.Device {
	if addr >= addresses {
		return nil
	}
	list := b.chips[addr]
	if len(list) == 1 && list[0].t == b.t && !list[0].absent {
		return list[0].device
	}
	for _, c := range list {
		if !c.absent {
			b.clash.bus, b.clash.list = b, list
			return &b.clash
		}
	}
	return nil
}

// clash is all chips at an address. They may be part of other nests than the one that
// the bus was made with.
type clash struct {
	bus   *bus
	list  []*chip
	spare []byte
}

// Write hands bytes to all of them.
func (k *clash) Write(now time.Duration, w []byte) {
	for _, c := range k.list {
		if !c.absent {
			c.device.Write(k.at(c, now), w)
		}
	}
}

// Read takes the bytes of all of them: a zero on the wire wins.
func (k *clash) Read(now time.Duration, r []byte) {
	if cap(k.spare) < len(r) {
		k.spare = make([]byte, len(r))
	}
	first, other := true, k.spare[:len(r)]
	for _, c := range k.list {
		switch {
		case c.absent:
		case first:
			c.device.Read(k.at(c, now), r)
			first = false
		default:
			c.device.Read(k.at(c, now), other)
			for i := range r {
				r[i] &= other[i]
			}
		}
	}
}

// at is the present for a chip.
func (k *clash) at(c *chip, now time.Duration) time.Duration {
	if c.t == k.bus.t {
		return now
	}
	return c.t.meet()
}
