package thermometer

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"periph.io/x/conn/v3"
	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// The registers (TI LM75B data sheet SNIS153B, p. 11).
const (
	regTemperature = 0 // read only
	regConfig      = 1 // one byte; the upper byte of two on a TMP1075
	regRelease     = 2 // THYST: 75 °C after reset
	regAlarm       = 3 // TOS: 80 °C after reset
)

// The bits of the configuration byte (SNIS153B, p. 11; TMP75 data sheet
// SBOS288M, configuration register).
const (
	bitShutdown  = 0x01
	bits12       = 0x60 // R1 R0 = 11b: twelve bits; reserved, and 0, on an LM75
	maskReadBack = 0x7F // all but the one-shot bit, which is no memory
)

// The addresses that the pins A2 to A0 select (LM75 data sheet).
const (
	lowestAddr  = 0x48
	highestAddr = 0x4F
)

// longestConversion is the longest time of one conversion: 300 ms (from memory,
// TMP75 and LM75B data sheets; typical are 220 ms at twelve bits and 100 ms).
const longestConversion = 300 * time.Millisecond

// limitStep is the step of the alarm and release registers, 0.5 K: what the
// nine-bit chips and the eleven-bit ones have (SNIS153B, p. 11; NXP LM75A data
// sheet, from memory). The twelve-bit ones are set no finer.
const limitStep = 0.5

// maskLimit are the bits of a limit register that all variants keep.
const maskLimit = 0xFF80

// ErrSetting says that an option or argument is none that the chip has.
var ErrSetting = errors.New("no such setting")

// Opts are the choices that hold for the life of a Dev.
type Opts struct {
	// Addr is the 7-bit address, 48h to 4Fh.
	Addr uint16
	// Bits is 9 for an LM75, 11 for an LM75A, 12 for a TMP75 or TMP1075.
	Bits int
	// Alarm and Release are the limits of the chip's OS pin, rounded down to
	// 0.5 K. Release must be below Alarm.
	Alarm, Release quantity.Quantity
}

// DefaultOpts returns address 4Ch (above those of the converters that share
// 48h to 4Bh), 12 bits and the chip's own limits of 80 °C and 75 °C.
func DefaultOpts() Opts {
	return Opts{Addr: 0x4C, Bits: 12, Alarm: quantity.Celsius(80), Release: quantity.Celsius(75)}
}

// Sample is one temperature.
type Sample struct {
	Temperature quantity.Quantity
	// Code is the signed code, right-aligned: 25 °C is 32h with nine bits and
	// 190h with twelve.
	Code int16
	// From and At enclose the time in which the temperature was converted, on
	// the clock given to New. At is when the code had been read.
	From, At time.Duration
}

// Dev is one sensor. It is not safe for use by several goroutines at once.
type Dev struct {
	regs  chip.Words
	clock chip.Clock
	opts  Opts
	// running is set while the chip converts; start is since when.
	running bool
	start   time.Duration
}

var _ conn.Resource = (*Dev)(nil)

// New writes alarm and release, reads them back, which proves that a chip of
// the class answers, and starts it converting. It does not wait; Read does.
func New(b i2c.Bus, c chip.Clock, o Opts) (*Dev, error) {
	d := &Dev{regs: chip.NewWords(b, o.Addr), clock: c, opts: o}
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("%s: check options: %w", d, err)
	}
	if err := d.open(); err != nil {
		return nil, fmt.Errorf("%s: open: %w", d, err)
	}
	return d, nil
}

// check says which option the chip cannot have.
func (o Opts) check() error {
	if o.Addr < lowestAddr || o.Addr > highestAddr {
		return fmt.Errorf("%w: address %02Xh, possible are %02Xh to %02Xh", ErrSetting, o.Addr, lowestAddr, highestAddr)
	}
	if o.Bits != 9 && o.Bits != 11 && o.Bits != 12 {
		return fmt.Errorf("%w: %d bits, possible are 9, 11 and 12", ErrSetting, o.Bits)
	}
	alarm, err := limitWord(o.Alarm)
	if err != nil {
		return fmt.Errorf("alarm: %w", err)
	}
	release, err := limitWord(o.Release)
	if err != nil {
		return fmt.Errorf("release: %w", err)
	}
	if int16(release) >= int16(alarm) {
		return fmt.Errorf("%w: release at %.1f °C is not below the alarm at %.1f °C", ErrSetting, celsius(release), celsius(alarm))
	}
	return nil
}

// limitWord returns the register word of a limit, rounded down to 0.5 K.
func limitWord(q quantity.Quantity) (uint16, error) {
	c, ok := specified(q)
	if !ok {
		return 0, fmt.Errorf("%w: limit of %.4g °C, possible are temperatures from %g to %g °C", ErrSetting, c, lowest, highest)
	}
	return uint16(int16(math.Floor(c/limitStep))) << 7, nil
}

// celsius returns the temperature that a limit register holds.
func celsius(word uint16) float64 { return float64(int16(word)) / 256 }

// open runs the conversation of New. The chip is stopped first, so that its
// start is known.
func (d *Dev) open() error {
	if err := d.configure(bitShutdown, chip.ErrIdentity); err != nil {
		return err
	}
	if err := d.limits(d.opts.Alarm, d.opts.Release, chip.ErrIdentity); err != nil {
		return err
	}
	return d.run()
}

// configure writes the configuration byte and reads it back, both bytes: see
// chip.Words.Read. A difference is kind.
func (d *Dev) configure(extra uint8, kind error) error {
	v := d.config() | extra
	if err := d.regs.WriteUpper(regConfig, v); err != nil {
		return err
	}
	return d.regs.Check(regConfig, uint16(v)<<8, maskReadBack<<8, kind)
}

// config returns the configuration byte of a running chip: comparator mode,
// OS active low, one fault enough (SNIS153B, p. 11).
func (d *Dev) config() uint8 {
	if d.opts.Bits == 12 {
		return bits12
	}
	return 0
}

// run starts the chip and remembers when.
func (d *Dev) run() error {
	d.start = d.clock.Now()
	if err := d.configure(0, chip.ErrLost); err != nil {
		return err
	}
	d.running = true
	return nil
}

// limits writes alarm and release. While they change, the release may stand
// above the alarm; New and SetLimits both end with the pair in order.
func (d *Dev) limits(alarm, release quantity.Quantity, kind error) error {
	for _, l := range [...]struct {
		reg   uint8
		limit quantity.Quantity
	}{{regAlarm, alarm}, {regRelease, release}} {
		word, err := limitWord(l.limit)
		if err != nil {
			return err
		}
		if err := d.regs.Write(l.reg, word); err != nil {
			return err
		}
		if err := d.regs.Check(l.reg, word, maskLimit, kind); err != nil {
			return err
		}
	}
	return nil
}

// String returns the class and the address.
func (d *Dev) String() string { return fmt.Sprintf("thermometer(%02Xh)", d.opts.Addr) }

// Halt stops the conversions, which save power and hold the OS pin as it is.
// Read starts them again. Safe to call twice.
func (d *Dev) Halt() error {
	d.running = false
	if err := d.configure(bitShutdown, chip.ErrLost); err != nil {
		return fmt.Errorf("%s: halt: %w", d, err)
	}
	return nil
}

// SetLimits changes the alarm and the release. After an error the chip may hold
// either of the two, new or old.
func (d *Dev) SetLimits(alarm, release quantity.Quantity) error {
	o := d.opts
	o.Alarm, o.Release = alarm, release
	err := o.check()
	if err == nil {
		err = d.limits(alarm, release, chip.ErrLost)
	}
	if err != nil {
		return fmt.Errorf("%s: set limits: %w", d, err)
	}
	d.opts = o
	return nil
}

// Read returns the newest temperature. After New and after Halt it waits for
// the first conversion, at most 300 ms.
//
// Its error is chip.ErrLost when the chip no longer holds its setting or sends
// a word that it cannot have.
func (d *Dev) Read(ctx context.Context) (Sample, error) {
	s, err := d.read(ctx)
	if err != nil {
		return Sample{}, fmt.Errorf("%s: read temperature: %w", d, err)
	}
	return s, nil
}

func (d *Dev) read(ctx context.Context) (Sample, error) {
	if !d.running {
		if err := d.run(); err != nil {
			return Sample{}, err
		}
	}
	if err := d.clock.Sleep(ctx, d.start+longestConversion-d.clock.Now()); err != nil {
		return Sample{}, fmt.Errorf("wait for the first conversion: %w", err)
	}
	s, err := d.convert()
	if err != nil || s.Code != 0 {
		return s, err
	}
	// Zero is also what a chip reads that was reset a moment ago.
	err = d.regs.Check(regConfig, uint16(d.config())<<8, maskReadBack<<8, chip.ErrLost)
	if err != nil {
		return Sample{}, err
	}
	if err := d.clock.Sleep(ctx, longestConversion); err != nil {
		return Sample{}, fmt.Errorf("confirm 0 °C: %w", err)
	}
	return d.convert()
}

// convert reads the temperature register once.
func (d *Dev) convert() (Sample, error) {
	began := d.clock.Now()
	word, err := d.regs.Read(regTemperature)
	if err != nil {
		return Sample{}, err
	}
	code, err := decode(word, d.opts.Bits)
	if err != nil {
		return Sample{}, err
	}
	// The newest conversion ended within one conversion time before the reading.
	from := max(began-2*longestConversion, d.start)
	return Sample{Temperature: temperature(code, d.opts.Bits), Code: code, From: from, At: d.clock.Now()}, nil
}
