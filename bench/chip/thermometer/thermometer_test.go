package thermometer

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
	"sinkproof/bench/quantity"
)

const at = 0x4C

// hello is the conversation of New: stop, prove by the limits, start.
func hello(config byte) []i2ctest.IO {
	return []i2ctest.IO{
		{Addr: at, W: []byte{1, config | 1}},
		{Addr: at, W: []byte{1}, R: []byte{config | 1, 0xFF}},
		{Addr: at, W: []byte{3, 0x50, 0x00}},
		{Addr: at, W: []byte{3}, R: []byte{0x50, 0x00}},
		{Addr: at, W: []byte{2, 0x4B, 0x00}},
		{Addr: at, W: []byte{2}, R: []byte{0x4B, 0x00}},
		{Addr: at, W: []byte{1, config}},
		{Addr: at, W: []byte{1}, R: []byte{config, 0xFF}},
	}
}

// 25 °C is 1900h with twelve bits (TI TMP1075 data sheet SBOS854F, table 7-1)
// and 32h in the upper nine (TI LM75B data sheet SNIS153B, p. 9).
func TestReadSpeaksAsTheDataSheetSays(t *testing.T) {
	for bits, config := range map[int]byte{9: 0, 11: 0, 12: 0x60} {
		bus := &i2ctest.Playback{DontPanic: true, Ops: append(hello(config), []i2ctest.IO{
			{Addr: at, W: []byte{0}, R: []byte{0x19, 0x00}},
			{Addr: at, W: []byte{1, config | 1}},
			{Addr: at, W: []byte{1}, R: []byte{config | 1, 0x00}},
		}...)}
		clock := &chiptest.Clock{}
		d, err := New(bus, clock, options(bits))
		require.NoError(t, err)
		s, err := d.Read(t.Context())
		require.NoError(t, err)
		require.InDelta(t, 25, s.Temperature.SI-273.15, 1e-9)
		require.Equal(t, int16(0x1900>>(16-bits)), s.Code)
		require.Equal(t, 300*time.Millisecond, clock.Now(), "the first conversion was waited for")
		require.NoError(t, d.Halt())
		require.NoError(t, bus.Close())
		require.Equal(t, "thermometer(4Ch)", d.String())
	}
}

func TestNewTalksTheSameToALivingChip(t *testing.T) {
	f := newFake(12)
	f.wide = true
	rec := &i2ctest.Record{Bus: f}
	_, err := New(rec, f.Clock, DefaultOpts())
	require.NoError(t, err)
	require.Equal(t, hello(0x60), rec.Ops)
}

func TestNewRefusesOptionsBeforeItTalks(t *testing.T) {
	for name, spoil := range map[string]func(*Opts){
		"address too low":       func(o *Opts) { o.Addr = 0x47 },
		"address too high":      func(o *Opts) { o.Addr = 0x50 },
		"ten bits":              func(o *Opts) { o.Bits = 10 },
		"no bits":               func(o *Opts) { o.Bits = 0 },
		"alarm too high":        func(o *Opts) { o.Alarm = quantity.Celsius(130) },
		"release too low":       func(o *Opts) { o.Release = quantity.Celsius(-60) },
		"release above alarm":   func(o *Opts) { o.Release = quantity.Celsius(81) },
		"release a hair below":  func(o *Opts) { o.Release = quantity.Celsius(80.1); o.Alarm = quantity.Celsius(80.2) },
		"alarm no temperature":  func(o *Opts) { o.Alarm = quantity.Volts(350) },
		"release not mentioned": func(o *Opts) { o.Release = quantity.Quantity{} },
	} {
		t.Run(name, func(t *testing.T) {
			o := DefaultOpts()
			spoil(&o)
			_, err := New(&i2ctest.Playback{DontPanic: true}, &chiptest.Clock{}, o)
			require.ErrorIs(t, err, ErrSetting)
		})
	}
}

// constant answers every reading with one byte.
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

func TestNewFindsThatNoSensorAnswers(t *testing.T) {
	for _, b := range []byte{0x00, 0xFF, 0x61, 0x01} {
		for _, bits := range []int{9, 12} {
			_, err := New(&constant{b: b}, &chiptest.Clock{}, options(bits))
			require.ErrorIs(t, err, chip.ErrIdentity, "every byte reads %02Xh", b)
		}
	}
}

// The twelve-bit setting is one that a nine-bit chip does not keep.
func TestNewFindsAChipWithFewerBits(t *testing.T) {
	f := newFake(9)
	_, err := New(f, f.Clock, options(12))
	require.ErrorIs(t, err, chip.ErrIdentity)
}

func TestReadsWhatTheChipMeasures(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		bits := rapid.SampledFrom([]int{9, 11, 12}).Draw(rt, "bits")
		f := newFake(bits)
		f.wide = bits == 12 && rapid.Bool().Draw(rt, "two configuration bytes")
		f.period = time.Duration(rapid.Int64Range(27, 300).Draw(rt, "conversion ms")) * time.Millisecond
		f.celsius = rapid.Float64Range(-55, 125).Draw(rt, "celsius")
		d, err := New(f, f.Clock, options(bits))
		require.NoError(rt, err)
		for range 3 {
			s, err := d.Read(t.Context())
			require.NoError(rt, err)
			require.InDelta(rt, f.celsius, s.Temperature.SI-273.15, step(bits)/2+1e-9)
			require.LessOrEqual(rt, s.From, f.doneEnd-f.period)
			require.GreaterOrEqual(rt, s.At, f.doneEnd)
			f.Clock.Advance(time.Duration(rapid.Int64Range(0, 1000).Draw(rt, "pause ms")) * time.Millisecond)
		}
		require.Zero(rt, f.oneByteReads, "one byte of two can hold the data line")
	})
}

func TestTheFirstReadingIsNotTheZeroBeforeIt(t *testing.T) {
	d, f := open(t, 12)
	f.celsius = -10
	s, err := d.Read(t.Context())
	require.NoError(t, err)
	require.InDelta(t, 263.15, s.Temperature.SI, 1e-9)
	before := f.Clock.Now()
	_, err = d.Read(t.Context())
	require.NoError(t, err)
	require.Less(t, f.Clock.Now()-before, time.Millisecond, "later ones need no waiting")
}

func TestARealZeroIsConfirmed(t *testing.T) {
	d, f := open(t, 9)
	f.celsius = 0
	s, err := d.Read(t.Context())
	require.NoError(t, err)
	require.Zero(t, s.Code)
	require.Greater(t, s.At, 2*longestConversion)
}

func TestAResetIsNotZeroDegrees(t *testing.T) {
	d, f := open(t, 12)
	_, err := d.Read(t.Context())
	require.NoError(t, err)
	f.reset()
	_, err = d.Read(t.Context())
	require.ErrorIs(t, err, chip.ErrLost, "the twelve-bit setting is gone")

	d, f = open(t, 9)
	_, err = d.Read(t.Context())
	require.NoError(t, err)
	f.reset() // leaves nothing that tells, with these limits
	s, err := d.Read(t.Context())
	require.NoError(t, err)
	require.InDelta(t, 298.15, s.Temperature.SI, 1e-9, "the zero was waited out")
}

func TestHaltStopsAndReadStartsAgain(t *testing.T) {
	d, f := open(t, 11)
	_, err := d.Read(t.Context())
	require.NoError(t, err)
	require.NoError(t, d.Halt())
	require.NoError(t, d.Halt())
	require.Equal(t, byte(1), f.config)
	f.celsius = 60
	f.Clock.Advance(time.Second)
	s, err := d.Read(t.Context())
	require.NoError(t, err)
	require.InDelta(t, 333.15, s.Temperature.SI, 1e-9, "not the one from before")
}

func TestSetLimits(t *testing.T) {
	for _, bits := range []int{9, 11, 12} {
		d, f := open(t, bits)
		require.NoError(t, d.SetLimits(quantity.Celsius(45.2), quantity.Celsius(40)))
		require.Equal(t, []uint16{0x2D00, 0x2800}, []uint16{f.alarm, f.release})
		err := d.SetLimits(quantity.Celsius(40), quantity.Celsius(45))
		require.ErrorIs(t, err, ErrSetting)
		require.ErrorContains(t, err, "release at 45.0 °C is not below the alarm at 40.0 °C")
		require.Equal(t, []uint16{0x2D00, 0x2800}, []uint16{f.alarm, f.release})
	}
}

func TestReadGivesUpWithItsContext(t *testing.T) {
	d, f := open(t, 12)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := d.Read(ctx)
	require.ErrorIs(t, err, context.Canceled)
	f.celsius = 0
	f.Clock.Slept, f.Clock.Limit = 0, 2
	_, err = d.Read(t.Context())
	require.ErrorIs(t, err, context.Canceled)
	require.ErrorContains(t, err, "thermometer(4Ch): read temperature: confirm 0 °C")
}

// leaveNothing proves that after whatever happened the chip can be stopped and
// then reads right again.
func leaveNothing(t *testing.T, d *Dev, f *fake, cut *chiptest.Cut) {
	t.Helper()
	cut.Heal()
	require.NoError(t, d.Halt())
	require.NoError(t, d.Halt())
	require.Equal(t, byte(1), f.config&1)
	f.celsius = 30
	s, err := d.Read(t.Context())
	require.NoError(t, err)
	require.InDelta(t, 303.15, s.Temperature.SI, 1e-9)
}

func TestNewCutAtEveryTransfer(t *testing.T) {
	chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
		f := newFake(12)
		cut.Bus = f
		d, err := New(cut, f.Clock, DefaultOpts())
		if err != nil {
			require.Nil(t, d)
			cut.Heal()
			var again error
			d, again = New(f, f.Clock, DefaultOpts())
			require.NoError(t, again)
		}
		leaveNothing(t, d, f, cut)
		return err
	})
}

func TestReadCutAtEveryTransfer(t *testing.T) {
	chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
		d, f := open(t, 9)
		cut.Bus = f
		d.regs = chip.NewWords(cut, at)
		f.celsius = 0 // the longer conversation
		_, err := d.Read(t.Context())
		if err == nil {
			err = d.SetLimits(quantity.Celsius(60), quantity.Celsius(50))
		}
		if err == nil {
			err = d.Halt()
		}
		if err == nil {
			_, err = d.Read(t.Context())
		}
		leaveNothing(t, d, f, cut)
		return err
	})
}

// FuzzRegisters lets a chip answer anything. What Read accepts is what the
// register says, within the span of the code.
func FuzzRegisters(f *testing.F) {
	f.Add(byte(0x19), byte(0x00), uint8(12))
	f.Add(byte(0xFF), byte(0xFF), uint8(9))
	f.Add(byte(0x7F), byte(0xE0), uint8(11))
	f.Add(byte(0x80), byte(0x01), uint8(12))
	f.Fuzz(func(t *testing.T, high, low byte, bits uint8) {
		if bits != 9 && bits != 11 {
			bits = 12
		}
		d, fake := open(t, int(bits))
		fake.Clock.Advance(time.Second)
		d.regs = chip.NewWords(&fixed{r: [2]byte{high, low}, config: d.config()}, at)
		s, err := d.Read(t.Context())
		if err != nil {
			require.ErrorIs(t, err, chip.ErrLost)
			require.NotZero(t, low&0x0F)
			return
		}
		got := s.Temperature.SI - 273.15
		require.InDelta(t, float64(int16(uint16(high)<<8|uint16(low)))/256, got, step(int(bits)))
	})
}

// fixed is a bus that costs nothing and answers one temperature.
type fixed struct {
	chiptest.Wire
	r      [2]byte
	config byte
}

func (f *fixed) Tx(_ uint16, w, r []byte) error {
	if len(r) == 2 {
		r[0], r[1] = f.r[0], f.r[1]
		if w[0] == regConfig {
			r[0] = f.config
		}
	}
	return nil
}

func hot(t testing.TB) *Dev {
	d, f := open(t, 12)
	f.Clock.Advance(time.Second)
	d.regs = chip.NewWords(&fixed{r: [2]byte{0x19, 0}}, at)
	return d
}

func TestReadAllocatesNothing(t *testing.T) {
	d, ctx := hot(t), t.Context()
	require.Zero(t, testing.AllocsPerRun(100, func() {
		if _, err := d.Read(ctx); err != nil {
			t.Fatal(err)
		}
	}))
}

func BenchmarkRead(b *testing.B) {
	d, ctx := hot(b), b.Context()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := d.Read(ctx); err != nil {
			b.Fatal(err)
		}
	}
}
