package powermon

import (
	"context"
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
	"sinkproof/bench/quantity"
)

const at = 0x40

// word is a reading of a register.
func word(reg byte, v uint16) i2ctest.IO {
	return i2ctest.IO{Addr: at, W: []byte{reg}, R: []byte{byte(v >> 8), byte(v)}}
}

// put is a write of a register.
func put(reg byte, v uint16) i2ctest.IO {
	return i2ctest.IO{Addr: at, W: []byte{reg, byte(v >> 8), byte(v)}}
}

// hello is the conversation of New: identity, reset, options.
func hello(config, cal uint16) []i2ctest.IO {
	return []i2ctest.IO{
		word(0xFE, 0x5449), word(0xFF, 0x2260),
		put(0, 0x8000), word(0, 0x4127),
		put(0, config), word(0, config),
		put(5, cal), word(5, cal),
	}
}

// example are the options of the data sheet's example (TI INA226 data sheet
// SBOS547, table 1, p. 16): 10 A through 2 milliohm, 1 mA per code.
func example() Opts {
	o := DefaultOpts()
	o.Shunt, o.CurrentLSB, o.Average = quantity.Ohms(0.002), quantity.Amperes(1e-3), Average1
	return o
}

// Registers 1F40h, 2570h, A00h, 2710h and 12B8h are printed there. The power
// prints as 119.82 W; 4792 codes of 25 mW are 119.80 W.
func TestMeasureTheDataSheetsExample(t *testing.T) {
	bus := &i2ctest.Playback{DontPanic: true, Ops: append(hello(0x4120, 0x0A00),
		put(0, 0x4123),
		word(6, 0x0000), word(6, 0x0008),
		word(1, 0x1F40), word(2, 0x2570), word(4, 0x2710), word(3, 0x12B8),
		put(6, 0), put(0, 0x4120), word(0, 0x4120),
	)}
	d, err := New(bus, &chiptest.Clock{}, example())
	require.NoError(t, err)
	r, err := d.Measure(t.Context())
	require.NoError(t, err)
	require.InDelta(t, 0.020, r.Shunt.SI, 1e-12)
	require.Equal(t, int16(8000), r.ShuntCode)
	require.InDelta(t, 11.98, r.Bus.SI, 1e-12)
	require.InDelta(t, 10, r.Current.SI, 1e-12)
	require.InDelta(t, 119.80, r.Power.SI, 1e-9)
	require.Equal(t, []quantity.Dim{quantity.Voltage, quantity.Voltage, quantity.Current, quantity.Power},
		[]quantity.Dim{r.Shunt.Dim, r.Bus.Dim, r.Current.Dim, r.Power.Dim})
	require.NoError(t, d.Halt())
	require.NoError(t, bus.Close())
}

func TestNewTalksTheSameToALivingChip(t *testing.T) {
	f := newFake()
	rec := &i2ctest.Record{Bus: f}
	d, err := New(rec, f.Clock, DefaultOpts())
	require.NoError(t, err)
	require.Equal(t, hello(0x4520, 0x0800), rec.Ops)
	require.Equal(t, "powermon(40h)", d.String())
}

// Registers computed from the formulas of the data sheet (SBOS547, pp. 15-16).
func TestReadingsOfSmallAndLargeCurrents(t *testing.T) {
	for _, c := range []struct {
		amperes, ohms, lsb, volts float64
		shunt                     int16
		power, watts              float64
	}{
		{0.5, 0.1, 25e-6, 5, 20000, 4000, 2.5},
		{0.1, 0.1, 25e-6, 5, 4000, 800, 0.5},
		{0.0025, 0.1, 25e-6, 5, 100, 20, 0.0125},
		{3, 0.02, 125e-6, 4.9, 24000, 4704, 14.7},
		{10, 0.002, 1e-3, 11.98, 8000, 4792, 119.8},
		{-0.5, 0.1, 25e-6, 5, -20000, 4000, 2.5},
	} {
		f := newFake()
		o := DefaultOpts()
		o.Shunt, o.CurrentLSB = quantity.Ohms(c.ohms), quantity.Amperes(c.lsb)
		d := openOn(t, f, o)
		f.shuntVolts, f.busVolts = steady(c.amperes*c.ohms), steady(c.volts)
		r, err := d.Measure(t.Context())
		require.NoError(t, err)
		require.Equal(t, c.shunt, r.ShuntCode)
		require.InDelta(t, c.amperes, r.Current.SI, c.lsb/2)
		require.InDelta(t, c.volts, r.Bus.SI, 1e-9)
		require.InDelta(t, c.power, float64(f.power), 0.5)
		require.InDelta(t, c.watts, r.Power.SI, 1e-9)
		require.False(t, r.Saturated || r.Overflow)
	}
}

// -80 mV is 8300h (INA226 data sheet, shunt voltage register, from memory;
// arithmetic: -32000 steps of 2.5 µV).
func TestNegativeShuntVoltage(t *testing.T) {
	d, f := open(t)
	f.shuntVolts = steady(-0.080)
	r, err := d.Shunt(t.Context(), Time140us)
	require.NoError(t, err)
	require.Equal(t, uint16(0x8300), uint16(r.Code))
	require.InDelta(t, -0.080, r.Shunt.SI, 1e-12)
	require.InDelta(t, -0.8, r.Current.SI, 1e-12)
}

func TestCurrentUsesTheStepThatTruncationLeaves(t *testing.T) {
	f := newFake()
	o := DefaultOpts()
	o.CurrentLSB = quantity.Amperes(30e-6) // 1706.67, truncated to 1706
	d := openOn(t, f, o)
	require.Equal(t, uint16(1706), f.cal)
	require.InDelta(t, 0.00512/(1706*0.1), d.CurrentLSB().SI, 1e-15)
	f.shuntVolts = steady(0.05)
	r, err := d.Measure(t.Context())
	require.NoError(t, err)
	require.InDelta(t, 0.5, r.Current.SI, d.CurrentLSB().SI, "30 µA would give 0.4998 A, six steps off")
}

func TestNewRefusesOptionsBeforeItTalks(t *testing.T) {
	for name, spoil := range map[string]func(*Opts){
		"address too low":  func(o *Opts) { o.Addr = 0x3F },
		"address too high": func(o *Opts) { o.Addr = 0x50 },
		"average":          func(o *Opts) { o.Average = 8 },
		"bus time":         func(o *Opts) { o.BusTime = 8 },
		"shunt time":       func(o *Opts) { o.ShuntTime = 8 },
		"no shunt":         func(o *Opts) { o.Shunt = quantity.Quantity{} },
		"no step":          func(o *Opts) { o.CurrentLSB = quantity.Quantity{} },
	} {
		t.Run(name, func(t *testing.T) {
			o := DefaultOpts()
			spoil(&o)
			_, err := New(&i2ctest.Playback{DontPanic: true}, &chiptest.Clock{}, o)
			require.ErrorIs(t, err, ErrSetting)
		})
	}
}

func TestNewFindsAnotherChip(t *testing.T) {
	for name, spoil := range map[string]func(*fake){
		"another maker": func(f *fake) { f.manufacturer = 0x5448 },
		"another die":   func(f *fake) { f.die = 0x2270 },
		"nobody":        func(f *fake) { f.manufacturer, f.die = 0, 0 },
	} {
		t.Run(name, func(t *testing.T) {
			f := newFake()
			spoil(f)
			_, err := New(f, f.Clock, DefaultOpts())
			require.ErrorIs(t, err, chip.ErrIdentity)
		})
	}
	f := newFake()
	f.die = 0x2263
	_, err := New(f, f.Clock, DefaultOpts())
	require.NoError(t, err, "another revision of the die")
}

func TestAlertPinThatCannotBeAnInput(t *testing.T) {
	f := newFake()
	o := DefaultOpts()
	p := &pin{chip: f}
	o.Alert = p
	openOn(t, f, o)
	require.Equal(t, gpio.PullUp, p.pull, "the chip's pin is open drain")
	p.fail = errors.New("line is busy")
	_, err := New(f, f.Clock, o)
	require.ErrorContains(t, err, "set alert pin ALERT as input: line is busy")
}

func TestMeasureOnEveryLegalChip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := newFake()
		o := DefaultOpts()
		o.Average = Average(rapid.IntRange(0, 7).Draw(rt, "average"))
		o.BusTime = ConversionTime(rapid.IntRange(0, 7).Draw(rt, "bus time"))
		o.ShuntTime = ConversionTime(rapid.IntRange(0, 7).Draw(rt, "shunt time"))
		d := openOn(t, f, o)
		f.slow = rapid.Float64Range(1/1.1, 1.098).Draw(rt, "time over typical")
		f.shuntVolts = func(n int) float64 { return float64(n) * 1e-3 }
		for n := 1; n <= 3; n++ {
			f.done = n - 1
			r, err := d.Measure(t.Context())
			require.NoError(rt, err)
			require.Equal(rt, int16(n*400), r.ShuntCode)
			require.LessOrEqual(rt, r.From, f.doneStart)
			require.GreaterOrEqual(rt, r.At, f.doneEnd)
		}
	})
}

func TestSaturationAndOverflowAreMarked(t *testing.T) {
	d, f := open(t)
	for _, volts := range []float64{0.1, -0.1} {
		f.shuntVolts = steady(volts)
		r, err := d.Measure(t.Context())
		require.NoError(t, err)
		require.True(t, r.Saturated)
		s, err := d.Shunt(t.Context(), Time140us)
		require.NoError(t, err)
		require.True(t, s.Saturated)
	}
	o := DefaultOpts()
	o.CurrentLSB = quantity.Amperes(5e-6) // 164 mA full scale
	f = newFake()
	d = openOn(t, f, o)
	f.shuntVolts = steady(0.05)
	r, err := d.Measure(t.Context())
	require.NoError(t, err)
	require.True(t, r.Overflow)
	require.False(t, r.Saturated)
}

func TestMeasureDoesNotBelieveAChipThatWasReset(t *testing.T) {
	d, f := open(t)
	f.shuntVolts = steady(0.05)
	f.reset()
	_, err := d.Measure(t.Context())
	require.ErrorIs(t, err, chip.ErrLost, "without its calibration the chip answers 0 A")
	require.ErrorContains(t, err, "current register reads 0, shunt 20000 and calibration 2048 give 20000")
}

func TestReadingsThatTheChipCannotSend(t *testing.T) {
	d, _ := open(t)
	d.regs = chip.NewWords(&babble{text: []byte{0, 8, 0, 0, 0xFF, 0xFF, 0, 0, 0, 0}}, at)
	_, err := d.Measure(t.Context())
	require.ErrorIs(t, err, chip.ErrLost)
	require.ErrorContains(t, err, "bus register reads FFFFh")
}

func TestMeasureSaysWhatIsNotReady(t *testing.T) {
	d, f := open(t)
	f.stuck = true
	_, err := d.Measure(t.Context())
	require.ErrorIs(t, err, chip.ErrNotReady)
	require.ErrorContains(t, err, "powermon(40h): measure shunt and bus, average of 16: not ready in time")
	_, err = d.Shunt(t.Context(), Time588us)
	require.ErrorContains(t, err, "powermon(40h): measure shunt in 588µs: not ready in time")
	require.NoError(t, d.Start())
	_, err = d.Next(t.Context())
	require.ErrorIs(t, err, chip.ErrNotReady)
}

func TestEndedContextsAndUnknownTimes(t *testing.T) {
	d, _ := open(t)
	cut := &chiptest.Cut{How: chiptest.Dead}
	d.regs = chip.NewWords(cut, at)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := d.Measure(ctx)
	require.ErrorIs(t, err, context.Canceled)
	_, err = d.Shunt(ctx, Time140us)
	require.ErrorIs(t, err, context.Canceled)
	_, err = d.Shunt(t.Context(), 8)
	require.ErrorIs(t, err, ErrSetting)
	_, err = d.Next(t.Context())
	require.ErrorIs(t, err, ErrIdle)
	require.Zero(t, cut.Count)
}

// leaveNothing proves that after whatever happened the chip can be halted, then
// watches nothing and stands still, and that its next reading is right.
func leaveNothing(t *testing.T, d *Dev, f *fake, cut *chiptest.Cut) {
	t.Helper()
	cut.Heal()
	require.NoError(t, d.Halt())
	require.NoError(t, d.Halt())
	require.False(t, f.busy)
	require.Zero(t, f.mask)
	r, err := d.Measure(t.Context())
	require.NoError(t, err)
	require.InDelta(t, 0.1, r.Current.SI, 1e-9)
}

// cuttable returns a fresh chip at 0.1 A on a bus that can be cut.
func cuttable(cut *chiptest.Cut) *fake {
	f := newFake()
	f.shuntVolts, f.busVolts = steady(0.01), steady(5)
	cut.Bus = f
	return f
}

func TestNewCutAtEveryTransfer(t *testing.T) {
	chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
		f := cuttable(cut)
		d, err := New(cut, f.Clock, DefaultOpts())
		if err != nil {
			require.Nil(t, d)
			cut.Heal()
			d = openOn(t, f, DefaultOpts())
		}
		leaveNothing(t, d, f, cut)
		return err
	})
}

// streamed starts a stream and takes two of it.
func streamed[R any](next func(*Dev, context.Context) (R, error)) func(*Dev, context.Context) error {
	return func(d *Dev, ctx context.Context) error {
		err := d.Start()
		for range 2 {
			if err == nil {
				_, err = next(d, ctx)
			}
		}
		return err
	}
}

func TestEveryConversationCutAtEveryTransfer(t *testing.T) {
	for name, talk := range map[string]func(*Dev, context.Context) error{
		"measure": func(d *Dev, ctx context.Context) error {
			_, err := d.Measure(ctx)
			return err
		},
		"shunt": func(d *Dev, ctx context.Context) error {
			_, err := d.Shunt(ctx, Time140us)
			return err
		},
		"stream":              streamed((*Dev).Next),
		"stream of the shunt": streamed((*Dev).NextShunt),
		"alert": func(d *Dev, ctx context.Context) error {
			_, err := d.ArmOverVoltage(quantity.Volts(5.5), true)
			if err == nil {
				_, err = d.Alert()
			}
			if err == nil {
				err = d.ClearAlert()
			}
			if err == nil {
				err = d.Disarm()
			}
			return err
		},
	} {
		t.Run(name, func(t *testing.T) {
			chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
				f := cuttable(cut)
				d := openOn(t, f, DefaultOpts())
				d.regs = chip.NewWords(cut, at)
				err := talk(d, t.Context())
				leaveNothing(t, d, f, cut)
				return err
			})
		})
	}
}

func TestHaltTriesBothRegisters(t *testing.T) {
	d, f := open(t)
	_, err := d.ArmOverCurrent(quantity.Amperes(0.5), true)
	require.NoError(t, err)
	require.NoError(t, d.Start())
	d.regs = chip.NewWords(&chiptest.Cut{Bus: f, How: chiptest.Unheard}, at)
	require.ErrorIs(t, d.Halt(), chiptest.ErrCut)
	require.False(t, f.busy, "the first write was lost, the second must still go out")
	require.NoError(t, d.Halt())
}

// babble answers each reading with the next two bytes of a text, then zeros.
type babble struct {
	chiptest.Wire
	text []byte
}

func (b *babble) Tx(_ uint16, _, r []byte) error {
	clear(r)
	b.text = b.text[copy(r, b.text):]
	return nil
}

// FuzzRegisters lets a chip answer anything. What Measure accepts must agree
// with itself: the current follows from the shunt, the bus is within 41 V.
func FuzzRegisters(f *testing.F) {
	f.Add([]byte{0, 8, 0x4E, 0x20, 0x0F, 0xA0, 0x4E, 0x20, 0x0F, 0xA0})
	f.Add([]byte{0, 0x0C, 0x7F, 0xFF, 0x7F, 0xFF, 0x7F, 0xFF, 0xFF, 0xFF})
	f.Add([]byte{0xFF, 0xFF})
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, text []byte) {
		d, _ := open(t)
		d.regs = chip.NewWords(&babble{text: text}, at)
		r, err := d.Measure(t.Context())
		if err != nil {
			return
		}
		require.Less(t, r.Bus.SI, 40.961)
		require.Equal(t, r.ShuntCode == 32767 || r.ShuntCode == -32768, r.Saturated)
		require.InDelta(t, r.Shunt.SI/0.1, r.Current.SI, 25e-6*1.0001)
	})
}
