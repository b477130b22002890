package adc16x4

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

// The registers (pointer values as in the ads1x15 crate's Register enum; ADS1115
// data sheet SBAS444D, register map).
const (
	regConversion = 0x00 // signed result, read only
	regConfig     = 0x01
	regLoThresh   = 0x02 // 8000h after reset (from memory)
	regHiThresh   = 0x03 // 7FFFh after reset (from memory)
)

// The fields of the configuration register (SBAS444D, configuration register).
const (
	bitOS      = 0x8000 // written 1: start; read 1: not converting
	shiftMux   = 12     // bits 14:12
	shiftPGA   = 9      // bits 11:9
	bitSingle  = 0x0100 // MODE: single-shot and power-down
	shiftRate  = 5      // bits 7:5
	compOff    = 0x0003 // COMP_QUE 11b: comparator off, ALERT/RDY pin floats
	compOne    = 0x0000 // COMP_QUE 00b: the pin works; needed for conversion-ready
	maskStored = 0x7FFF // the bits that read back as written
)

// The thresholds that turn ALERT/RDY into conversion-ready: the top bit of
// Hi_thresh set and that of Lo_thresh clear (from memory, ADS1115 data sheet,
// conversion ready pin). They are the reset values exchanged.
const (
	readyHi = 0x8000
	readyLo = 0x7FFF
)

// The words that New writes to prove that the chip holds what it is given:
// each stored bit once 0 and once 1, save OS (0: start nothing) and MODE (1:
// stay powered down). Own choice.
const (
	patternA = 0x2B55
	patternB = 0x55AA
)

// The addresses that the ADDR pin selects (SBAS444D, table 4).
const (
	lowestAddr  = 0x48
	highestAddr = 0x4B
)

// ErrSetting says that an option or argument is none that the chip has.
var ErrSetting = errors.New("no such setting")

// ErrIdle says that Next was called while no continuous conversion runs.
var ErrIdle = errors.New("no continuous conversion runs")

// Opts are the choices that hold for the life of a Dev.
type Opts struct {
	// Addr is the 7-bit address, 48h to 4Bh.
	Addr uint16
	// Rate is the rate of Convert.
	Rate Rate
	// Ready is the host's pin at ALERT/RDY, which must support falling edges;
	// nil when the pin is not wired. Only Start and Next use it.
	Ready gpio.PinIn
}

// DefaultOpts returns address 48h, the chip's own default of 128 SPS and no
// ready pin.
func DefaultOpts() Opts { return Opts{Addr: lowestAddr, Rate: SPS128} }

// Sample is one finished conversion.
type Sample struct {
	Volts quantity.Quantity
	Code  int16
	// Saturated is set at either end of the range: Volts is then only a bound.
	Saturated bool
	Input     Input
	Range     Range
	// From and At enclose the time in which the input was integrated, on the
	// clock given to New. At is no later than when the code had been read.
	From, At time.Duration
}

// Bound says how Volts stands to the true value.
func (s Sample) Bound() quantity.Bound {
	switch {
	case s.Saturated && s.Code > 0:
		return quantity.AtLeast
	case s.Saturated:
		return quantity.AtMost
	}
	return quantity.Exact
}

// Dev is one converter. It is not safe for use by several goroutines at once.
type Dev struct {
	regs  chip.Words
	clock chip.Clock
	opts  Opts
	// unsettled is set while the chip may be converting something older than
	// the next request: it would ignore a start and deliver the old result.
	unsettled bool
	// over is when the last conversion of a stream that was stopped has ended; 0
	// where no stream was the last to run.
	over       time.Duration
	stream     stream
	oscillator oscillator
	// held is what stands in the conversion register, where that is known: nothing
	// was converted since it was read.
	held  int16
	holds bool
}

var _ conn.Resource = (*Dev)(nil)

// New stops whatever the chip is doing, proves that it holds what it is given,
// and leaves it powered down. A running conversion is awaited, up to 139 ms.
func New(ctx context.Context, b i2c.Bus, c chip.Clock, o Opts) (*Dev, error) {
	d := &Dev{regs: chip.NewWords(b, o.Addr), clock: c, opts: o, unsettled: true}
	if o.Addr < lowestAddr || o.Addr > highestAddr {
		return nil, fmt.Errorf("%s: check options: %w: address %02Xh, possible are %02Xh to %02Xh",
			d, ErrSetting, o.Addr, lowestAddr, highestAddr)
	}
	if err := check(AIN0, FS6144, o.Rate); err != nil {
		return nil, fmt.Errorf("%s: check options: %w", d, err)
	}
	if err := d.prove(ctx); err != nil {
		return nil, fmt.Errorf("%s: open: %w", d, err)
	}
	return d, nil
}

// prove runs the conversation of New.
func (d *Dev) prove(ctx context.Context) error {
	if err := d.settle(ctx); err != nil {
		return err
	}
	for _, p := range [...]uint16{patternA, patternB, idleWord} {
		if err := d.regs.Write(regConfig, p); err != nil {
			return err
		}
		if err := d.regs.Check(regConfig, p|bitOS, 0xFFFF, chip.ErrIdentity); err != nil {
			return err
		}
	}
	if d.opts.Ready == nil {
		return nil
	}
	if err := d.opts.Ready.In(gpio.PullUp, gpio.FallingEdge); err != nil {
		return fmt.Errorf("set ready pin %s as input: %w", d.opts.Ready, err)
	}
	if err := d.regs.Put(regHiThresh, readyHi, chip.ErrIdentity); err != nil {
		return err
	}
	return d.regs.Put(regLoThresh, readyLo, chip.ErrIdentity)
}

// String returns the class and the address.
func (d *Dev) String() string { return fmt.Sprintf("adc16x4(%02Xh)", d.opts.Addr) }

// Halt ends a continuous conversion and powers the converter down. Its inputs
// are high-impedance in every state. Safe to call twice.
func (d *Dev) Halt() error {
	d.stream.on = false
	d.unsettled, d.over, d.holds = true, 0, false
	if err := d.regs.Write(regConfig, idleWord); err != nil {
		return fmt.Errorf("%s: halt: %w", d, err)
	}
	if err := d.regs.Check(regConfig, idleWord, maskStored, chip.ErrLost); err != nil {
		return fmt.Errorf("%s: halt: %w", d, err)
	}
	return nil
}

// Convert runs one conversion at the rate of Opts and returns it. It ends a
// continuous conversion.
func (d *Dev) Convert(ctx context.Context, in Input, rng Range) (Sample, error) {
	return d.ConvertAt(ctx, in, rng, d.opts.Rate)
}

// ConvertAt is Convert at a rate of its own.
//
// Its error is chip.ErrNotReady when the chip does not finish in the longest
// legal time, and chip.ErrLost when it no longer holds its setting.
func (d *Dev) ConvertAt(ctx context.Context, in Input, rng Range, rate Rate) (Sample, error) {
	s, err := d.convert(ctx, in, rng, rate)
	if err != nil {
		return Sample{}, fmt.Errorf("%s: convert %s, %s, %s: %w", d, in, rng, rate, err)
	}
	return s, nil
}

func (d *Dev) convert(ctx context.Context, in Input, rng Range, rate Rate) (Sample, error) {
	if err := check(in, rng, rate); err != nil {
		return Sample{}, err
	}
	if err := d.settle(ctx); err != nil {
		return Sample{}, err
	}
	word := word(in, rng, rate) | bitSingle | compOff
	from := d.clock.Now()
	d.unsettled, d.holds = true, false
	if err := d.regs.Write(regConfig, word|bitOS); err != nil {
		return Sample{}, err
	}
	if p, ok := d.oscillator.known(rate); ok {
		// It has ended by then for certain: no look is wasted.
		if err := d.clock.Sleep(ctx, wake+p.most); err != nil {
			return Sample{}, fmt.Errorf("wait %s: %w", wake+p.most, err)
		}
	}
	err := rate.wait().Until(ctx, d.clock, from, func() (bool, error) { return d.ready(word) })
	if err != nil {
		return Sample{}, err
	}
	d.unsettled = false
	raw, err := d.regs.Read(regConversion)
	if err != nil {
		return Sample{}, err
	}
	d.held, d.holds = int16(raw), true
	return d.sample(d.held, in, rng, from, d.clock.Now()), nil
}

// blank tells of a code that may be that of a chip that lost its setting: a reset
// clears the conversion register, and it stays 0 until a conversion has ended (SBAS444D,
// conversion register). Any other code comes from the chip as it was set.
func blank(code int16) bool { return code == 0 }

// idleWord keeps the converter powered down: the reset value 8583h (SBAS444D)
// without its start bit.
const idleWord = 0x0583

// word returns the fields common to both modes.
func word(in Input, rng Range, rate Rate) uint16 {
	return in.mux()<<shiftMux | uint16(rng)<<shiftPGA | uint16(rate)<<shiftRate
}

// ready looks at the ready bit, and at whether the chip still holds word.
func (d *Dev) ready(word uint16) (bool, error) {
	got, err := d.regs.Read(regConfig)
	if err != nil {
		return false, err
	}
	if got&maskStored != word&maskStored {
		return false, fmt.Errorf("configuration reads %04Xh, written %04Xh: %w", got, word, chip.ErrLost)
	}
	return got&bitOS != 0, nil
}

// settle makes sure that nothing is being converted: a start written during a
// conversion has no effect, and the result would be the older request's.
func (d *Dev) settle(ctx context.Context) error {
	if !d.unsettled {
		return ctx.Err()
	}
	if err := d.stop(); err != nil {
		return err
	}
	if d.over == 0 {
		if err := d.regs.Write(regConfig, idleWord); err != nil {
			return err
		}
	} else if pause := d.over - d.clock.Now(); pause > 0 {
		// What runs is a stream's last conversion: no look before it has ended.
		if err := d.clock.Sleep(ctx, pause); err != nil {
			return fmt.Errorf("wait %s: %w", pause, err)
		}
	}
	// What else runs may be of any rate, and may end at once: no quiet part.
	wait := chip.Wait{Longest: SPS8.Longest()}
	err := wait.Until(ctx, d.clock, d.clock.Now(), func() (bool, error) { return d.ready(idleWord) })
	if err != nil {
		return fmt.Errorf("wait for the conversion before: %w", err)
	}
	d.unsettled, d.over = false, 0
	return nil
}

// sample forms the result of a code that had been read at an instant.
func (d *Dev) sample(code int16, in Input, rng Range, from, at time.Duration) Sample {
	return Sample{
		Volts:     rng.Volts(code),
		Code:      code,
		Saturated: code == -steps || code == steps-1,
		Input:     in,
		Range:     rng,
		From:      from,
		At:        at,
	}
}
