package bench_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
)

// chargeReadings are what is read of a unit that charges, on three chips.
func chargeReadings() []bench.Ask {
	return []bench.Ask{
		{Channel: "ibus", Band: 0.02, Within: 2 * time.Second},
		{Channel: "vbus"}, {Channel: "vforce"}, {Channel: "cc1"}, {Channel: "light"},
	}
}

// TestReadTogetherTakesTheTimeOfTheLongest: five mains periods of current cover
// two periods of one converter and one of another.
func TestReadTogetherTakesTheTimeOfTheLongest(t *testing.T) {
	ctx := context.Background()
	r, b := charging(t, bench.Options{})
	require.NoError(t, r.Pause(ctx, 20*time.Millisecond))
	start := b.now
	got, err := r.ReadTogether(ctx, chargeReadings())
	require.NoError(t, err)
	took := b.now - start
	require.Less(t, took, 125*time.Millisecond, "six results of 18.8 ms, the last one found late by a conversion of another chip")
	for i, a := range chargeReadings() {
		require.Equal(t, a.Channel, got[i].Reading.Channel, "in the order of the asks")
		require.True(t, got[i].Met)
		require.Greater(t, got[i].Reading.At, start)
		require.Less(t, got[i].Reading.At, b.now)
	}
	near(t, got[0].Reading, 0.4+b.v/100e3, 0.01)
	near(t, got[1].Reading, b.v, 0.02)
	for _, last := range []int{3, 4} { // the last one of each converter
		require.Greater(t, got[last].Reading.At, b.now-50*time.Millisecond, "it ends with the five periods, not with the first of them")
	}

	// One by one they give the same, within their uncertainty, and take longer.
	start = b.now
	for i, a := range chargeReadings()[1:] {
		one, err := r.Read(ctx, a.Channel, bench.ReadOptions{})
		require.NoError(t, err)
		u := math.Hypot(one.Value.U().SI, got[i+1].Reading.Value.U().SI)
		require.InDelta(t, one.Value.SI, got[i+1].Reading.Value.SI, u, a.Channel)
		require.InEpsilon(t, one.Value.U().SI, got[i+1].Reading.Value.U().SI, 0.1, "%s is read no coarser", a.Channel)
	}
	require.Greater(t, b.now-start, 60*time.Millisecond)
}

// TestReadTogetherTakesAgainWhatCameBeforeTheSteadyTime: while the current still
// rises VBUS is not yet what belongs to it.
func TestReadTogetherTakesAgainWhatCameBeforeTheSteadyTime(t *testing.T) {
	r, b := charging(t, bench.Options{})
	b.unit.draws = 0.05
	ramp := b.now
	b.onTransfer = func(int) { b.unit.draws = math.Min(0.05+(b.now-ramp).Seconds(), 0.4) }
	got, err := r.ReadTogether(context.Background(), chargeReadings()[:2])
	require.NoError(t, err)
	near(t, got[0].Reading, 0.4+b.v/100e3, 0.01)
	require.Greater(t, got[1].Reading.At-ramp, 320*time.Millisecond, "VBUS was read when the ramp was over")
	require.InDelta(t, b.v, got[1].Reading.Value.SI, 2e-3)
}

func TestReadTogetherSaysWhatWasNotSteady(t *testing.T) {
	r, b := charging(t, bench.Options{})
	begin := b.now
	b.onTransfer = func(int) { b.unit.draws = 0.2 + 0.1*math.Sin((b.now-begin).Seconds()*10) }
	asks := chargeReadings()[:2]
	asks[0].Within = 400 * time.Millisecond
	got, err := r.ReadTogether(context.Background(), asks)
	require.NoError(t, err)
	require.False(t, got[0].Met)
	require.True(t, got[1].Met)
	require.Greater(t, got[1].Reading.At, b.now-120*time.Millisecond, "VBUS belongs to the mean that is told")
}

// TestReadTogetherTakesAloneWhatCannotShare: a termination and a temperature.
func TestReadTogetherTakesAloneWhatCannotShare(t *testing.T) {
	ctx := context.Background()
	b := newBoard(t)
	b.unit = unit{farads: 4.7e-6, rd1: 5100}
	r := NewRig(t, b, bench.Options{})
	r.Pass("probe-vbus")
	require.NoError(t, r.Enter(ctx, to("probe-cc1")))
	got, err := r.ReadTogether(ctx, []bench.Ask{{Channel: "rd1"}, {Channel: "cc2"}, {Channel: "temperature"}})
	require.NoError(t, err)
	near(t, got[0].Reading, 5100, 100)
	require.InDelta(t, 0, got[1].Reading.Value.SI, 0.01)
	near(t, got[2].Reading, 273.15+25, 1.5)
}

// TestReadTogetherWidensARangeThatIsTooNarrow as Read does.
func TestReadTogetherWidensARangeThatIsTooNarrow(t *testing.T) {
	ctx := context.Background()
	r, b := charging(t, bench.Options{})
	require.NoError(t, r.Pause(ctx, 20*time.Millisecond))
	got, err := r.ReadTogether(ctx, []bench.Ask{{Channel: "vbus", ReadOptions: bench.ReadOptions{Expect: volts(0.3)}}, {Channel: "vforce"}})
	require.NoError(t, err)
	near(t, got[0].Reading, b.v, 0.02)
	require.False(t, got[0].Reading.Saturated)
}

func TestReadTogetherEndsWithTheFirstTrouble(t *testing.T) {
	ctx := context.Background()
	r, b := charging(t, bench.Options{Current: amps(0.5)})
	_, err := r.ReadTogether(ctx, []bench.Ask{{Channel: "vbus"}, {Channel: "moon"}})
	require.ErrorContains(t, err, "moon")
	_, err = r.ReadTogether(ctx, []bench.Ask{{Channel: "vbus", Band: 0.1}})
	require.ErrorContains(t, err, "must be possible times", "no time to be steady within")

	b.unit.draws = 0.6
	_, err = r.ReadTogether(ctx, chargeReadings())
	var trip *bench.Interlock
	require.ErrorAs(t, err, &trip)
	require.Equal(t, bench.OverCurrent, trip.Kind)

	r, b = charging(t, bench.Options{})
	b.nakAt = b.transfers + 40
	_, err = r.ReadTogether(ctx, chargeReadings())
	var f *bench.Fault
	require.ErrorAs(t, err, &f)

	r, _ = charging(t, bench.Options{})
	ended, stop := context.WithCancel(ctx)
	stop()
	_, err = r.ReadTogether(ended, chargeReadings())
	require.True(t, errors.Is(err, context.Canceled))
}
