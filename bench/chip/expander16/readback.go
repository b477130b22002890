package expander16

import (
	"errors"
	"fmt"
)

// ErrReadback is what errors.Is finds in every *ReadbackError.
var ErrReadback = errors.New("outputs read back wrong")

// From names the register that was read back.
type From uint8

const (
	// Latch is OLAT: what the chip was told. Wrong there means that the
	// transfer was damaged or the chip was reset.
	Latch From = iota
	// Port is GPIO: the level at the pins. Wrong there alone means that a pin
	// is held by something else or is no output any more.
	Port
)

// String returns "latch" or "port".
func (f From) String() string {
	if f == Port {
		return "port"
	}
	return "latch"
}

// ReadbackError says that the coils are not as wanted. Wanted and Found are
// patterns: a set bit is an energised coil.
type ReadbackError struct {
	From   From
	Wanted uint16
	Found  uint16
}

// Error names both patterns and the pins that differ.
func (e *ReadbackError) Error() string {
	return fmt.Sprintf("%s reads back %04Xh, wanted %04Xh, pins %04Xh differ", e.From, e.Found, e.Wanted, e.Found^e.Wanted)
}

// Is makes errors.Is find ErrReadback.
func (e *ReadbackError) Is(target error) bool { return target == ErrReadback }

// levels turns coils into what the pins must be told; coils does the opposite
// and drops the pins that are no outputs.
func (d *Dev) levels(coils uint16) uint16 { return coils ^ d.opts.ActiveLow }

func (d *Dev) coils(levels uint16) uint16 { return (levels ^ d.opts.ActiveLow) & d.opts.Outputs }

// readBack compares latch and pins with the coils wanted. The latch is judged
// first: when it is wrong, the pins only follow.
func (d *Dev) readBack(coils uint16) error {
	pins, latch, err := d.both()
	if err != nil {
		return err
	}
	if found := d.coils(latch); found != coils {
		return &ReadbackError{From: Latch, Wanted: coils, Found: found}
	}
	if found := d.coils(pins); found != coils {
		return &ReadbackError{From: Port, Wanted: coils, Found: found}
	}
	return nil
}

// both reads GPIO and OLAT of both ports in one transfer: the four registers
// follow one another and IOCON.SEQOP = 0 steps through them.
func (d *Dev) both() (pins, latch uint16, err error) {
	d.w[0] = regPort
	if err := d.bus.Tx(d.opts.Addr, d.w[:1], d.r[:]); err != nil {
		return 0, 0, fmt.Errorf("read registers %02Xh to %02Xh: %w", regPort, regLatch+1, err)
	}
	pins, latch = decode(d.r)
	return pins, latch, nil
}

// decode splits GPIOA, GPIOB, OLATA, OLATB into two patterns.
func decode(r [4]byte) (pins, latch uint16) {
	return uint16(r[1])<<8 | uint16(r[0]), uint16(r[3])<<8 | uint16(r[2])
}

// write writes a pair of registers, port A and port B, in one transfer.
func (d *Dev) write(reg byte, v uint16) error {
	d.w = [3]byte{reg, byte(v), byte(v >> 8)}
	if err := d.bus.Tx(d.opts.Addr, d.w[:], nil); err != nil {
		return fmt.Errorf("write registers %02Xh and %02Xh = %04Xh: %w", reg, reg+1, v, err)
	}
	return nil
}

// put writes a pair of registers and reads it back; a difference is kind.
func (d *Dev) put(reg byte, v uint16, kind error) error {
	if err := d.write(reg, v); err != nil {
		return err
	}
	d.w[0] = reg
	if err := d.bus.Tx(d.opts.Addr, d.w[:1], d.r[:2]); err != nil {
		return fmt.Errorf("read registers %02Xh and %02Xh: %w", reg, reg+1, err)
	}
	if got := uint16(d.r[1])<<8 | uint16(d.r[0]); got != v {
		return fmt.Errorf("registers %02Xh and %02Xh read %04Xh, want %04Xh: %w", reg, reg+1, got, v, kind)
	}
	return nil
}
