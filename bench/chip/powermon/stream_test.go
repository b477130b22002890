package powermon

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
	"sinkproof/bench/quantity"
)

func TestNextNeverDeliversAConversionTwice(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := newFake()
		o := DefaultOpts()
		o.Average = Average(rapid.IntRange(0, 3).Draw(rt, "average"))
		d := openOn(t, f, o)
		f.slow = rapid.Float64Range(1/1.1, 1.098).Draw(rt, "time over typical")
		f.shuntVolts = func(n int) float64 { return float64(n%30) * 1e-3 }
		require.NoError(rt, d.Start())
		last := f.done
		for range 6 {
			f.Clock.Advance(time.Duration(rapid.Int64Range(0, int64(3*d.bothWait().Nominal)).Draw(rt, "caller's delay")))
			if rapid.Bool().Draw(rt, "look at the alert") {
				require.NoError(rt, d.ClearAlert())
			}
			f.Clock.Advance(time.Duration(rapid.Int64Range(0, int64(2*d.bothWait().Nominal)).Draw(rt, "another")))
			r, err := d.Next(t.Context())
			require.NoError(rt, err)
			require.Greater(rt, f.delivered, last)
			require.LessOrEqual(rt, r.From, f.doneStart)
			require.GreaterOrEqual(rt, r.At, f.doneEnd)
			require.Equal(rt, int16(f.delivered%30*400), r.ShuntCode)
			last = f.delivered
		}
	})
}

// With the shortest times a conversion takes less than the reading of its
// results; Next must then still come to an end.
func TestNextEndsWhenConversionsOutrunTheBus(t *testing.T) {
	f := newFake()
	o := DefaultOpts()
	o.Average, o.BusTime, o.ShuntTime = Average1, Time140us, Time140us
	d := openOn(t, f, o)
	f.shuntVolts = steady(0.01)
	require.NoError(t, d.Start())
	for range 5 {
		before := f.delivered
		r, err := d.Next(t.Context())
		require.NoError(t, err)
		require.InDelta(t, 0.1, r.Current.SI, 1e-9)
		require.Greater(t, f.delivered, before)
	}
}

func TestNextKeepsUpWithTheChip(t *testing.T) {
	f := newFake()
	o := DefaultOpts()
	o.Average = Average1
	d := openOn(t, f, o)
	f.slow = 1 / 1.1
	require.NoError(t, d.Start())
	for range 50 {
		before := f.delivered
		_, err := d.Next(t.Context())
		require.NoError(t, err)
		if before > 0 {
			require.Equal(t, before+1, f.delivered, "a conversion was skipped")
		}
	}
}

// slowBus takes more time for a transfer than the wire does, as an adapter on USB.
type slowBus struct {
	*fake
	each time.Duration
}

func (s slowBus) Tx(addr uint16, w, r []byte) error {
	s.Clock.Advance(s.each)
	return s.fake.Tx(addr, w, r)
}

// However long a transfer takes, and whenever Next is called, both registers are
// those of one conversion, and current and power are what the chip makes of them.
func TestNextDeliversOneConversionWhole(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := newFake()
		each := time.Duration(rapid.Int64Range(0, int64(4*time.Millisecond)).Draw(rt, "more per transfer"))
		d, err := New(slowBus{f, each}, f.Clock, DefaultOpts())
		require.NoError(rt, err)
		f.slow = rapid.Float64Range(1/1.1, 1.098).Draw(rt, "time over typical")
		// Codes 0 to 30000 and 0 to 3000: 75 mV and 3.75 V at most.
		f.shuntVolts = func(n int) float64 { return float64(n%301) * 100 * 2.5e-6 }
		f.busVolts = func(n int) float64 { return float64(n%301) * 10 * 1.25e-3 }
		require.NoError(rt, d.Start())
		for range 30 {
			r, err := d.Next(t.Context())
			require.NoError(rt, err)
			require.InDelta(rt, float64(r.ShuntCode)/10, r.Bus.SI/1.25e-3, 1e-6, "of one conversion")
			n := float64(r.ShuntCode)
			require.InDelta(rt, n*25e-6, r.Current.SI, 25e-6, "2.5 µV on 0.1 Ω")
			require.InDelta(rt, math.Floor(n*n/10/20000)*25*25e-6, r.Power.SI, 25*25e-6*1.001, "one step, as the current has been rounded")
			f.Clock.Advance(time.Duration(rapid.Int64Range(0, int64(2*d.bothWait().Nominal)).Draw(rt, "caller's delay")))
		}
	})
}

func TestShuntIsFastEnoughForInrush(t *testing.T) {
	d, f := open(t)
	f.shuntVolts = func(n int) float64 { return float64(n) * 1e-3 }
	before, n := f.Clock.Now(), 20
	for i := range n {
		f.done = i
		r, err := d.Shunt(t.Context(), Time140us)
		require.NoError(t, err)
		require.Equal(t, int16((i+1)*400), r.Code)
		require.LessOrEqual(t, r.From, f.doneStart)
	}
	each := (f.Clock.Now() - before) / time.Duration(n)
	require.Less(t, each, 600*time.Microsecond, "at 400 kHz a sample takes its conversion and four transfers")
}

func TestNextDoesNotBelieveAChipThatWasReset(t *testing.T) {
	d, f := open(t)
	require.NoError(t, d.Start())
	_, err := d.Next(t.Context())
	require.NoError(t, err)
	f.reset()
	_, err = d.Next(t.Context())
	require.ErrorIs(t, err, chip.ErrLost, "even at no current")
}

// resetAt resets the chip before one transfer.
type resetAt struct {
	*fake
	n int
}

func (r *resetAt) Tx(addr uint16, w, b []byte) error {
	if r.n--; r.n == 0 {
		r.reset()
	}
	return r.fake.Tx(addr, w, b)
}

// A reset at any transfer is found before another result is delivered, and what was
// delivered before was right: whether a limit is armed or not, whatever flows.
func TestAResetIsFoundAtEveryTransfer(t *testing.T) {
	for _, next := range []func(*Dev) (int16, error){
		func(d *Dev) (int16, error) { r, err := d.Next(t.Context()); return r.ShuntCode, err },
		func(d *Dev) (int16, error) { r, err := d.NextShunt(t.Context()); return r.Code, err },
	} {
		for _, armed := range []bool{false, true} {
			for _, volts := range []float64{0, 0.01} {
				for n := 1; n < 10; n++ {
					d, f := open(t)
					f.shuntVolts, f.busVolts = steady(volts), steady(5)
					if armed {
						_, err := d.ArmOverCurrent(quantity.Amperes(0.5), true)
						require.NoError(t, err)
					}
					require.NoError(t, d.Start())
					d.regs = chip.NewWords(&resetAt{f, n}, at)
					var err error
					for i := 0; err == nil; i++ {
						require.Less(t, i, 10, "never found")
						var code int16
						if code, err = next(d); err == nil {
							require.Equal(t, int16(math.Round(volts/2.5e-6)), code)
						}
					}
					require.ErrorIs(t, err, chip.ErrLost)
				}
			}
		}
	}
}

// A look at the flag and the register: nothing more where a limit is armed.
func TestNextShuntCostsTwoTransfers(t *testing.T) {
	d, f := open(t)
	f.shuntVolts = steady(0.01)
	_, err := d.ArmOverCurrent(quantity.Amperes(0.5), true)
	require.NoError(t, err)
	require.NoError(t, d.Start())
	for range 5 {
		f.Clock.Advance(d.bothWait().Nominal * 105 / 100)
		before := f.Carried
		r, err := d.NextShunt(t.Context())
		require.NoError(t, err)
		require.InDelta(t, 0.1, r.Current.SI, 1e-9)
		require.LessOrEqual(t, f.Carried-before, 2)
		require.LessOrEqual(t, r.From, f.doneStart)
		require.GreaterOrEqual(t, r.At, f.doneEnd)
	}
	require.False(t, d.Tripped())
	f.shuntVolts = steady(0.06)
	for range 2 {
		_, err = d.NextShunt(t.Context())
		require.NoError(t, err)
	}
	require.True(t, d.Tripped(), "0.6 A")
	require.NoError(t, d.Halt())
	_, err = d.NextShunt(t.Context())
	require.ErrorIs(t, err, ErrIdle)
}

// silent is a bus that costs nothing: always ready, one current.
type silent struct {
	chiptest.Wire
	ready bool
}

func (s *silent) Tx(_ uint16, w, r []byte) error {
	if len(r) != 2 {
		return nil
	}
	r[0], r[1] = 0, 0
	switch w[0] {
	case regMask: // ready at every other look
		s.ready = !s.ready
		if s.ready {
			r[1] = bitReady
		}
	case regShunt, regCurrent:
		r[0] = 0x10
	case regCalibration:
		r[0] = 0x08
	}
	return nil
}

func hot(t testing.TB) *Dev {
	d, _ := open(t)
	d.regs = chip.NewWords(&silent{}, at)
	return d
}

func TestHotPathsAllocateNothing(t *testing.T) {
	d, ctx := hot(t), t.Context()
	require.Zero(t, testing.AllocsPerRun(100, func() {
		_, measure := d.Measure(ctx)
		_, shunt := d.Shunt(ctx, Time140us)
		if measure != nil || shunt != nil {
			t.Fatal(measure, shunt)
		}
	}))
	require.NoError(t, d.Start())
	require.Zero(t, testing.AllocsPerRun(100, func() {
		if _, err := d.Next(ctx); err != nil {
			t.Fatal(err)
		}
	}))
}

func BenchmarkMeasure(b *testing.B) {
	d, ctx := hot(b), b.Context()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := d.Measure(ctx); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkShunt(b *testing.B) {
	d, ctx := hot(b), b.Context()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := d.Shunt(ctx, Time140us); err != nil {
			b.Fatal(err)
		}
	}
}
