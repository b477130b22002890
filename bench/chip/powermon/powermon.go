package powermon

import (
	"context"
	"errors"
	"fmt"
	"math"
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
	// had been read at at.
	running         bool
	start, seen, at time.Duration
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

// Reading is one finished conversion of shunt and bus.
type Reading struct {
	Shunt, Bus, Current, Power quantity.Quantity
	// ShuntCode is the signed code of the shunt register.
	ShuntCode int16
	// Saturated is set when the shunt register stands at an end of its range.
	// Shunt is then only a bound, and Current and Power mean nothing better.
	Saturated bool
	// Overflow is set when Current or Power did not fit its register.
	Overflow bool
	// From and At enclose the time in which the inputs were integrated. At is
	// when the last register had been read.
	From, At time.Duration
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

// Start lets the chip convert shunt and bus without end; Next delivers. It is
// the only mode in which an armed limit is watched all the time. Measure, Shunt
// and Halt end it.
func (d *Dev) Start() error {
	start := d.clock.Now()
	if err := d.trigger(d.config(bothContinuous)); err != nil {
		return fmt.Errorf("%s: start shunt and bus, %s: %w", d, d.opts.Average, err)
	}
	d.running, d.start, d.seen, d.at = true, start, start, d.clock.Now()
	return nil
}

// Next waits for a conversion that no earlier Next has returned. The errors are
// those of Measure, and ErrIdle before Start.
func (d *Dev) Next(ctx context.Context) (Reading, error) {
	r, err := d.next(ctx)
	if err != nil {
		return Reading{}, fmt.Errorf("%s: next of shunt and bus, %s: %w", d, d.opts.Average, err)
	}
	return r, nil
}

// mostReadings is how often Next reads the results when conversions land while
// it reads: only with the two shortest times and no average do they land every
// time, and then the four registers are of neighbouring conversions. Own choice.
const mostReadings = 3

func (d *Dev) next(ctx context.Context) (Reading, error) {
	if !d.running {
		return Reading{}, ErrIdle
	}
	// Counted from the look, not from the reading, or Next would fall behind
	// the chip by the time that reading takes.
	wait := d.bothWait()
	look := wait
	look.Longest += d.at - d.seen
	if err := d.await(ctx, look, d.seen); err != nil {
		return Reading{}, err
	}
	var w words
	var from time.Duration
	for range mostReadings {
		// The newest conversion ended within the longest time before now and
		// began as long before that.
		from = max(d.start, d.clock.Now()-2*wait.Longest)
		var err error
		if w, err = d.words(); err != nil {
			return Reading{}, err
		}
		asked := d.clock.Now()
		if err := d.status(); err != nil {
			return Reading{}, err
		}
		if !d.fresh {
			break
		}
		d.fresh, d.seen = false, asked // it landed during the reading, or was known before
	}
	if err := d.regs.Check(regCalibration, d.cal, 0xFFFF, chip.ErrLost); err != nil {
		return Reading{}, err
	}
	r := d.reading(w, from)
	d.at = r.At
	return r, nil
}

// ShuntReading is one finished conversion of the shunt alone.
type ShuntReading struct {
	// Current is Shunt divided by the shunt's resistance.
	Shunt, Current quantity.Quantity
	Code           int16
	Saturated      bool
	From, At       time.Duration
}

// Shunt triggers one conversion of the shunt without averaging and returns it:
// 140 µs and three transfers at the fastest. It ends a continuous conversion.
// The errors are those of Measure.
func (d *Dev) Shunt(ctx context.Context, t ConversionTime) (ShuntReading, error) {
	r, err := d.shunt(ctx, t)
	if err != nil {
		return ShuntReading{}, fmt.Errorf("%s: measure shunt in %s: %w", d, t, err)
	}
	return r, nil
}

func (d *Dev) shunt(ctx context.Context, t ConversionTime) (ShuntReading, error) {
	if t > Time8244us {
		return ShuntReading{}, fmt.Errorf("%w: shunt time code %d, known are 0 to %d", ErrSetting, uint8(t), uint8(Time8244us))
	}
	if err := ctx.Err(); err != nil {
		return ShuntReading{}, err
	}
	from := d.clock.Now()
	if err := d.trigger(config(Average1, d.opts.BusTime, t, shuntTriggered)); err != nil {
		return ShuntReading{}, err
	}
	wait := chip.Wait{Nominal: t.Period(), Longest: t.Longest()}
	if err := d.await(ctx, wait, from); err != nil {
		return ShuntReading{}, err
	}
	raw, err := d.regs.Read(regShunt)
	if err != nil {
		return ShuntReading{}, err
	}
	volts := float64(int16(raw)) * shuntStep
	return ShuntReading{
		Shunt:     quantity.Volts(volts),
		Current:   quantity.Amperes(volts / d.opts.Shunt.SI),
		Code:      int16(raw),
		Saturated: saturated(int16(raw)),
		From:      from,
		At:        d.clock.Now(),
	}, nil
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
		return d.fresh, err
	})
	d.fresh = false
	return err
}

// words are the four result registers as read.
type words struct {
	shunt, current int16
	bus, power     uint16
}

// words reads the four result registers.
func (d *Dev) words() (w words, err error) {
	var raw [4]uint16
	for i, reg := range [...]uint8{regShunt, regBus, regCurrent, regPower} {
		if raw[i], err = d.regs.Read(reg); err != nil {
			return words{}, err
		}
	}
	w = words{shunt: int16(raw[0]), bus: raw[1], current: int16(raw[2]), power: raw[3]}
	return w, w.check()
}

// check finds words that the chip cannot have sent. Bit 15 of the bus register
// is always 0 (SBOS547, bus voltage register); a bus that nobody drives reads
// all ones.
func (w words) check() error {
	if w.bus > math.MaxInt16 {
		return fmt.Errorf("bus register reads %04Xh, which the chip cannot send: %w", w.bus, chip.ErrLost)
	}
	return nil
}

// agree compares the current with shunt * cal / 2048 (SBOS547, p. 15), one code
// allowed for rounding. A product that does not fit is left to Overflow.
func (w words) agree(cal uint16) error {
	want := int32(w.shunt) * int32(cal) / 2048
	if want > math.MaxInt16 || want < math.MinInt16 {
		return nil
	}
	if diff := int32(w.current) - want; diff < -1 || diff > 1 {
		return fmt.Errorf("current register reads %d, shunt %d and calibration %d give %d: %w",
			w.current, w.shunt, cal, want, chip.ErrLost)
	}
	return nil
}

// reading forms the result of the words just read.
func (d *Dev) reading(w words, from time.Duration) Reading {
	product := int32(w.shunt) * int32(d.cal) / 2048
	return Reading{
		Shunt:     quantity.Volts(float64(w.shunt) * shuntStep),
		Bus:       quantity.Volts(float64(w.bus) * busStep),
		Current:   quantity.Amperes(float64(w.current) * d.lsb),
		Power:     quantity.Quantity{SI: float64(w.power) * powerFactor * d.lsb, Dim: quantity.Power},
		ShuntCode: w.shunt,
		Saturated: saturated(w.shunt),
		Overflow:  d.overflow || product != int32(int16(product)),
		From:      from,
		At:        d.clock.Now(),
	}
}

// saturated tells whether a shunt code stands at an end of the range.
func saturated(code int16) bool { return code == math.MaxInt16 || code == math.MinInt16 }
