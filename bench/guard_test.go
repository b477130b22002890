package bench_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"

	"sinkproof/bench"
)

// charging opens a rig and puts a charging unit in front of a supply.
func charging(t *testing.T, o bench.Options) (*rig, *board) {
	b := newBoard(t)
	b.unit = unit{farads: 4.7e-6, load: 100e3, draws: 0.4, rd1: 5100}
	r := NewRig(t, b, o)
	r.Pass("probe-vbus")
	require.NoError(t, r.Enter(context.Background(), to("legacy-a")))
	return r, b
}

// hang lets the next transfer take a second.
func (b *board) hang() { b.hangAt = b.transfers }

func TestHungTransferCostsTheCoilsForTheRun(t *testing.T) {
	r, b := charging(t, bench.Options{})
	start := b.now
	b.hang()
	_, err := r.Read(context.Background(), "vbus", bench.ReadOptions{})
	require.ErrorIs(t, err, bench.ErrLate)
	var f *bench.Fault
	require.ErrorAs(t, err, &f)
	require.NotEmpty(t, f.Hint)

	for name, on := range b.energised {
		require.False(t, on, "%s", name)
	}
	for _, m := range b.moves {
		if m.at > start {
			require.False(t, m.on, "%s closed at %s", m.name, m.at)
			require.Less(t, m.at-start, 50*time.Millisecond, "%s", m.name)
		}
	}
	require.Equal(t, [3]uint16{}, b.high, "every register is written off")
	require.Equal(t, 1, b.pulses, "no arm pulse inside the run")

	edges := b.beatAt
	require.Equal(t, r.Err(), r.Pause(context.Background(), time.Second))
	require.Equal(t, edges, b.beatAt, "no heartbeat after it was late")
	require.ErrorIs(t, r.Begin(context.Background()), bench.ErrLate)
}

func TestHangAnywhereInARun(t *testing.T) {
	ctx := context.Background()
	for _, n := range []int{0, 1, 2, 5, 9, 17, 33, 50, 71, 85, 100, 115} {
		b := newBoard(t)
		b.unit = unit{farads: 4.7e-6, load: 100e3, draws: 0.4, rd1: 5100}
		r := NewRig(t, b, bench.Options{})
		r.Pass("probe-vbus")
		b.hangAt = b.transfers + n
		at := time.Duration(-1)
		b.onTransfer = func(i int) {
			if i == b.hangAt {
				at = b.now
			}
		}
		err := r.Do(func() error {
			if err := r.Enter(ctx, to("legacy-a")); err != nil {
				return err
			}
			_, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(4.75),
				Hold: 100 * time.Millisecond, Within: time.Second, Interval: 1200 * time.Microsecond})
			return err
		})
		require.GreaterOrEqual(t, at, time.Duration(0), "transfer %d is part of the run", n)
		require.ErrorIs(t, err, bench.ErrLate, "transfer %d", n)
		for _, m := range b.moves {
			require.False(t, m.on && m.at > at, "transfer %d: %s closed after the hang", n, m.name)
		}
		require.Equal(t, 1, b.pulses)
	}
}

func TestInterlocksActBetweenTransfers(t *testing.T) {
	for _, c := range []struct {
		name string
		o    bench.Options
		trip func(b *board)
		kind bench.InterlockKind
	}{
		{"emergency stop", bench.Options{}, func(b *board) { b.lines["estop"].on = true }, bench.StopPressed},
		{"lid", bench.Options{}, func(b *board) { b.lines["lid"].on = true }, bench.LidOpen},
		{"over-current by the pin", bench.Options{Current: amps(0.6)}, func(b *board) { b.unit.draws = 0.7 }, bench.OverCurrent},
		{"over-voltage by the reading", bench.Options{}, func(b *board) { b.unit.holdsUp = 120 }, bench.OverVoltage},
		{"temperature", bench.Options{Temperature: celsius(45)}, func(b *board) { b.heat = 60 }, bench.OverTemperature},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, b := charging(t, c.o)
			at := b.transfers + 40
			b.onTransfer = func(n int) {
				if n == at {
					c.trip(b)
				}
			}
			_, err := r.Wait(context.Background(), bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(9), Within: 2 * time.Second})
			var lock *bench.Interlock
			require.ErrorAs(t, err, &lock)
			require.Equal(t, c.kind, lock.Kind)
			require.NotEmpty(t, lock.Hint)
			require.NotEmpty(t, lock.Error())
			require.Equal(t, [3]uint16{}, b.high)
			if c.kind == bench.OverVoltage {
				require.ErrorIs(t, lock.Safe, bench.ErrHeld, "this unit feeds VBUS by itself")
			} else {
				require.NoError(t, lock.Safe)
			}
			require.Equal(t, error(lock), r.Enter(context.Background(), to("isolated")), "the run is over")
			b.unit, b.heat, b.onTransfer = unit{}, 25, nil
		})
	}
}

func TestAlertPinsTripWithoutAnyReading(t *testing.T) {
	for _, c := range []struct {
		name, thing string
		trip        func(b *board)
		kind        bench.InterlockKind
	}{
		{"over-current", "meter1", func(b *board) { b.unit.draws = 0.7 }, bench.OverCurrent},
		{"over-voltage", "meter2", func(b *board) { b.unit.holdsUp = 120 }, bench.OverVoltage},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, b := charging(t, bench.Options{Current: amps(0.6)})
			require.NoError(t, r.Pause(context.Background(), 100*time.Millisecond))
			c.trip(b)
			at := b.now
			err := r.Pause(context.Background(), time.Second)
			var lock *bench.Interlock
			require.ErrorAs(t, err, &lock)
			require.Equal(t, c.kind, lock.Kind)
			require.Equal(t, c.thing, lock.Thing)
			var first time.Duration
			for _, m := range b.moves {
				if m.at > at && first == 0 {
					first = m.at - at
				}
			}
			require.Less(t, first, 60*time.Millisecond, "two results of the monitor and a slice")
			b.unit = unit{}
			require.Equal(t, err, r.Pause(context.Background(), 0), "the run is over")
			b.advance(b.now + 100*time.Millisecond)
		})
	}
}

func TestBeginAfterAnInterlock(t *testing.T) {
	r, b := charging(t, bench.Options{})
	ctx := context.Background()
	b.lines["lid"].on = true
	var lock *bench.Interlock
	require.ErrorAs(t, r.Pause(ctx, time.Millisecond), &lock)
	require.ErrorAs(t, r.Begin(ctx), &lock, "the lid is still open")
	b.lines["lid"].on = false
	require.NoError(t, r.Begin(ctx))
	require.False(t, r.Passed("probe-vbus"))
	require.NoError(t, r.Enter(ctx, to("isolated")))
}

func TestCoilSupplyThatIsCutByHardware(t *testing.T) {
	r, b := charging(t, bench.Options{})
	b.power = false
	b.follow()
	err := r.Pause(context.Background(), time.Millisecond)
	require.ErrorIs(t, err, bench.ErrCoilSupply)
	require.ErrorIs(t, r.Begin(context.Background()), bench.ErrCoilSupply)
}

func TestOpenRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(b *board)
		want  error
	}{
		{"a pressed stop", func(b *board) { b.lines["estop"].on = true }, nil},
		{"a missing converter", func(b *board) { b.silent[0x49] = true }, errBoard},
		{"a missing expander", func(b *board) { b.silent[0x21] = true }, errBoard},
		{"a missing line", func(b *board) { delete(b.lines, "lid") }, nil},
		{"a coil supply that does not come", func(b *board) {
			delete(b.lines, "arm")
			b.lines["arm"] = &pin{board: b, line: b.lines["heartbeat"].line}
		}, bench.ErrCoilSupply},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBoard(t)
			c.spoil(b)
			r, err := bench.Open(context.Background(), b.rig, b.hardware(), bench.Options{})
			require.Nil(t, r)
			require.Error(t, err)
			if c.want != nil {
				require.ErrorIs(t, err, c.want)
			}
			require.Equal(t, [3]uint16{}, b.high)
			b.advance(b.now + 50*time.Millisecond)
			require.False(t, b.power, "nobody feeds the heartbeat")
		})
	}
}

func TestOpenTakesOverWhatAKilledProgramLeft(t *testing.T) {
	b := newBoard(t)
	b.power, b.beatAt = true, 0
	require.NoError(t, b.Tx(0x20, []byte{0x00, 0, 0}, nil))
	require.NoError(t, b.Tx(0x20, []byte{0x14, 0x11, 0x00}, nil))
	b.follow()
	require.True(t, b.energised["k_leg1"])
	b.advance(time.Second)
	r := NewRig(t, b, bench.Options{})
	require.Equal(t, 1, b.pulses)
	for _, m := range b.moves[2:] {
		require.False(t, m.on, "%s", m.name)
	}
	require.NoError(t, r.Err())
}

func TestDoEndsIsolatedOnEveryWayOut(t *testing.T) {
	ctx := context.Background()
	sour := errors.New("sour")
	for _, c := range []struct {
		name string
		f    func(r *rig, b *board, cancel func()) error
		want error
	}{
		{"return", func(*rig, *board, func()) error { return nil }, nil},
		{"error", func(*rig, *board, func()) error { return sour }, sour},
		{"cancelled", func(r *rig, b *board, cancel func()) error {
			inner, stop := context.WithCancel(ctx)
			b.onTransfer = func(int) { stop() }
			_, err := r.Read(inner, "vbus", bench.ReadOptions{Periods: 5})
			return err
		}, context.Canceled},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, b := charging(t, bench.Options{})
			err := r.Do(func() error { return c.f(r, b, nil) })
			if c.want == nil {
				require.NoError(t, err)
			} else {
				require.ErrorIs(t, err, c.want)
			}
			require.Equal(t, [3]uint16{}, b.high)
			require.Less(t, b.v, 0.8)
			require.NoError(t, r.Err())
		})
	}
	t.Run("panic", func(t *testing.T) {
		r, b := charging(t, bench.Options{})
		require.PanicsWithValue(t, "bug", func() { _ = r.Do(func() error { panic("bug") }) })
		require.Equal(t, [3]uint16{}, b.high)
		require.Less(t, b.v, 0.8)
	})
	t.Run("panic inside a transfer", func(t *testing.T) {
		r, b := charging(t, bench.Options{})
		at := b.transfers + 7
		b.onTransfer = func(n int) {
			if n == at {
				panic("bug")
			}
		}
		require.PanicsWithValue(t, "bug", func() {
			_ = r.Do(func() error {
				_, err := r.Read(ctx, "vbus", bench.ReadOptions{})
				return err
			})
		})
		require.Equal(t, [3]uint16{}, b.high)
	})
}

func TestSafeWithChipsGone(t *testing.T) {
	t.Run("an expander", func(t *testing.T) {
		r, b := charging(t, bench.Options{})
		b.silent[0x21] = true
		err := r.Safe()
		var f *bench.Fault
		require.ErrorAs(t, err, &f)
		require.Equal(t, "out2", f.Thing)
		require.Zero(t, b.high[0])
		require.Zero(t, b.high[2])
		require.NotZero(t, b.high[1], "its register cannot be reached")
		for name, on := range b.energised {
			require.False(t, on, "%s: the heartbeat stopped and the monostable dropped it", name)
		}
		require.Less(t, b.v, 0.8)
		b.silent[0x21] = false
	})
	t.Run("the converter", func(t *testing.T) {
		r, b := charging(t, bench.Options{})
		b.silent[0x48] = true
		require.ErrorContains(t, r.Safe(), "confirm by measuring")
		require.Equal(t, [3]uint16{}, b.high)
		b.silent[0x48] = false
		require.NoError(t, r.Safe(), "twice is fine")
	})
	t.Run("after Close", func(t *testing.T) {
		r, _ := charging(t, bench.Options{})
		require.NoError(t, r.Close())
		require.NoError(t, r.Close())
		require.NoError(t, r.Safe())
		require.ErrorIs(t, r.Enter(context.Background(), to("isolated")), bench.ErrClosed)
	})
}

// TestBusCutAtEveryTransfer runs a whole job and lets the bus fail once, or for
// good, at each transfer in turn.
func TestBusCutAtEveryTransfer(t *testing.T) {
	job := func(r *rig) error {
		ctx := context.Background()
		return r.Do(func() error {
			if _, err := r.Probe(ctx); err != nil {
				return err
			}
			r.Pass(bench.ProbeVbus)
			if err := r.Enter(ctx, to("probe-cc1")); err != nil {
				return err
			}
			if _, err := r.Read(ctx, "rd1", bench.ReadOptions{}); err != nil {
				return err
			}
			if err := r.Enter(ctx, to("legacy-a")); err != nil {
				return err
			}
			if _, err := r.Read(ctx, "ibus", bench.ReadOptions{}); err != nil {
				return err
			}
			_, err := r.Read(ctx, "temperature", bench.ReadOptions{})
			return err
		})
	}
	start := func() (*rig, *board) {
		b := newBoard(t)
		b.unit = unit{farads: 1e-6, load: 100e3, draws: 0.4, rd1: 5100}
		r := &rig{board: b, watch: &watcher{}}
		var err error
		r.Rig, err = bench.Open(context.Background(), b.rig, b.hardware(), bench.Options{})
		require.NoError(t, err)
		return r, b
	}
	r, b := start()
	begun := b.transfers
	require.NoError(t, job(r))
	whole := b.transfers - begun
	require.Greater(t, whole, 100)
	for _, dies := range []bool{false, true} {
		for n := 0; n < whole; n++ {
			r, b := start()
			if dies {
				b.diesAt = b.transfers + n
			} else {
				b.nakAt = b.transfers + n
			}
			err := job(r)
			if err == nil {
				// Only the last way to the safe state tries a second time.
				require.False(t, dies, "transfer %d", n)
				require.Greater(t, n, whole-40, "transfer %d", n)
				require.Equal(t, [3]uint16{}, b.high)
				continue
			}
			require.ErrorIs(t, err, errBoard, "transfer %d", n)
			var f *bench.Fault
			require.ErrorAs(t, err, &f, "transfer %d", n)
			b.advance(b.now + 40*time.Millisecond)
			if dies {
				require.False(t, b.power, "transfer %d: the heartbeat must have stopped", n)
			}
			for name, on := range b.energised {
				require.False(t, on, "transfer %d: %s", n, name)
			}
			require.Equal(t, 1, b.pulses)
		}
	}
}

func TestHeartbeatNeverGapsWhileTheBenchWorks(t *testing.T) {
	b := newBoard(t)
	b.unit = unit{farads: 4.7e-6, load: 100e3, draws: 0.4, rd1: 5100}
	r := NewRig(t, b, bench.Options{})
	ctx := context.Background()
	_, err := r.Probe(ctx)
	require.NoError(t, err)
	require.NoError(t, r.Pause(ctx, 3*time.Second))
	require.True(t, b.power)
	require.Equal(t, gpio.Low, b.lines["arm"].out, "the arm line is at rest")
}

// TestALineThatIsGoneIsABenchFault: what was unplugged reads as Low, which for
// some lines would be good news and for others somebody's hand on the button.
func TestALineThatIsGoneIsABenchFault(t *testing.T) {
	unplugged := errors.New("no such device")
	for _, name := range []string{"estop", "lid", "alert1"} {
		t.Run(name, func(t *testing.T) {
			r, b := charging(t, bench.Options{})
			b.lines[name].gone = unplugged
			err := r.Pause(context.Background(), 20*time.Millisecond)
			require.ErrorIs(t, err, bench.ErrLine)
			require.ErrorIs(t, err, unplugged)
			var lock *bench.Interlock
			require.False(t, errors.As(err, &lock), "nobody pressed anything")
			require.Equal(t, [3]uint16{}, b.high, "every coil is off")
			b.lines[name].gone = nil
		})
	}
	t.Run("coil_ok", func(t *testing.T) {
		r, b := charging(t, bench.Options{})
		b.lines["coil_ok"].gone = unplugged
		require.ErrorIs(t, r.Pause(context.Background(), 20*time.Millisecond), bench.ErrCoilSupply)
		require.Equal(t, [3]uint16{}, b.high)
		b.lines["coil_ok"].gone = nil
	})
}

// TestAStopBetweenTwoLinesIsTheStop: pressed after its own line was read, it has
// taken the coil supply away when that line is; the supply is not to blame.
func TestAStopBetweenTwoLinesIsTheStop(t *testing.T) {
	r, b := charging(t, bench.Options{})
	b.lines["coil_ok"].onRead = func() {
		b.lines["estop"].on = true
		b.power = false
	}
	_, err := r.Read(context.Background(), "vbus", bench.ReadOptions{})
	var lock *bench.Interlock
	require.ErrorAs(t, err, &lock)
	require.Equal(t, bench.StopPressed, lock.Kind)
	require.NotErrorIs(t, err, bench.ErrCoilSupply)
	b.lines["coil_ok"].onRead, b.lines["estop"].on = nil, false
}
