package powermon

import (
	"fmt"
	"math"

	"periph.io/x/conn/v3/gpio"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// The bits of the Mask/Enable register (from memory, INA226 data sheet,
// Mask/Enable register). One function at a time: of several the highest wins.
const (
	bitShuntOver = 0x8000 // SOL
	bitBusOver   = 0x2000 // BOL
	bitAlertFlag = 0x0010 // AFF
	bitReady     = 0x0008 // CVRF: cleared by reading this register
	bitOverflow  = 0x0004 // OVF
	bitLatch     = 0x0001 // LEN: the pin stays active until this register is read
	maskWritten  = 0xFC03 // the bits that read back as written
)

// ArmOverCurrent makes the alert trip when the shunt voltage exceeds that of a
// current, and replaces any other limit. It returns the limit that the chip
// holds: the next lower code, so that it never trips late. With latch the pin
// stays active until the chip is next asked.
//
// A limit is compared after each conversion: see Start.
func (d *Dev) ArmOverCurrent(limit quantity.Quantity, latch bool) (quantity.Quantity, error) {
	if limit.Dim != quantity.Current {
		return quantity.Quantity{}, fmt.Errorf("%s: arm over-current: %w: the limit is no current", d, ErrSetting)
	}
	ohms := d.opts.Shunt.SI
	code, err := limitCode(limit.SI*ohms/shuntStep, math.MaxInt16-1)
	if err == nil {
		err = d.arm(bitShuntOver, code, latch)
	}
	if err != nil {
		return quantity.Quantity{}, fmt.Errorf("%s: arm over-current at %g A: %w", d, limit.SI, err)
	}
	return quantity.Amperes(float64(code) * shuntStep / ohms), nil
}

// ArmOverVoltage makes the alert trip when the bus voltage exceeds a limit, at
// most 36 V; otherwise it is as ArmOverCurrent.
func (d *Dev) ArmOverVoltage(limit quantity.Quantity, latch bool) (quantity.Quantity, error) {
	if limit.Dim != quantity.Voltage {
		return quantity.Quantity{}, fmt.Errorf("%s: arm over-voltage: %w: the limit is no voltage", d, ErrSetting)
	}
	code, err := limitCode(limit.SI/busStep, largestBus/busStep)
	if err == nil {
		err = d.arm(bitBusOver, code, latch)
	}
	if err != nil {
		return quantity.Quantity{}, fmt.Errorf("%s: arm over-voltage at %g V: %w", d, limit.SI, err)
	}
	return quantity.Volts(float64(code) * busStep), nil
}

// limitCode truncates a limit to a code from 1 to most. The highest shunt code
// is excluded: nothing can exceed it, so the alert would never trip.
func limitCode(x float64, most float64) (uint16, error) {
	code := truncate(x)
	if !(code >= 1 && code <= most) {
		return 0, fmt.Errorf("%w: limit code %g, possible are 1 to %g", ErrSetting, code, most)
	}
	return uint16(code), nil
}

// Disarm ends the watch for a limit and forgets an alert.
func (d *Dev) Disarm() error {
	if err := d.arm(0, 0, false); err != nil {
		return fmt.Errorf("%s: disarm: %w", d, err)
	}
	return nil
}

// arm switches the old function off before the limit changes, or the old
// function would be compared with the new limit for a moment.
func (d *Dev) arm(function, code uint16, latch bool) error {
	d.armed = 0
	if err := d.regs.Write(regMask, 0); err != nil {
		return err
	}
	if err := d.regs.Put(regLimit, code, chip.ErrLost); err != nil {
		return err
	}
	word := function
	if latch {
		word |= bitLatch
	}
	if err := d.regs.Write(regMask, word); err != nil {
		return err
	}
	d.armed = word
	d.tripped = false
	return d.status()
}

// Alert tells whether the limit has been exceeded since it was armed or
// cleared. It looks at the pin when there is one, which costs no transfer, and
// else asks the chip. Only a conversion or the next Alert without a pin shows
// that a chip was reset and watches no longer.
func (d *Dev) Alert() (bool, error) {
	if d.tripped || d.armed == 0 {
		return d.tripped, nil
	}
	if p := d.opts.Alert; p != nil {
		d.tripped = p.Read() == gpio.Low
		return d.tripped, nil
	}
	if err := d.status(); err != nil {
		return d.tripped, fmt.Errorf("%s: look at the alert: %w", d, err)
	}
	return d.tripped, nil
}

// Tripped tells whether a conversion that was delivered, or an Alert, has met the limit
// exceeded since it was armed or cleared. It asks nobody.
func (d *Dev) Tripped() bool { return d.tripped }

// ClearAlert releases the latch and forgets the alert. While the cause lasts
// the next conversion trips it again.
func (d *Dev) ClearAlert() error {
	if err := d.status(); err != nil {
		return fmt.Errorf("%s: clear the alert: %w", d, err)
	}
	d.tripped = false
	return nil
}

// status is the one place that reads Mask/Enable. Reading clears the ready flag
// and a latched alert, so both are remembered here. The bits that were written
// prove that the chip still watches.
func (d *Dev) status() error {
	s, err := d.regs.Read(regMask)
	if err != nil {
		return err
	}
	if (s^d.armed)&maskWritten != 0 {
		return fmt.Errorf("register %02Xh reads %04Xh, written %04Xh: %w", regMask, s, d.armed, chip.ErrLost)
	}
	if s&bitReady != 0 {
		d.fresh, d.overflow = true, s&bitOverflow != 0
	}
	d.tripped = d.tripped || s&bitAlertFlag != 0
	return nil
}
