package chip

import (
	"errors"
	"fmt"

	"periph.io/x/conn/v3/i2c"
)

// ErrIdentity says that what answers at an address is not the chip expected:
// another chip, or none on an adapter that swallows missing acknowledges.
var ErrIdentity = errors.New("not the chip expected")

// ErrLost says that a chip no longer holds what was written to it, as after a
// dip of its supply. What it measured meanwhile means nothing.
var ErrLost = errors.New("the chip lost its setting")

// Words reads and writes sixteen-bit registers behind a pointer byte, most
// significant byte first. It keeps its buffers, so that a transfer allocates
// nothing, and must not be copied after first use.
type Words struct {
	bus  i2c.Bus
	addr uint16
	w    [3]byte
	r    [2]byte
}

// NewWords returns the registers of the chip at a 7-bit address.
func NewWords(b i2c.Bus, addr uint16) Words { return Words{bus: b, addr: addr} }

// Read sets the pointer and reads the word in the same transfer. It always
// takes both bytes: an LM75 read for one byte only can hold the data line low
// (TI LM75B data sheet SNIS153B, p. 11).
func (p *Words) Read(reg uint8) (uint16, error) {
	p.w[0] = reg
	if err := p.bus.Tx(p.addr, p.w[:1], p.r[:]); err != nil {
		return 0, fmt.Errorf("read register %02Xh: %w", reg, err)
	}
	return uint16(p.r[0])<<8 | uint16(p.r[1]), nil
}

// Write writes a word.
func (p *Words) Write(reg uint8, v uint16) error {
	p.w = [3]byte{reg, byte(v >> 8), byte(v)}
	if err := p.bus.Tx(p.addr, p.w[:], nil); err != nil {
		return fmt.Errorf("write register %02Xh = %04Xh: %w", reg, v, err)
	}
	return nil
}

// WriteUpper writes the upper byte of a register only. The configuration of an
// LM75 is one byte wide.
func (p *Words) WriteUpper(reg, v uint8) error {
	p.w[0], p.w[1] = reg, v
	if err := p.bus.Tx(p.addr, p.w[:2], nil); err != nil {
		return fmt.Errorf("write register %02Xh = %02Xh: %w", reg, v, err)
	}
	return nil
}

// Check reads a register and compares the bits of mask with want. A difference
// is returned as kind, one of the sentinels of this package.
func (p *Words) Check(reg uint8, want, mask uint16, kind error) error {
	got, err := p.Read(reg)
	if err != nil {
		return err
	}
	if got&mask != want&mask {
		return fmt.Errorf("register %02Xh reads %04Xh, want %04Xh (mask %04Xh): %w", reg, got, want, mask, kind)
	}
	return nil
}

// Put writes a register and reads it back; a difference is kind.
func (p *Words) Put(reg uint8, v uint16, kind error) error {
	if err := p.Write(reg, v); err != nil {
		return err
	}
	return p.Check(reg, v, 0xFFFF, kind)
}
