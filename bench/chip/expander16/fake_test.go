package expander16

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/chip/chiptest"
)

// fake is an expander with its registers in both orders of the map (Microchip
// MCP23017 data sheet DS20001952C, tables 3-4 and 3-5): state, not a script.
// Registers are kept by their BANK = 0 address.
type fake struct {
	chiptest.Wire
	reg     [0x16]byte
	pointer byte
	// outside is the level at a pin that is an input.
	outside uint16
	// held are pins whose level something else forces: shorted to the level in
	// outside.
	held uint16
	// lit collects every coil that was energised at the end of any transfer;
	// activeLow says which level does that.
	lit, activeLow uint16
	// patterns lists the different states of the output pins, in order.
	patterns []uint16
}

const (
	iocon = 0x0A
	gpio  = 0x12
	olat  = 0x14
)

func newFake() *fake {
	f := &fake{Wire: chiptest.Wire{Clock: &chiptest.Clock{}, Addr: 0x20}}
	f.reset()
	return f
}

// reset does what a dip of the supply does (DS20001952C, table 3-5).
func (f *fake) reset() {
	f.reg = [0x16]byte{0: 0xFF, 1: 0xFF}
}

func (f *fake) bank1() bool { return f.reg[iocon]&0x80 != 0 }

// address turns an address on the bus into one of BANK = 0, -1 for none.
func (f *fake) address(a byte) int {
	switch {
	case !f.bank1() && a < 0x16:
		return int(a)
	case f.bank1() && a&0x0F <= 0x0A && a < 0x20:
		return int(a&0x0F)<<1 | int(a>>4)
	}
	return -1
}

func (f *fake) word(reg byte) uint16 { return uint16(f.reg[reg+1])<<8 | uint16(f.reg[reg]) }

// pins returns the levels at the pins.
func (f *fake) pins() uint16 {
	in := f.word(0)
	free := f.outside&in | f.word(olat)&^in
	return free&^f.held | f.outside&f.held
}

// coils returns the coils that are energised: a pin that is no output drives
// none.
func (f *fake) coils() uint16 { return (f.word(olat) ^ f.activeLow) &^ f.word(0) }

func (f *fake) Tx(addr uint16, w, r []byte) error {
	if err := f.Carry(addr, w, r); err != nil {
		return err
	}
	if len(w) > 0 {
		f.pointer = w[0]
		for _, v := range w[1:] {
			f.write(v)
		}
	}
	for i := range r {
		r[i] = f.read()
	}
	f.lit |= f.coils()
	if n := len(f.patterns); n == 0 || f.patterns[n-1] != f.coils() {
		f.patterns = append(f.patterns, f.coils())
	}
	return nil
}

func (f *fake) write(v byte) {
	a := f.address(f.pointer)
	f.next()
	switch {
	case a == iocon || a == iocon+1:
		f.reg[iocon], f.reg[iocon+1] = v, v
	case a == gpio || a == gpio+1: // a write to the port is one to the latch
		f.reg[a+2] = v
	case a >= 0 && a != 0x0E && a != 0x0F && a != 0x10 && a != 0x11:
		f.reg[a] = v
	}
}

func (f *fake) read() byte {
	a := f.address(f.pointer)
	f.next()
	switch {
	case a == gpio || a == gpio+1:
		levels := f.pins() ^ f.word(2)
		return byte(levels >> (8 * (a - gpio)))
	case a >= 0:
		return f.reg[a]
	}
	return 0
}

// next steps the pointer: SEQOP = 0 goes on, SEQOP = 1 with BANK = 0 toggles
// between the two of a pair.
func (f *fake) next() {
	switch {
	case f.reg[iocon]&0x20 == 0:
		f.pointer++
	case !f.bank1():
		f.pointer ^= 1
	}
}

func openOn(t testing.TB, f *fake, o Opts) *Dev {
	t.Helper()
	f.activeLow = o.ActiveLow
	d, err := New(f, o)
	require.NoError(t, err)
	return d
}
