package expander16

import (
	"errors"
	"fmt"

	"periph.io/x/conn/v3"
	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench/chip"
)

// The registers with IOCON.BANK = 0, port A; port B is one above (Microchip
// MCP23017 data sheet DS20001952C, table 3-5).
const (
	regDirection = 0x00 // IODIR: 1 input; FFh after reset
	regPolarity  = 0x02 // IPOL: 1 inverts what GPIO reads
	regInterrupt = 0x04 // GPINTEN
	regCompare   = 0x06 // DEFVAL: used by interrupts only, so free for a test pattern
	regControl   = 0x0A // IOCON, the same register at 0Bh
	regPullUp    = 0x0C // GPPU: 1 pulls an input up, 100 kΩ
	regPort      = 0x12 // GPIO: levels at the pins
	regLatch     = 0x14 // OLAT: what the outputs were told
)

// regControlBank1 is IOCON while IOCON.BANK = 1. With BANK = 0 the same address
// is GPINTENB, where a zero does no harm (DS20001952C, section 3.2.1; a public
// driver's BANK = 1 definitions).
const regControlBank1 = 0x05

// The words that New writes to DEFVAL to prove that the chip holds what it is
// given: each bit once 0 and once 1. Own choice.
const (
	patternA = 0x55AA
	patternB = 0xAA55
)

// The addresses that the pins A2 to A0 select (DS20001952C, features).
const (
	lowestAddr  = 0x20
	highestAddr = 0x27
)

// outputOnly are GPA7 and GPB7, which newer revisions of the data sheet specify
// as outputs only (DS20001952D and later, from memory).
const outputOnly = 0x8080

// ErrSetting says that an option or a pattern is none that the chip can have.
var ErrSetting = errors.New("no such setting")

// Opts are the choices that hold for the life of a Dev.
type Opts struct {
	// Addr is the 7-bit address, 20h to 27h.
	Addr uint16
	// Outputs are the pins that drive coils.
	Outputs uint16
	// ActiveLow are the outputs whose coil is energised by a low level.
	ActiveLow uint16
	// Inputs are the pins that Inputs reads. GPA7 and GPB7 cannot be.
	Inputs uint16
	// PullUp are the inputs that get the chip's 100 kΩ pull-up.
	PullUp uint16
}

// DefaultOpts returns address 20h and sixteen outputs, active high.
func DefaultOpts() Opts { return Opts{Addr: lowestAddr, Outputs: 0xFFFF} }

// check says which option the chip cannot have.
func (o Opts) check() error {
	switch {
	case o.Addr < lowestAddr || o.Addr > highestAddr:
		return fmt.Errorf("%w: address %02Xh, possible are %02Xh to %02Xh", ErrSetting, o.Addr, lowestAddr, highestAddr)
	case o.Outputs&o.Inputs != 0:
		return fmt.Errorf("%w: pins %04Xh are both outputs and inputs", ErrSetting, o.Outputs&o.Inputs)
	case o.ActiveLow&^o.Outputs != 0:
		return fmt.Errorf("%w: pins %04Xh are active low and no outputs", ErrSetting, o.ActiveLow&^o.Outputs)
	case o.PullUp&^o.Inputs != 0:
		return fmt.Errorf("%w: pins %04Xh have a pull-up and are no inputs", ErrSetting, o.PullUp&^o.Inputs)
	case o.Inputs&outputOnly != 0:
		return fmt.Errorf("%w: pins %04Xh are outputs only and cannot be inputs", ErrSetting, o.Inputs&outputOnly)
	}
	return nil
}

// Dev is one expander. It is not safe for use by several goroutines at once.
type Dev struct {
	bus  i2c.Bus
	opts Opts
	w    [3]byte
	r    [4]byte
}

var _ conn.Resource = (*Dev)(nil)

// New takes the chip over in whatever state an earlier program left it. The
// latches are written off before any pin becomes an output, and everything is
// read back. When New fails after the chip has answered it tries to leave every
// coil off.
func New(b i2c.Bus, o Opts) (*Dev, error) {
	d := &Dev{bus: b, opts: o}
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("%s: check options: %w", d, err)
	}
	if err := d.open(); err != nil {
		err = fmt.Errorf("%s: open: %w", d, err)
		if off := d.Halt(); off != nil {
			err = errors.Join(err, off)
		}
		return nil, err
	}
	return d, nil
}

// open runs the conversation of New.
func (d *Dev) open() error {
	if err := d.takeOver(); err != nil {
		return err
	}
	for _, p := range [...]uint16{patternA, patternB, 0} {
		if err := d.put(regCompare, p, chip.ErrIdentity); err != nil {
			return err
		}
	}
	unused := ^(d.opts.Outputs | d.opts.Inputs)
	for _, s := range [...]struct {
		reg  byte
		word uint16
	}{
		{regPolarity, 0}, // else GPIO would not read levels
		{regInterrupt, 0},
		{regPullUp, d.opts.PullUp | unused},
		{regDirection, ^d.opts.Outputs}, // last: from here on coils are driven
	} {
		if err := d.put(s.reg, s.word, chip.ErrIdentity); err != nil {
			return err
		}
	}
	return d.readBack(0)
}

// takeOver brings the register map into the order that this driver uses and the
// latches to off. If only the host restarts, the chip may still be in BANK 1.
func (d *Dev) takeOver() error {
	d.w[0], d.w[1] = regControlBank1, 0
	if err := d.bus.Tx(d.opts.Addr, d.w[:2], nil); err != nil {
		return fmt.Errorf("write register %02Xh = 00h: %w", regControlBank1, err)
	}
	if err := d.write(regControl, 0); err != nil {
		return err
	}
	return d.write(regLatch, d.levels(0))
}

// String returns the class and the address.
func (d *Dev) String() string { return fmt.Sprintf("expander16(%02Xh)", d.opts.Addr) }

// Halt releases every coil and reads the outputs back. If the first try fails
// it tries once more. Safe to call twice.
func (d *Dev) Halt() error {
	first := d.off()
	if first == nil {
		return nil
	}
	if err := d.off(); err != nil {
		return fmt.Errorf("%s: halt: %w", d, errors.Join(first, err))
	}
	return nil
}

// off writes the pattern 0 and reads it back. It first restores the order of
// the register map: a chip that was thrown into BANK 1 answers zeros where this
// driver looks for the latch, which would pass for off.
func (d *Dev) off() error {
	if err := d.takeOver(); err != nil {
		return err
	}
	return d.readBack(0)
}

// Write energises exactly the coils of a pattern, all at once, and reads latch
// and pins back. A difference is a *ReadbackError, for which errors.Is reports
// ErrReadback; the coils are then left as they are, and the caller decides.
// Writing 0 takes four transfers, as Halt does, any other pattern two.
func (d *Dev) Write(coils uint16) error {
	if bad := coils &^ d.opts.Outputs; bad != 0 {
		return fmt.Errorf("%s: write %04Xh: %w: pins %04Xh are no outputs", d, coils, ErrSetting, bad)
	}
	if err := d.energise(coils); err != nil {
		return fmt.Errorf("%s: write %04Xh: %w", d, coils, err)
	}
	return nil
}

func (d *Dev) energise(coils uint16) error {
	if coils == 0 {
		return d.off()
	}
	if err := d.write(regLatch, d.levels(coils)); err != nil {
		return err
	}
	return d.readBack(coils)
}

// Set energises the coils of mask and leaves the others as Outputs finds them.
func (d *Dev) Set(mask uint16) error { return d.change(mask, mask) }

// Clear releases the coils of mask and leaves the others as Outputs finds them.
func (d *Dev) Clear(mask uint16) error { return d.change(mask, 0) }

func (d *Dev) change(mask, coils uint16) error {
	now, err := d.Outputs()
	if err != nil {
		return err
	}
	return d.Write(now&^mask | coils)
}

// Outputs reads the energised coils from the chip. It is a *ReadbackError when
// the pins do not have the levels that the latch holds.
func (d *Dev) Outputs() (uint16, error) {
	pins, latch, err := d.both()
	if err != nil {
		return 0, fmt.Errorf("%s: read outputs: %w", d, err)
	}
	coils := d.coils(latch)
	if found := d.coils(pins); found != coils {
		return 0, fmt.Errorf("%s: read outputs: %w", d, &ReadbackError{From: Port, Wanted: coils, Found: found})
	}
	return coils, nil
}

// Inputs reads the levels of the input pins, a set bit for a high level. The
// other bits are 0.
func (d *Dev) Inputs() (uint16, error) {
	pins, _, err := d.both()
	if err != nil {
		return 0, fmt.Errorf("%s: read inputs: %w", d, err)
	}
	return pins & d.opts.Inputs, nil
}
