package bench_test

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
)

func TestWaitEndsWhenItIsTrueAndHasHeld(t *testing.T) {
	r, b := charging(t, bench.Options{})
	ctx := context.Background()
	entered := r.Entered()
	got, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(4.75),
		Hold: 100 * time.Millisecond, Within: 475 * time.Millisecond, Keep: true})
	require.NoError(t, err)
	require.True(t, got.Met)
	require.Less(t, b.now-entered, 120*time.Millisecond, "a good unit does not pay the wait")
	// The board's contact follows 3 ms after its coil, VBUS 2.4 µs later.
	require.InDelta(t, 3e-3, got.Since.SI, got.Since.U().SI)
	require.Equal(t, quantity.Time, got.Since.Dim)
	require.Less(t, got.Since.U().SI, 6e-3)
	near(t, got.Reading, b.v, 0.02)
	require.Equal(t, "vbus", got.Wave.Channel)
	require.InDelta(t, 1/250.0, got.Wave.Interval.Seconds(), 1e-5, "the slowest rate that converts 75 times in 475 ms")
	require.Greater(t, len(got.Wave.Samples), 24)
	last := got.Wave.Samples[len(got.Wave.Samples)-1]
	require.InDelta(t, b.v, last.Value, 0.02)
}

func TestWaitThatIsNotMet(t *testing.T) {
	r, b := charging(t, bench.Options{})
	entered := r.Entered()
	got, err := r.Wait(context.Background(), bench.Until{Channel: "vbus", Relation: bench.AtMost, Level: volts(-1),
		Within: 300 * time.Millisecond})
	require.NoError(t, err)
	require.False(t, got.Met)
	require.Equal(t, quantity.AtLeast, got.Since.Bound)
	require.InDelta(t, 0.3, got.Since.SI, 0.01)
	require.InDelta(t, 0.3, (b.now - entered).Seconds(), 0.01)
	near(t, got.Reading, b.v, 0.02)
	require.Empty(t, got.Wave.Samples)
}

func TestWaitRestartsAHoldThatBreaks(t *testing.T) {
	r, b := charging(t, bench.Options{})
	dip := b.now + 60*time.Millisecond
	b.onTransfer = func(int) {
		if b.now > dip && b.now < dip+5*time.Millisecond {
			b.unit.load = 0.2
		} else {
			b.unit.load = 100e3
		}
	}
	got, err := r.Wait(context.Background(), bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(4.75),
		Hold: 100 * time.Millisecond, Within: 475 * time.Millisecond})
	require.NoError(t, err)
	require.True(t, got.Met)
	require.InDelta(t, (dip + 5*time.Millisecond).Seconds(), got.At.Seconds(), 4e-3)
}

func TestWaitFromAMark(t *testing.T) {
	ctx := context.Background()
	b := newBoard(t)
	b.unit = unit{farads: 100e-6, load: 100e3}
	r := NewRig(t, b, bench.Options{})
	require.NoError(t, r.Enter(ctx, to("probe-vbus")))
	require.NoError(t, r.Enter(ctx, to("probe-vbus", "current", "5 mA")))
	// 5 mA into 100 µF: 50 V/s, so from 0.8 V to 2.0 V it takes 24 ms.
	got, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(2), Within: 200 * time.Millisecond,
		Origin: bench.FromLastMark, Mark: bench.Comparison{Relation: bench.AtMost, Level: volts(0.8)}, Expect: volts(3)})
	require.NoError(t, err)
	require.True(t, got.Met)
	require.InDelta(t, 1.2/50, got.Since.SI, got.Since.U().SI)
	require.NoError(t, r.Enter(ctx, to("isolated")))

	require.NoError(t, r.Enter(ctx, to("probe-vbus")))
	require.NoError(t, r.Enter(ctx, to("probe-vbus", "current", "5 mA")))
	got, err = r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(2), Within: 200 * time.Millisecond,
		Origin: bench.FromMark, Mark: bench.Comparison{Relation: bench.AtMost, Level: volts(0.8)}})
	require.NoError(t, err)
	require.InDelta(t, (got.At - r.Entered()).Seconds(), got.Since.SI, 3e-3, "VBUS was below the mark from the beginning")

	got, err = r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(2), Hold: 10 * time.Millisecond,
		Within: 200 * time.Millisecond, Origin: bench.FromMark, Mark: bench.Comparison{Relation: bench.AtMost, Level: volts(0.8)}})
	require.NoError(t, err)
	require.False(t, got.Met, "VBUS is up already and was never seen below the mark")
}

func TestWaitForASteadyCurrent(t *testing.T) {
	r, b := charging(t, bench.Options{})
	b.unit.draws = 0.05
	ramp := b.now
	b.onTransfer = func(int) {
		b.unit.draws = math.Min(0.05+(b.now-ramp).Seconds(), 0.4) // soft start
	}
	got, err := r.Wait(context.Background(), bench.Until{Channel: "ibus", Relation: bench.Steady, Band: 0.02, Within: 2 * time.Second})
	require.NoError(t, err)
	require.True(t, got.Met)
	near(t, got.Reading, 0.4+b.v/100e3, 0.01)
	require.Greater(t, got.At-ramp, 320*time.Millisecond, "not before the ramp is almost over")
	require.Less(t, b.now-ramp, 550*time.Millisecond, "five mains periods after it")

	b.onTransfer, b.unit.draws, b.unit.load = nil, 0, 0
	got, err = r.Wait(context.Background(), bench.Until{Channel: "ibus", Relation: bench.Steady, Band: 0.02, Within: 2 * time.Second})
	require.NoError(t, err)
	require.True(t, got.Met, "no current at all is steady, too")
}

// TestASteadyHoldThatBeginsInTimeMayEndLater: the time allowed is that until the
// hold begins, however few samples a slow bus takes in it.
func TestASteadyHoldThatBeginsInTimeMayEndLater(t *testing.T) {
	for _, drag := range []time.Duration{0, 6 * time.Millisecond} {
		r, b := charging(t, bench.Options{})
		b.drag = drag
		ramp, rises := r.Entered(), 1.0
		b.onTransfer = func(int) { b.unit.draws = math.Min(0.05+rises*(b.now-ramp).Seconds(), 0.3) }
		u := bench.Until{Channel: "ibus", Relation: bench.Steady, Band: 0.02, Within: 310 * time.Millisecond}
		got, err := r.Wait(context.Background(), u)
		require.NoError(t, err)
		require.True(t, got.Met, "the ramp ends after 250 ms")
		require.Greater(t, b.now-ramp, 350*time.Millisecond)
		near(t, got.Reading, 0.3+b.v/100e3, 0.01)

		ramp, rises = b.now, 0.1
		b.unit.draws = 0.05
		u.Within += b.now - r.Entered()
		got, err = r.Wait(context.Background(), u)
		require.NoError(t, err)
		require.False(t, got.Met)
		require.Less(t, b.now-ramp, 490*time.Millisecond+40*drag, "no hold can begin in time any more")
		b.drag = 0
	}
}

// TestASteadyCurrentKnowsWhatItMayStillMove: a current that comes near its end
// exponentially is called steady before it is there, on a slow bus from other
// samples than on a fast one. Its reading agrees with the end all the same.
func TestASteadyCurrentKnowsWhatItMayStillMove(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		tau := rapid.Float64Range(1, 60).Draw(rt, "τ in ms") * 1e-3
		short := rapid.Float64Range(-0.5, 0.5).Draw(rt, "short of the end")
		drag := time.Duration(rapid.IntRange(0, 3_000).Draw(rt, "drag")) * time.Microsecond
		b := newBoard(t)
		b.unit = unit{farads: 4.7e-6, load: 100e3, draws: 0.4}
		r, err := bench.Open(context.Background(), b.rig, b.hardware(), bench.Options{})
		require.NoError(rt, err)
		r.Pass("probe-vbus")
		b.drag = drag
		require.NoError(rt, r.Enter(context.Background(), to("legacy-a")))
		entered := b.now
		b.onTransfer = func(int) { b.unit.draws = 0.4 * (1 - short*math.Exp(-(b.now-entered).Seconds()/tau)) }
		got, err := r.Wait(context.Background(), bench.Until{Channel: "ibus", Relation: bench.Steady, Band: 0.02, Within: 2 * time.Second})
		require.NoError(rt, err)
		require.True(rt, got.Met)
		require.GreaterOrEqual(rt, b.now-got.At, 100*time.Millisecond, "five mains periods")
		require.InDelta(rt, 0.4+b.v/100e3, got.Reading.Value.SI, got.Reading.Value.U().SI)
		require.Less(rt, got.Reading.Value.U().SI, 0.4*0.05)
		b.drag = 0
		require.NoError(rt, r.Close())
	})
}

func TestWaitRefusesWhatCannotBeMeant(t *testing.T) {
	r := NewRig(t, newBoard(t), bench.Options{})
	good := bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(1), Within: time.Millisecond}
	for name, spoil := range map[string]func(u *bench.Until){
		"no channel":    func(u *bench.Until) { u.Channel = "moon" },
		"no relation":   func(u *bench.Until) { u.Relation = "beside" },
		"no time":       func(u *bench.Until) { u.Within = 0 },
		"other unit":    func(u *bench.Until) { u.Level = amps(1) },
		"no band":       func(u *bench.Until) { u.Relation = bench.Steady },
		"no mark":       func(u *bench.Until) { u.Origin = bench.FromMark },
		"a termination": func(u *bench.Until) { u.Channel, u.Level = "rd1", quantity.Ohms(1) },
		"too fast":      func(u *bench.Until) { u.Interval = time.Microsecond },
	} {
		u := good
		spoil(&u)
		_, err := r.Wait(context.Background(), u)
		var f *bench.Fault
		require.ErrorAs(t, err, &f, name)
		require.NotEmpty(t, f.Hint, name)
	}
	require.NoError(t, r.Err())
}

func TestWaitIsCancelledInTheMiddle(t *testing.T) {
	r, b := charging(t, bench.Options{})
	ctx, stop := context.WithCancel(context.Background())
	at := b.transfers + 30
	b.onTransfer = func(n int) {
		if n == at {
			stop()
		}
	}
	_, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(9), Within: time.Second})
	require.ErrorIs(t, err, context.Canceled)
	require.NoError(t, r.Err(), "a cancelled wait is no fault")
}

// TestWaitFindsAnyInstantWithinItsUncertainty lets the load vanish at an
// arbitrary time after the coil write, on buses of any speed.
func TestWaitFindsAnyInstantWithinItsUncertainty(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		delay := time.Duration(rapid.IntRange(5_000, 200_000).Draw(rt, "delay")) * time.Microsecond
		drag := time.Duration(rapid.IntRange(0, 4_000).Draw(rt, "drag")) * time.Microsecond
		b := newBoard(t)
		b.unit = unit{farads: 1e-7, load: 1}
		r, err := bench.Open(context.Background(), b.rig, b.hardware(), bench.Options{})
		require.NoError(rt, err)
		r.Pass("probe-vbus")
		b.drag = drag
		require.NoError(rt, r.Enter(context.Background(), to("legacy-a")))
		b.releaseAt = b.moves[len(b.moves)-1].at + delay
		got, err := r.Wait(context.Background(), bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(4.75),
			Within: time.Second, Interval: 1200 * time.Microsecond})
		require.NoError(rt, err)
		require.True(rt, got.Met)
		half := got.Since.Std() * math.Sqrt(3)
		require.InDelta(rt, delay.Seconds(), got.Since.SI, half)
		require.Less(rt, half, 3e-3+3*drag.Seconds())
		b.drag = 0
		require.NoError(rt, r.Close())
	})
}

func TestCapture(t *testing.T) {
	r, b := charging(t, bench.Options{})
	ctx := context.Background()
	w, err := r.Capture(ctx, bench.Capture{Channel: "cc2", For: 200 * time.Millisecond})
	require.NoError(t, err)
	require.Equal(t, quantity.Voltage, w.Dim)
	require.InDelta(t, 0.2, (w.Samples[len(w.Samples)-1].At - w.Samples[0].At).Seconds(), 5e-3)
	for i := 1; i < len(w.Samples); i++ {
		require.Greater(t, w.Samples[i].At, w.Samples[i-1].At)
	}
	slow, err := r.Capture(ctx, bench.Capture{Channel: "vbus", For: 100 * time.Millisecond, Interval: 10 * time.Millisecond})
	require.NoError(t, err)
	require.Equal(t, time.Second/128, slow.Interval, "the slowest rate that keeps the interval")

	b.unit.draws = 0.3
	fast, err := r.Capture(ctx, bench.Capture{Channel: "ibus", For: 20 * time.Millisecond, Interval: 2 * time.Millisecond})
	require.NoError(t, err)
	require.Greater(t, len(fast.Samples), 10)
	require.InDelta(t, 0.3, fast.Samples[5].Value, 0.001)

	warm, err := r.Capture(ctx, bench.Capture{Channel: "temperature", For: time.Second})
	require.NoError(t, err)
	require.Len(t, warm.Samples, 5)

	_, err = r.Capture(ctx, bench.Capture{Channel: "vbus"})
	require.Error(t, err)
	_, err = r.Capture(ctx, bench.Capture{Channel: "ibus", For: time.Second, Interval: time.Microsecond})
	require.Error(t, err)
}
