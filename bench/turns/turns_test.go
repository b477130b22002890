package turns_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/turns"
)

// jumping is a virtual clock.
type jumping struct{ now time.Duration }

func (j *jumping) Now() time.Duration { return j.now }

func (j *jumping) Sleep(ctx context.Context, d time.Duration) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	j.now += max(d, 0)
	return nil
}

const ms = time.Millisecond

func TestTheEarliestRunsNextAndTiesGoByNumber(t *testing.T) {
	clock := &jumping{}
	table := turns.New(clock, 3)
	var log []string
	work := func(i int, naps ...time.Duration) func(context.Context) error {
		return func(ctx context.Context) error {
			for _, nap := range naps {
				log = append(log, fmt.Sprintf("%d at %s", i, clock.now))
				if err := table.Seat(i).Sleep(ctx, nap); err != nil {
					return err
				}
			}
			log = append(log, fmt.Sprintf("%d ends at %s", i, clock.now))
			return nil
		}
	}
	require.NoError(t, table.Run(t.Context(), work(0, 5*ms, 5*ms), work(1, 3*ms, 2*ms, ms), work(2, 10*ms)))
	require.Equal(t, []string{
		"0 at 0s", "1 at 0s", "2 at 0s", "1 at 3ms", "0 at 5ms", "1 at 5ms", "1 ends at 6ms", "0 ends at 10ms", "2 ends at 10ms",
	}, log)
}

// Nobody sleeps shorter than asked, only one works at a time, nobody is passed
// over whose instant came before, and the order is the same every time.
func TestTurnsKeepTheirPromises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "nests")
		plans := make([][]time.Duration, n)
		for i := range plans {
			plans[i] = rapid.SliceOfN(rapid.Map(rapid.IntRange(-1, 7), func(k int) time.Duration { return time.Duration(k) * ms }), 0, 12).Draw(t, "naps")
		}
		once := func() string {
			clock := &jumping{}
			table := turns.New(clock, n)
			var log strings.Builder
			working, last := false, time.Duration(0)
			works := make([]func(context.Context) error, n)
			for i := range works {
				works[i] = func(ctx context.Context) error {
					for k, nap := range plans[i] {
						require.False(t, working)
						working = true
						require.GreaterOrEqual(t, clock.now, last, "time went back")
						last = clock.now
						// A transfer: time passes and nobody else has a turn.
						clock.now += time.Duration(k%3) * 300 * time.Microsecond
						fmt.Fprintf(&log, "%d %s\n", i, clock.now)
						asleep := clock.now
						working = false
						if err := table.Seat(i).Sleep(ctx, nap); err != nil {
							return err
						}
						require.GreaterOrEqual(t, clock.now, asleep+nap)
					}
					return nil
				}
			}
			require.NoError(t, table.Run(context.Background(), works...))
			return log.String()
		}
		require.Equal(t, once(), once())
	})
}

func TestOneNestThatFailsLeavesTheOthersAlone(t *testing.T) {
	clock := &jumping{}
	table := turns.New(clock, 2)
	broken := errors.New("the bus is gone")
	done := false
	err := table.Run(t.Context(),
		func(context.Context) error { return broken },
		func(ctx context.Context) error {
			for range 5 {
				if err := table.Seat(1).Sleep(ctx, ms); err != nil {
					return err
				}
			}
			done = true
			return nil
		})
	require.ErrorIs(t, err, broken)
	require.True(t, done)
	require.Equal(t, 5*ms, clock.now)
}

// Every nest sees the end of the context at its next sleep, and may still sleep
// on the way to its safe state.
func TestTheEndOfTheContextReachesEveryNest(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	clock := &jumping{}
	table := turns.New(clock, 3)
	safe := 0
	work := func(i int) func(context.Context) error {
		return func(ctx context.Context) error {
			for {
				if clock.now >= 20*ms {
					cancel()
				}
				if err := table.Seat(i).Sleep(ctx, ms); err != nil {
					before := clock.now
					require.NoError(t, table.Seat(i).Sleep(context.WithoutCancel(ctx), 10*ms))
					require.GreaterOrEqual(t, clock.now, before+10*ms)
					safe++
					return err
				}
			}
		}
	}
	require.ErrorIs(t, table.Run(ctx, work(0), work(1), work(2)), context.Canceled)
	require.Equal(t, 3, safe)
	require.LessOrEqual(t, clock.now, 40*ms)
}

func TestAPanicLeavesTheOthersTimeForTheSafeState(t *testing.T) {
	clock := &jumping{}
	table := turns.New(clock, 2)
	var ended error
	work := func(ctx context.Context) error {
		for {
			if err := table.Seat(1).Sleep(ctx, ms); err != nil {
				ended = err
				return table.Seat(1).Sleep(ctx, 10*ms)
			}
		}
	}
	require.PanicsWithValue(t, "broken", func() {
		_ = table.Run(t.Context(), func(ctx context.Context) error {
			_ = table.Seat(0).Sleep(ctx, 5*ms)
			panic("broken")
		}, work)
	})
	require.ErrorIs(t, ended, turns.ErrOver)
	require.Equal(t, 15*ms, clock.now)
}

func TestSeatsNeedWork(t *testing.T) {
	err := turns.New(&jumping{}, 2).Run(t.Context(), func(context.Context) error { return nil })
	require.ErrorContains(t, err, "1 works on 2 nests")
}

// Outside of Run a seat is the clock itself.
func TestASeatWithoutARunIsTheClock(t *testing.T) {
	clock := &jumping{}
	seat := turns.New(clock, 1).Seat(0)
	require.NoError(t, seat.Sleep(t.Context(), ms))
	require.Equal(t, ms, seat.Now())
}

func BenchmarkTurn(b *testing.B) {
	clock := &jumping{}
	table := turns.New(clock, 4)
	works := make([]func(context.Context) error, 4)
	for i := range works {
		works[i] = func(ctx context.Context) error {
			for range b.N / 4 {
				if err := table.Seat(i).Sleep(ctx, ms); err != nil {
					return err
				}
			}
			return nil
		}
	}
	b.ReportAllocs()
	b.ResetTimer()
	require.NoError(b, table.Run(b.Context(), works...))
}

// BenchmarkSleepAlone is the baseline: one nest on the clock itself.
func BenchmarkSleepAlone(b *testing.B) {
	seat := turns.New(&jumping{}, 1).Seat(0)
	for b.Loop() {
		if err := seat.Sleep(b.Context(), ms); err != nil {
			b.Fatal(err)
		}
	}
}
