package powermon

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// The registers (TI INA226 data sheet SBOS547, table 7-1).
const (
	regConfig       = 0x00 // 4127h after reset
	regShunt        = 0x01 // signed
	regBus          = 0x02
	regPower        = 0x03
	regCurrent      = 0x04 // signed
	regCalibration  = 0x05 // 0 after reset
	regMask         = 0x06 // Mask/Enable
	regLimit        = 0x07
	regManufacturer = 0xFE
	regDie          = 0xFF
)

// What the chip answers (SBOS547, table 7-1). The lowest four bits of the die
// word are its revision (from memory).
const (
	manufacturer = 0x5449 // "TI" in ASCII
	die          = 0x2260
	maskDie      = 0xFFF0
	configReset  = 0x4127
)

// The addresses that the pins A1 and A0 select (SBOS547, table 2).
const (
	lowestAddr  = 0x40
	highestAddr = 0x4F
)

var (
	// ErrSetting says that an option or argument is none that the chip has.
	ErrSetting = errors.New("no such setting")
	// ErrIdle says that Next was called while no continuous conversion runs.
	ErrIdle = errors.New("no continuous conversion runs")
)

// Opts are the choices that hold for the life of a Dev.
type Opts struct {
	// Addr is the 7-bit address, 40h to 4Fh.
	Addr uint16
	// Shunt is the resistance between IN+ and IN-, above 0.
	Shunt quantity.Quantity
	// CurrentLSB is the current of one code, at least the largest current
	// divided by 32768. 2.5 µV divided by Shunt loses nothing to rounding.
	CurrentLSB quantity.Quantity
	// Average, BusTime and ShuntTime are used by Measure and Next.
	Average            Average
	BusTime, ShuntTime ConversionTime
	// Alert is the host's pin at ALERT, nil when it is not wired.
	Alert gpio.PinIn
}

// DefaultOpts returns address 40h, 0.1 Ω with 25 µA per code (819 mA full
// scale) and an average of 16 conversions of 1.1 ms: 35 ms for a reading.
func DefaultOpts() Opts {
	return Opts{
		Addr:       lowestAddr,
		Shunt:      quantity.Ohms(0.1),
		CurrentLSB: quantity.Amperes(25e-6),
		Average:    Average16,
		BusTime:    Time1100us,
		ShuntTime:  Time1100us,
	}
}

// check says which option the chip cannot have.
func (o Opts) check() error {
	switch {
	case o.Addr < lowestAddr || o.Addr > highestAddr:
		return fmt.Errorf("%w: address %02Xh, possible are %02Xh to %02Xh", ErrSetting, o.Addr, lowestAddr, highestAddr)
	case o.Average > Average1024:
		return fmt.Errorf("%w: average code %d, known are 0 to %d", ErrSetting, uint8(o.Average), uint8(Average1024))
	case o.BusTime > Time8244us:
		return fmt.Errorf("%w: bus time code %d, known are 0 to %d", ErrSetting, uint8(o.BusTime), uint8(Time8244us))
	case o.ShuntTime > Time8244us:
		return fmt.Errorf("%w: shunt time code %d, known are 0 to %d", ErrSetting, uint8(o.ShuntTime), uint8(Time8244us))
	}
	return nil
}

// Dev is one monitor. It is not safe for use by several goroutines at once.
type Dev struct {
	regs  chip.Words
	clock chip.Clock
	opts  Opts
	// cal is the calibration word, lsb the amperes of one code that it gives.
	cal uint16
	lsb float64
	// running is set while the chip converts continuously, since start. The
	// ready flag of the last result was looked at from seen on, and the result
	// had been read at at. Its conversion ended at ended or later: none that
	// follows it ended before a whole one had passed from there. The last look that
	// found the flag clear began at stale.
	running                       bool
	start, seen, ended, stale, at time.Duration
	// fresh and tripped keep what reading the Mask/Enable register cleared;
	// overflow belongs to the conversion that made it fresh.
	fresh, tripped, overflow bool
	// armed is what was last written to Mask/Enable.
	armed uint16
}

var _ conn.Resource = (*Dev)(nil)

// New identifies the chip, resets it, writes and reads back the calibration and
// leaves it powered down with no limit armed.
func New(b i2c.Bus, c chip.Clock, o Opts) (*Dev, error) {
	d := &Dev{regs: chip.NewWords(b, o.Addr), clock: c, opts: o}
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("%s: check options: %w", d, err)
	}
	cal, err := Calibration(o.CurrentLSB, o.Shunt)
	if err != nil {
		return nil, fmt.Errorf("%s: check options: %w", d, err)
	}
	d.cal = cal
	d.lsb = calibrationScale / (float64(cal) * o.Shunt.SI)
	if err := d.open(); err != nil {
		return nil, fmt.Errorf("%s: open: %w", d, err)
	}
	return d, nil
}

// open runs the conversation of New.
func (d *Dev) open() error {
	if err := d.regs.Check(regManufacturer, manufacturer, 0xFFFF, chip.ErrIdentity); err != nil {
		return err
	}
	if err := d.regs.Check(regDie, die, maskDie, chip.ErrIdentity); err != nil {
		return err
	}
	if err := d.regs.Write(regConfig, bitReset); err != nil {
		return err
	}
	if err := d.regs.Check(regConfig, configReset, 0xFFFF, chip.ErrIdentity); err != nil {
		return err
	}
	if err := d.regs.Put(regConfig, d.config(powerDown), chip.ErrIdentity); err != nil {
		return err
	}
	if err := d.regs.Put(regCalibration, d.cal, chip.ErrIdentity); err != nil {
		return err
	}
	if d.opts.Alert == nil {
		return nil
	}
	if err := d.opts.Alert.In(gpio.PullUp, gpio.NoEdge); err != nil {
		return fmt.Errorf("set alert pin %s as input: %w", d.opts.Alert, err)
	}
	return nil
}

// config returns the configuration word of the options in a mode.
func (d *Dev) config(m mode) uint16 {
	return config(d.opts.Average, d.opts.BusTime, d.opts.ShuntTime, m)
}

// String returns the class and the address.
func (d *Dev) String() string { return fmt.Sprintf("powermon(%02Xh)", d.opts.Addr) }

// CurrentLSB returns the current of one code, as the truncated calibration word
// makes it.
func (d *Dev) CurrentLSB() quantity.Quantity { return quantity.Amperes(d.lsb) }

// Halt disarms the alert and powers the converter down. No limit is watched any
// more: take the power away first. Safe to call twice.
func (d *Dev) Halt() error {
	d.running, d.fresh, d.armed = false, false, 0
	// The second is tried whatever became of the first.
	disarm := d.regs.Write(regMask, 0)
	stop := d.regs.Put(regConfig, d.config(powerDown), chip.ErrLost)
	if err := errors.Join(disarm, stop); err != nil {
		return fmt.Errorf("%s: halt: %w", d, err)
	}
	return nil
}

// Measure triggers one averaged conversion of shunt and bus and returns it. It
// ends a continuous conversion.
//
// Its error is chip.ErrNotReady when the chip does not finish in the longest
// legal time, and chip.ErrLost when it no longer holds its setting.
func (d *Dev) Measure(ctx context.Context) (Reading, error) {
	r, err := d.measure(ctx)
	if err != nil {
		return Reading{}, fmt.Errorf("%s: measure shunt and bus, %s: %w", d, d.opts.Average, err)
	}
	return r, nil
}

func (d *Dev) measure(ctx context.Context) (Reading, error) {
	if err := ctx.Err(); err != nil {
		return Reading{}, err
	}
	from := d.clock.Now()
	if err := d.trigger(d.config(bothTriggered)); err != nil {
		return Reading{}, err
	}
	if err := d.await(ctx, d.bothWait(), from); err != nil {
		return Reading{}, err
	}
	w, err := d.words()
	if err != nil {
		return Reading{}, err
	}
	if err := w.agree(d.cal); err != nil {
		return Reading{}, err
	}
	return d.reading(w, from), nil
}

// trigger writes a configuration, which stops what runs, starts a conversion
// and clears the ready flag (from memory, INA226 data sheet, Mask/Enable).
func (d *Dev) trigger(word uint16) error {
	d.running, d.fresh = false, false
	return d.regs.Write(regConfig, word)
}

// bothWait returns how long an averaged conversion of shunt and bus takes.
func (d *Dev) bothWait() chip.Wait {
	n := time.Duration(d.opts.Average.Count())
	return chip.Wait{
		Nominal: n * (d.opts.BusTime.Period() + d.opts.ShuntTime.Period()),
		Longest: n * (d.opts.BusTime.Longest() + d.opts.ShuntTime.Longest()),
	}
}

// await polls the ready flag.
func (d *Dev) await(ctx context.Context, w chip.Wait, start time.Duration) error {
	err := w.Until(ctx, d.clock, start, func() (bool, error) {
		if d.fresh { // a look at the alert has met it already
			return true, nil
		}
		d.seen = d.clock.Now()
		err := d.status()
		if !d.fresh {
			d.stale = d.seen
		}
		return d.fresh, err
	})
	d.fresh = false
	return err
}
