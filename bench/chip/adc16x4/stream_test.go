package adc16x4

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
)

// signals are what a stream may meet: always another code, never another, and
// now and then another.
func signals() map[string]func(int, int) float64 {
	return map[string]func(int, int) float64{
		"ramp":   func(_, n int) float64 { return float64(n%30000) * 62.5e-6 },
		"quiet":  func(int, int) float64 { return 1.5 },
		"zero":   func(int, int) float64 { return 0 },
		"uneven": func(_, n int) float64 { return float64(n/3%2) * 0.1 },
	}
}

// Whatever the signal, the oscillator, the rate and the caller's delays: each
// sample is a conversion of its own, of the input asked for, found within the
// slowest period after the one before when the caller is not late, and enclosed
// by From and At.
func TestNextNeverDeliversAConversionTwice(t *testing.T) {
	for name, signal := range signals() {
		for _, ready := range []bool{false, true} {
			t.Run(name, func(t *testing.T) {
				rapid.Check(t, func(rt *rapid.T) { streamHolds(t, rt, signal, ready) })
			})
		}
	}
}

func streamHolds(t *testing.T, rt *rapid.T, signal func(int, int) float64, ready bool) {
	f := newFake()
	o := DefaultOpts()
	if ready {
		o.Ready = &pin{chip: f}
	}
	d := openOn(t, f, o)
	f.slow = rapid.Float64Range(1/1.1, 1/0.9).Draw(rt, "period factor")
	f.volts = func(mux, n int) float64 {
		if mux != 5 {
			return -1
		}
		return signal(mux, n)
	}
	_, err := d.Convert(t.Context(), AIN0, FS2048)
	require.NoError(rt, err)
	rate := Rate(rapid.IntRange(int(SPS8), int(SPS860)).Draw(rt, "rate"))
	require.NoError(rt, d.Start(t.Context(), AIN1, FS2048, rate))
	last, lastAt := f.done, f.Clock.Now()
	for range 6 {
		late := time.Duration(rapid.Int64Range(0, int64(3*rate.Period())).Draw(rt, "caller's delay"))
		if rapid.Bool().Draw(rt, "prompt") {
			late = 0
		}
		f.Clock.Advance(late)
		s, err := d.Next(t.Context())
		require.NoError(rt, err)
		require.NotEqual(rt, -1.0, s.Volts.SI, "a conversion of the other input")
		require.Greater(rt, f.delivered, last, "the same conversion twice")
		require.LessOrEqual(rt, s.From, f.doneStart)
		require.GreaterOrEqual(rt, s.At, f.doneEnd)
		if late == 0 {
			require.LessOrEqual(rt, s.At-lastAt, rate.Longest()+rate.Period()/32+time.Millisecond)
		}
		last, lastAt = f.delivered, s.At
	}
}

// At every rate and on the fastest chip a prompt caller misses no conversion of
// a signal that moves, and with the ready pin of none.
func TestNextKeepsUpWithTheChip(t *testing.T) {
	for rate := SPS8; rate <= SPS860; rate++ {
		for name, signal := range signals() {
			ready := name != "ramp"
			f := newFake()
			o := DefaultOpts()
			if ready {
				o.Ready = &pin{chip: f}
			}
			d := openOn(t, f, o)
			f.slow, f.volts = 1/1.1, signal
			require.NoError(t, d.Start(t.Context(), AIN0, FS2048, rate))
			for i := range 50 {
				before := f.delivered
				_, err := d.Next(t.Context())
				require.NoError(t, err)
				if i > 0 {
					require.Equal(t, before+1, f.delivered, "%s at %s: a conversion was skipped", name, rate)
				}
			}
		}
	}
}

func TestNextWithoutStart(t *testing.T) {
	d, _ := open(t)
	_, err := d.Next(t.Context())
	require.ErrorIs(t, err, ErrIdle)
	require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
	_, err = d.Next(t.Context())
	require.NoError(t, err)
	_, err = d.Convert(t.Context(), AIN0, FS2048)
	require.NoError(t, err)
	_, err = d.Next(t.Context())
	require.ErrorIs(t, err, ErrIdle, "Convert ends a continuous conversion")
}

// Neither the code of the stream before nor its edges in the pin's queue count.
func TestStartReplacesAStream(t *testing.T) {
	for _, ready := range []bool{false, true} {
		f := newFake()
		f.volts = byMux
		o := DefaultOpts()
		if ready {
			o.Ready = &pin{chip: f}
		}
		d := openOn(t, f, o)
		require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
		f.Clock.Advance(10 * time.Millisecond)
		require.NoError(t, d.Start(t.Context(), AIN3, FS2048, SPS8))
		s, err := d.Next(t.Context())
		require.NoError(t, err)
		require.InDelta(t, 0.7, s.Volts.SI, 1e-4, "AIN3 is code 7 of the multiplexer")
	}
}

// A conversion costs one transfer, also where the code stays: only a code that a
// chip may have after a reset is looked into.
func TestNextCostsOneTransfer(t *testing.T) {
	for name, transfers := range map[string]int{"ramp": 20, "quiet": 20, "zero": 40} {
		d, f := learned(t, 1)
		f.volts = signals()[name]
		require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
		_, err := d.Next(t.Context())
		require.NoError(t, err)
		before := f.Carried
		for range 20 {
			_, err := d.Next(t.Context())
			require.NoError(t, err)
		}
		require.LessOrEqual(t, f.Carried-before, transfers+1, "%s: with one look at the oscillator", name)
	}
}

// A chip that converts no longer, without having been reset, shows when its stream
// ends: what it repeated is not believed.
func TestStopDoesNotBelieveAChipThatStopped(t *testing.T) {
	for name, signal := range signals() {
		d, f := open(t)
		f.volts = signal
		require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
		_, err := d.Next(t.Context())
		require.NoError(t, err)
		f.config, f.busy = idleWord, false
		for err == nil && f.Clock.Now() < time.Second {
			_, err = d.Next(t.Context())
		}
		if err == nil {
			err = d.Stop()
		}
		require.ErrorIs(t, err, chip.ErrLost, name)
		require.NoError(t, d.Halt())
		s, err := d.Convert(t.Context(), AIN0, FS2048)
		require.NoError(t, err)
		require.Equal(t, s.Code, int16(f.result))
	}
}

// Stop powers the chip down, works twice and lets nobody wait who comes later.
func TestStopEndsAStream(t *testing.T) {
	d, f := open(t)
	f.volts = byMux
	require.NoError(t, d.Stop(), "nothing runs")
	require.Zero(t, f.Clock.Slept)
	require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS8))
	_, err := d.Next(t.Context())
	require.NoError(t, err)
	before := f.Clock.Slept
	require.NoError(t, d.Stop())
	require.NoError(t, d.Stop())
	require.Equal(t, before, f.Clock.Slept, "it waits for nothing")
	_, err = d.Next(t.Context())
	require.ErrorIs(t, err, ErrIdle)
	f.Clock.Advance(time.Second)
	f.elapse()
	require.False(t, f.busy)
	from := f.Clock.Now()
	s, err := d.ConvertAt(t.Context(), AIN1, FS2048, SPS860)
	require.NoError(t, err)
	require.InDelta(t, 0.5, s.Volts.SI, 1e-4, "AIN1 is code 5 of the multiplexer")
	require.Less(t, f.Clock.Now()-from, 2*SPS860.Longest(), "nothing was left to wait for")
}

// What converts right behind a Stop waits for what still runs, at every rate.
func TestConvertBehindAStopIsItsOwn(t *testing.T) {
	for rate := SPS8; rate <= SPS860; rate++ {
		d, f := open(t)
		f.volts, f.slow = byMux, 1/0.9
		require.NoError(t, d.Start(t.Context(), AIN0, FS2048, rate))
		_, err := d.Next(t.Context())
		require.NoError(t, err)
		require.NoError(t, d.Stop())
		s, err := d.ConvertAt(t.Context(), AIN1, FS2048, SPS860)
		require.NoError(t, err)
		require.InDelta(t, 0.5, s.Volts.SI, 1e-4, "AIN1 is code 5 of the multiplexer")
	}
}

func TestNextNoticesAChipThatWasReset(t *testing.T) {
	for name, signal := range signals() {
		t.Run(name, func(t *testing.T) {
			d, f := open(t)
			f.volts = signal
			require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS128))
			for range 3 {
				_, err := d.Next(t.Context())
				require.NoError(t, err)
			}
			f.reset()
			_, err := d.Next(t.Context())
			require.ErrorIs(t, err, chip.ErrLost)
		})
	}
}

func TestNextWithASilentReadyPin(t *testing.T) {
	f := newFake()
	p := &pin{chip: f}
	o := DefaultOpts()
	o.Ready = p
	d := openOn(t, f, o)
	require.Equal(t, []uint16{0x8000, 0x7FFF}, []uint16{f.hi, f.lo}, "thresholds of the ready function")
	require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
	f.reset()
	_, err := d.Next(t.Context())
	require.ErrorIs(t, err, chip.ErrNotReady)
	require.ErrorContains(t, err, "next of AIN0, ±2.048 V, 860 SPS")
}

// A pin that never runs dry must not hold the driver for ever.
type chatter struct{ pin }

func (c *chatter) WaitForEdge(time.Duration) bool { return true }

func TestNextWithAReadyPinThatChatters(t *testing.T) {
	f := newFake()
	c := &chatter{pin{chip: f}}
	o := DefaultOpts()
	o.Ready = c
	d := openOn(t, f, o)
	require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
	_, err := d.Next(t.Context())
	require.NoError(t, err)
}

func TestNextReadsAgainWhenAConversionLandsDuringTheReading(t *testing.T) {
	f := newFake()
	f.volts = signals()["ramp"]
	o := DefaultOpts()
	o.Ready = &pin{chip: f}
	d := openOn(t, f, o)
	require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
	landed := 0
	f.beforeResult = func() {
		if landed++; landed == 1 {
			f.Clock.Advance(SPS860.Period())
		}
	}
	first, err := d.Next(t.Context())
	require.NoError(t, err)
	second, err := d.Next(t.Context())
	require.NoError(t, err)
	require.NotEqual(t, first.Code, second.Code)
}

func TestNextGivesUpWithItsContext(t *testing.T) {
	d, f := open(t)
	f.volts = byMux
	require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS8))
	f.Clock.Slept, f.Clock.Limit = 0, 1
	_, err := d.Next(t.Context())
	require.ErrorIs(t, err, context.Canceled)
	_, err = d.Next(t.Context())
	require.NoError(t, err, "the stream goes on")
}

// silent is a bus that costs nothing: it answers the configuration as written
// and a code that changes.
type silent struct {
	chiptest.Wire
	config [2]byte
	n      byte
}

func (s *silent) Tx(_ uint16, w, r []byte) error {
	switch {
	case len(w) == 3 && w[0] == regConfig:
		s.config = [2]byte{w[1], w[2]}
	case len(r) == 2 && w[0] == regConfig:
		r[0], r[1] = s.config[0]|0x80, s.config[1]
	case len(r) == 2:
		s.n++
		r[0], r[1] = 1, s.n
	}
	return nil
}

func hot(t testing.TB) *Dev {
	d, err := New(t.Context(), &silent{}, &chiptest.Clock{}, DefaultOpts())
	require.NoError(t, err)
	return d
}

func TestHotPathsAllocateNothing(t *testing.T) {
	d, ctx := hot(t), t.Context()
	require.Zero(t, testing.AllocsPerRun(100, func() {
		if _, err := d.Convert(ctx, AIN0, FS2048); err != nil {
			t.Fatal(err)
		}
	}))
	require.NoError(t, d.Start(ctx, AIN0, FS2048, SPS860))
	require.Zero(t, testing.AllocsPerRun(100, func() {
		if _, err := d.Next(ctx); err != nil {
			t.Fatal(err)
		}
	}))
}

func BenchmarkConvert(b *testing.B) {
	d, ctx := hot(b), b.Context()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := d.Convert(ctx, AIN0, FS2048); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNext(b *testing.B) {
	d, ctx := hot(b), b.Context()
	require.NoError(b, d.Start(ctx, AIN0, FS2048, SPS860))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := d.Next(ctx); err != nil {
			b.Fatal(err)
		}
	}
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

// FuzzRegisters lets a chip answer anything. What the driver accepts must be
// what the registers say: the last word read, and only after a ready bit.
func FuzzRegisters(f *testing.F) {
	f.Add([]byte{0x45, 0x83, 0xC5, 0x83, 0x1A, 0x15}, uint8(0), uint8(2))
	f.Add([]byte{0xC5, 0x83, 0x80, 0x00}, uint8(0), uint8(2))
	f.Add([]byte{0x85, 0x83, 0x00, 0x00}, uint8(4), uint8(2))
	f.Fuzz(func(t *testing.T, text []byte, in, rng uint8) {
		d := hot(t)
		d.clock = &chiptest.Clock{}
		bus := &babble{text: text}
		d.regs = chip.NewWords(bus, at)
		s, err := d.Convert(t.Context(), Input(in), Range(rng))
		if err != nil {
			return
		}
		used := len(text) - len(bus.text)
		tail := append(text[:used:used], 0, 0)[max(0, used-2):]
		require.Equal(t, Range(rng).Volts(s.Code), s.Volts)
		require.Equal(t, s.Code == 32767 || s.Code == -32768, s.Saturated)
		if used >= 2 && used%2 == 0 && len(bus.text) > 0 {
			require.Equal(t, int16(uint16(tail[0])<<8|uint16(tail[1])), s.Code)
		}
	})
}
