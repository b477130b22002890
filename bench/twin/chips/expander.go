package chips

import "time"

// The registers of one port in the order of BANK = 1 (Microchip MCP23017 data
// sheet DS20001952C, table 3-5).
const (
	expDirection = iota // IODIR: 1 = input
	expPolarity         // IPOL
	expInterrupt        // GPINTEN
	expDefault          // DEFVAL
	expControl          // INTCON
	expConfig           // IOCON, one register at two addresses
	expPull             // GPPU
	expFlag             // INTF, read only
	expCapture          // INTCAP, read only
	expPort             // GPIO
	expLatch            // OLAT
	expRegisters
)

// The bits of IOCON that matter on a two-wire bus (from memory of the data
// sheet; BANK and SEQOP seen in public drivers).
const (
	expBank     = 1 << 7
	expNoSeq    = 1 << 5
	expConfMask = 0xfe
)

// Expander is a 16-bit input and output expander. Its 16 pins are numbered A0
// to A7, then B0 to B7.
type Expander struct {
	regs    [2][expRegisters]byte
	pointer byte
	driven  uint16
	moved   func(now time.Duration, high uint16)
}

// NewExpander returns an expander as it is after power-up: every pin an input.
// It calls moved whenever the set of pins that it drives high changes.
func NewExpander(moved func(now time.Duration, high uint16)) *Expander {
	e := &Expander{moved: moved}
	e.regs[0][expDirection], e.regs[1][expDirection] = 0xff, 0xff
	return e
}

// High returns the pins that the chip drives high.
func (e *Expander) High() uint16 { return e.driven }

// Write takes the register address and the bytes for it and its successors.
func (e *Expander) Write(now time.Duration, w []byte) {
	if len(w) == 0 {
		return
	}
	e.pointer = w[0]
	for _, b := range w[1:] {
		if port, reg, ok := e.locate(e.pointer); ok {
			e.store(port, reg, b)
		}
		e.step()
	}
	e.drive(now)
}

// Read returns the register under the pointer and its successors.
func (e *Expander) Read(_ time.Duration, r []byte) {
	for i := range r {
		r[i] = 0
		if port, reg, ok := e.locate(e.pointer); ok {
			r[i] = e.load(port, reg)
		}
		e.step()
	}
}

// locate maps an address to port and register for both register maps.
func (e *Expander) locate(address byte) (port, reg int, ok bool) {
	if e.banked() {
		port, reg = int(address>>4), int(address&0x0f)
		return port, reg, port < 2 && reg < expRegisters
	}
	return int(address & 1), int(address >> 1), address < 2*expRegisters
}

func (e *Expander) banked() bool { return e.regs[0][expConfig]&expBank != 0 }

// step moves the pointer on after a byte. With SEQOP set it toggles between
// the two ports of a register in BANK 0 and stays in BANK 1 (DS20001952C,
// section 3.2.1).
func (e *Expander) step() {
	switch {
	case e.regs[0][expConfig]&expNoSeq == 0:
		e.advance()
	case !e.banked():
		e.pointer ^= 1
	}
}

// advance moves to the next register and rolls over at the end of the map.
func (e *Expander) advance() {
	e.pointer++
	switch {
	case !e.banked() && e.pointer >= 2*expRegisters:
		e.pointer = 0
	case e.banked() && e.pointer&0x0f >= expRegisters:
		e.pointer = (e.pointer&0xf0 + 0x10) & 0x10
	}
}

func (e *Expander) store(port, reg int, b byte) {
	switch reg {
	case expFlag, expCapture:
	case expConfig:
		e.regs[0][expConfig], e.regs[1][expConfig] = b&expConfMask, b&expConfMask
	case expPort:
		// Writing the port writes the latch (DS20001952C, section 3.5.10).
		e.regs[port][expLatch] = b
	default:
		e.regs[port][reg] = b
	}
}

// load returns a register. A pin that is an input has nothing but its pull-up
// on it: the coil drivers do not drive back.
func (e *Expander) load(port, reg int) byte {
	if reg != expPort {
		return e.regs[port][reg]
	}
	r := &e.regs[port]
	pins := r[expLatch]&^r[expDirection] | r[expPull]&r[expDirection]
	return pins ^ r[expPolarity]&r[expDirection]
}

// drive reports the pins that are driven high when they have changed.
func (e *Expander) drive(now time.Duration) {
	a := e.regs[0][expLatch] &^ e.regs[0][expDirection]
	b := e.regs[1][expLatch] &^ e.regs[1][expDirection]
	high := uint16(a) | uint16(b)<<8
	if high == e.driven {
		return
	}
	e.driven = high
	e.moved(now, high)
}
