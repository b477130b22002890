package adc16x4

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
	"sinkproof/bench/quantity"
)

const at = 0x48

// hello is the conversation of New with a chip that is idle.
func hello() []i2ctest.IO {
	return []i2ctest.IO{
		{Addr: at, W: []byte{1, 0x05, 0x83}},
		{Addr: at, W: []byte{1}, R: []byte{0x85, 0x83}},
		{Addr: at, W: []byte{1, 0x2B, 0x55}},
		{Addr: at, W: []byte{1}, R: []byte{0xAB, 0x55}},
		{Addr: at, W: []byte{1, 0x55, 0xAA}},
		{Addr: at, W: []byte{1}, R: []byte{0xD5, 0xAA}},
		{Addr: at, W: []byte{1, 0x05, 0x83}},
		{Addr: at, W: []byte{1}, R: []byte{0x85, 0x83}},
	}
}

// 0.4173 V is the middle of a 5.1 kΩ termination on 56 kΩ from 5 V: code 6677,
// 1A15h at ±2.048 V (SBAS444D, data format).
func TestConvertSpeaksAsTheDataSheetSays(t *testing.T) {
	bus := &i2ctest.Playback{DontPanic: true, Ops: append(hello(), []i2ctest.IO{
		{Addr: at, W: []byte{1, 0xC5, 0x83}},
		{Addr: at, W: []byte{1}, R: []byte{0x45, 0x83}},
		{Addr: at, W: []byte{1}, R: []byte{0xC5, 0x83}},
		{Addr: at, W: []byte{0}, R: []byte{0x1A, 0x15}},
		{Addr: at, W: []byte{1, 0x05, 0x83}},
		{Addr: at, W: []byte{1}, R: []byte{0x85, 0x83}},
	}...)}
	clock := &chiptest.Clock{}
	d, err := New(t.Context(), bus, clock, DefaultOpts())
	require.NoError(t, err)
	s, err := d.Convert(t.Context(), AIN0, FS2048)
	require.NoError(t, err)
	require.Equal(t, int16(6677), s.Code)
	require.InDelta(t, 0.4173, s.Volts.SI, 62.5e-6/2)
	require.Equal(t, quantity.Voltage, s.Volts.Dim)
	require.False(t, s.Saturated)
	require.NoError(t, d.Halt())
	require.NoError(t, bus.Close())
}

func TestNewTalksTheSameToALivingChip(t *testing.T) {
	f := newFake()
	rec := &i2ctest.Record{Bus: f}
	d, err := New(t.Context(), rec, f.Clock, DefaultOpts())
	require.NoError(t, err)
	require.Equal(t, hello(), rec.Ops)
	require.Equal(t, "adc16x4(48h)", d.String())
}

func TestNewRefusesOptionsBeforeItTalks(t *testing.T) {
	for name, o := range map[string]Opts{
		"address too low":  {Addr: 0x47},
		"address too high": {Addr: 0x4C},
		"unknown rate":     {Addr: 0x48, Rate: 8},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := New(t.Context(), &i2ctest.Playback{DontPanic: true}, &chiptest.Clock{}, o)
			require.ErrorIs(t, err, ErrSetting)
		})
	}
}

// constant answers every reading with one byte, as an adapter does that
// swallows missing acknowledges (0) or a bus that nobody drives (FFh).
type constant struct {
	chiptest.Wire
	b byte
}

func (c *constant) Tx(_ uint16, _, r []byte) error {
	for i := range r {
		r[i] = c.b
	}
	return nil
}

func TestNewFindsThatNobodyAnswers(t *testing.T) {
	for _, b := range []byte{0x00, 0xFF, 0x85} {
		_, err := New(t.Context(), &constant{b: b}, &chiptest.Clock{}, DefaultOpts())
		require.ErrorIs(t, err, chip.ErrLost, "every byte reads %02Xh", b)
	}
}

// tenant is a chip with one register that keeps the reset value, as one would
// that ignores unknown pointers.
type tenant struct{ chiptest.Wire }

func (*tenant) Tx(_ uint16, _, r []byte) error {
	copy(r, []byte{0x85, 0x83})
	return nil
}

func TestNewFindsAnotherChip(t *testing.T) {
	_, err := New(t.Context(), &tenant{}, &chiptest.Clock{}, DefaultOpts())
	require.ErrorIs(t, err, chip.ErrIdentity)
	require.ErrorContains(t, err, "adc16x4(48h): open")
}

func TestNewTakesOverAChipThatIsConverting(t *testing.T) {
	f := newFake()
	f.slow = 1 / 0.9
	f.config = 0x4483 &^ 0x00E0 // continuous, 8 SPS
	f.begin(0)
	d := openOn(t, f, DefaultOpts())
	f.volts = func(mux, _ int) float64 { return float64(mux) / 10 }
	s, err := d.Convert(t.Context(), AIN1, FS2048)
	require.NoError(t, err)
	require.InDelta(t, 0.5, s.Volts.SI, 1e-4, "AIN1 is code 5 of the multiplexer")
}

func TestConvertMeasuresWhatWasAskedOnEveryLegalChip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := newFake()
		d := openOn(t, f, DefaultOpts())
		f.slow = rapid.Float64Range(1/1.1, 1/0.9).Draw(rt, "period factor")
		f.volts = func(mux, _ int) float64 { return 0.02 * float64(mux+1) }
		for range 3 {
			in := Input(rapid.IntRange(0, 7).Draw(rt, "input"))
			rng := Range(rapid.IntRange(0, 5).Draw(rt, "range"))
			rate := Rate(rapid.IntRange(0, 7).Draw(rt, "rate"))
			s, err := d.ConvertAt(t.Context(), in, rng, rate)
			require.NoError(rt, err)
			require.InDelta(rt, 0.02*float64(in^4+1), s.Volts.SI, rng.LSB().SI)
			require.Equal(rt, []any{in, rng}, []any{s.Input, s.Range})
			require.LessOrEqual(rt, s.From, f.doneStart)
			require.GreaterOrEqual(rt, s.At, f.doneEnd)
			slack := rate.Period()/32 + time.Millisecond
			require.LessOrEqual(rt, s.At-f.doneEnd, slack, "found ready soon")
		}
		require.Zero(rt, f.readBusy, "the result was read while the chip was converting")
	})
}

func TestConvertSaysWhatIsNotReady(t *testing.T) {
	d, f := open(t)
	f.stuck = true
	_, err := d.ConvertAt(t.Context(), AIN2, FS4096, SPS8)
	require.ErrorIs(t, err, chip.ErrNotReady)
	require.ErrorContains(t, err, "adc16x4(48h): convert AIN2, ±4.096 V, 8 SPS: not ready in time: waited 14")
	require.ErrorContains(t, err, "longest legal time 138.888888ms")
}

func TestConvertDoesNotBelieveAChipThatWasReset(t *testing.T) {
	d, f := open(t)
	f.volts = func(int, int) float64 { return 1 }
	cut := &meddler{fake: f, at: 1, do: f.reset}
	d.regs = chip.NewWords(cut, at)
	_, err := d.Convert(t.Context(), AIN0, FS2048)
	require.ErrorIs(t, err, chip.ErrLost)
	require.ErrorContains(t, err, "configuration reads 8583h, written 4583h")
	s, err := d.Convert(t.Context(), AIN0, FS2048)
	require.NoError(t, err)
	require.InDelta(t, 1, s.Volts.SI, 1e-4)
}

// meddler does something to the chip before one transfer.
type meddler struct {
	*fake
	n, at int
	do    func()
}

func (m *meddler) Tx(addr uint16, w, r []byte) error {
	if m.n++; m.n == m.at+1 {
		m.do()
	}
	return m.fake.Tx(addr, w, r)
}

func TestConvertAfterAGivenUpOneIsNotTheOldOne(t *testing.T) {
	for limit := 1; limit < 5; limit++ {
		d, f := open(t)
		f.volts = func(mux, _ int) float64 { return float64(mux) / 10 }
		f.Clock.Slept, f.Clock.Limit = 0, limit
		_, err := d.ConvertAt(t.Context(), AIN3, FS2048, SPS8)
		require.ErrorIs(t, err, context.Canceled)
		s, err := d.ConvertAt(t.Context(), AIN0, FS2048, SPS860)
		require.NoError(t, err)
		require.InDelta(t, 0.4, s.Volts.SI, 1e-4, "AIN0 is code 4 of the multiplexer, AIN3 code 7")
	}
}

func TestConvertDoesNothingUnderAnEndedContext(t *testing.T) {
	d, _ := open(t)
	cut := &chiptest.Cut{How: chiptest.Dead}
	d.regs = chip.NewWords(cut, at)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := d.Convert(ctx, AIN0, FS2048)
	require.ErrorIs(t, err, context.Canceled)
	require.Zero(t, cut.Count)
}

func TestConvertRefusesUnknownSettings(t *testing.T) {
	d, _ := open(t)
	d.regs = chip.NewWords(&chiptest.Cut{How: chiptest.Dead}, at)
	_, err := d.Convert(t.Context(), 8, FS2048)
	require.ErrorIs(t, err, ErrSetting)
	_, err = d.Convert(t.Context(), AIN0, 6)
	require.ErrorIs(t, err, ErrSetting)
	_, err = d.ConvertAt(t.Context(), AIN0, FS2048, 8)
	require.ErrorIs(t, err, ErrSetting)
	require.ErrorIs(t, d.Start(t.Context(), 8, FS2048, SPS8), ErrSetting)
}

func TestSaturatedSamplesAreBounds(t *testing.T) {
	d, f := open(t)
	for _, c := range []struct {
		volts     float64
		saturated bool
		bound     quantity.Bound
	}{
		{2.1, true, quantity.AtLeast},
		{-2.1, true, quantity.AtMost},
		{2.04, false, quantity.Exact},
		{0, false, quantity.Exact},
	} {
		f.volts = func(int, int) float64 { return c.volts }
		s, err := d.Convert(t.Context(), AIN0Minus1, FS2048)
		require.NoError(t, err)
		require.Equal(t, c.saturated, s.Saturated)
		require.Equal(t, c.bound, s.Bound())
	}
}

func TestHaltWorksTwiceAndInMidConversion(t *testing.T) {
	d, f := open(t)
	require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS8))
	require.NoError(t, d.Halt())
	require.NoError(t, d.Halt())
	f.Clock.Advance(time.Second)
	f.elapse()
	require.False(t, f.busy)
	require.Equal(t, uint16(idleWord), f.config)
}

func TestHaltNoticesAChipThatDoesNotObey(t *testing.T) {
	d, _ := open(t)
	d.regs = chip.NewWords(&constant{b: 0}, at)
	require.ErrorIs(t, d.Halt(), chip.ErrLost)
	d.regs = chip.NewWords(&chiptest.Cut{How: chiptest.Dead}, at)
	require.ErrorIs(t, d.Halt(), chiptest.ErrCut)
}

// leaveNothing proves that a driver can be halted after whatever happened, that
// the chip then stands still, and that the next conversion is its own.
func leaveNothing(t *testing.T, d *Dev, f *fake, cut *chiptest.Cut) {
	t.Helper()
	cut.Heal()
	require.NoError(t, d.Halt())
	require.NoError(t, d.Halt())
	f.Clock.Advance(time.Second)
	f.elapse()
	require.False(t, f.busy, "still converting")
	s, err := d.Convert(t.Context(), AIN2, FS2048)
	require.NoError(t, err)
	require.InDelta(t, 0.6, s.Volts.SI, 1e-4, "AIN2 is code 6 of the multiplexer")
}

func byMux(mux, n int) float64 { return float64(mux)/10 + float64(n%2)*63e-6 }

func TestNewCutAtEveryTransfer(t *testing.T) {
	for _, ready := range []bool{false, true} {
		chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
			f := newFake()
			f.volts = byMux
			cut.Bus = f
			o := DefaultOpts()
			if ready {
				o.Ready = &pin{chip: f}
			}
			d, err := New(t.Context(), cut, f.Clock, o)
			if err == nil {
				leaveNothing(t, d, f, cut)
				return nil
			}
			require.Nil(t, d)
			cut.Heal()
			d, again := New(t.Context(), cut, f.Clock, o)
			require.NoError(t, again)
			leaveNothing(t, d, f, cut)
			return err
		})
	}
}

// opened returns a driver on a fresh chip whose bus is cut from now on.
func opened(t *testing.T, cut *chiptest.Cut, ready bool) (*Dev, *fake) {
	t.Helper()
	f := newFake()
	f.volts = byMux
	o := DefaultOpts()
	if ready {
		o.Ready = &pin{chip: f}
	}
	d := openOn(t, f, o)
	cut.Bus = f
	d.regs = chip.NewWords(cut, at)
	return d, f
}

func TestConvertCutAtEveryTransfer(t *testing.T) {
	chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
		d, f := opened(t, cut, false)
		_, err := d.ConvertAt(t.Context(), AIN0, FS2048, SPS250)
		leaveNothing(t, d, f, cut)
		return err
	})
}

func TestConvertGoesOnAfterOneLostTransfer(t *testing.T) {
	chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
		d, _ := opened(t, cut, false)
		_, err := d.ConvertAt(t.Context(), AIN0, FS2048, SPS8)
		cut.Heal()
		s, again := d.Convert(t.Context(), AIN1, FS2048)
		require.NoError(t, again)
		require.InDelta(t, 0.5, s.Volts.SI, 1e-4, "AIN1 is code 5 of the multiplexer")
		return err
	})
}

func TestStreamCutAtEveryTransfer(t *testing.T) {
	for _, ready := range []bool{false, true} {
		chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
			d, f := opened(t, cut, ready)
			err := d.Start(t.Context(), AIN0, FS2048, SPS860)
			for range 3 {
				if err == nil {
					_, err = d.Next(t.Context())
				}
			}
			if err == nil {
				err = d.Stop()
			}
			leaveNothing(t, d, f, cut)
			_, idle := d.Next(t.Context())
			require.ErrorIs(t, idle, ErrIdle)
			return err
		})
	}
}

func TestReadyPinThatCannotBeAnInput(t *testing.T) {
	f := newFake()
	o := DefaultOpts()
	o.Ready = &pin{chip: f, fail: errors.New("line is busy")}
	_, err := New(t.Context(), f, f.Clock, o)
	require.ErrorContains(t, err, "set ready pin READY as input: line is busy")
}
