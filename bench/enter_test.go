package bench_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
)

func TestOpenEndsIsolatedAndArmedOnce(t *testing.T) {
	b := newBoard(t)
	r := NewRig(t, b, bench.Options{})
	require.Equal(t, "isolated", r.State().Setting.Condition)
	require.Equal(t, 1, b.pulses)
	require.True(t, b.power)
	require.Empty(t, b.energised, "opening moves no coil")
}

func TestEnterRefusesWhatIsNotThereOrNotAllowed(t *testing.T) {
	r := NewRig(t, newBoard(t), bench.Options{})
	ctx := context.Background()
	var f *bench.Fault
	err := r.Enter(ctx, to("moon"))
	require.ErrorAs(t, err, &f)
	require.NotEmpty(t, f.Hint)
	err = r.Enter(ctx, to("legacy-a"))
	require.ErrorIs(t, err, bench.ErrNeeds)
	require.NoError(t, r.Err(), "a refusal does not end the run")
	r.Pass("probe-vbus")
	require.NoError(t, r.Enter(ctx, to("legacy-a")))
	require.NoError(t, r.Safe())
	require.ErrorIs(t, r.Enter(ctx, to("legacy-a")), bench.ErrNeeds, "Safe forgets what has passed")
}

func TestEnterBreaksBeforeItMakesAndFeedsLast(t *testing.T) {
	b := newBoard(t)
	b.unit = unit{farads: 4.7e-6, load: 100e3, draws: 0.4, rd1: 5100}
	r := NewRig(t, b, bench.Options{})
	ctx := context.Background()
	r.Pass("probe-vbus")
	require.NoError(t, r.Enter(ctx, to("legacy-a")))
	require.NoError(t, r.Enter(ctx, to("legacy-a", "orientation", "flipped", "data", "host")))
	var lastOff, firstOn, feedOff, feedOn int
	for i, m := range b.moves {
		switch {
		case m.name == "s_feed" && !m.on:
			feedOff = i
		case m.name == "s_feed":
			feedOn = i
		case m.name == "k_dshort" && !m.on:
			lastOff = i
		case m.name == "k_flip1" && m.on:
			firstOn = i
		}
	}
	require.Less(t, feedOff, lastOff)
	require.Less(t, lastOff, firstOn)
	require.Less(t, firstOn, feedOn)
	require.GreaterOrEqual(t, b.moves[firstOn].at-b.moves[lastOff].at, contactTime)
	require.Equal(t, b.moves[feedOn].at, b.moves[len(b.moves)-1].at, "the feed comes last")
	require.InDelta(t, float64(b.moves[feedOn].at), float64(r.Entered()), 3e5)
}

func TestEnterKeepsTheFeedWhereOnlySelectsChange(t *testing.T) {
	b := newBoard(t)
	r := NewRig(t, b, bench.Options{})
	ctx := context.Background()
	r.Pass("probe-vbus")
	require.NoError(t, r.Enter(ctx, to("c-supply")))
	n := len(b.moves)
	require.NoError(t, r.Enter(ctx, to("c-supply", "advertisement", "3.0 A")))
	require.Len(t, b.moves[n:], 1)
	require.Equal(t, "sel_c_30", b.moves[n].name)
}

func TestEnterSwitchesColdUntilVbusIsHeldUp(t *testing.T) {
	b := newBoard(t)
	b.unit = unit{farads: 4.7e-6, holdsUp: 3.5}
	r := NewRig(t, b, bench.Options{})
	ctx := context.Background()
	require.NoError(t, r.Enter(ctx, to("isolated")), "isolated may be measured whatever holds VBUS up")
	v, err := r.Read(ctx, "vbus", bench.ReadOptions{})
	require.NoError(t, err)
	require.InDelta(t, 3.5, v.Value.SI, 0.1)
	err = r.Enter(ctx, to("probe-vbus"))
	require.ErrorIs(t, err, bench.ErrHeld)
	require.Equal(t, "isolated", r.State().Setting.Condition)
	require.NoError(t, r.Err(), "the run may go on")
	require.ErrorIs(t, r.Safe(), bench.ErrHeld)
	b.unit = unit{}
}

func TestEnterFindsAnOutputThatDoesNotFollow(t *testing.T) {
	b := newBoard(t)
	r := NewRig(t, b, bench.Options{})
	ctx := context.Background()
	b.silent[0x22] = true
	r.Pass("probe-vbus")
	err := r.Enter(ctx, to("detached"))
	var f *bench.Fault
	require.ErrorAs(t, err, &f)
	require.Equal(t, "out3", f.Thing)
	require.ErrorIs(t, err, errBoard)
	require.False(t, b.power, "a register that cannot be proven off costs the heartbeat")
	require.Equal(t, r.Err(), r.Enter(ctx, to("isolated")), "the run is over")
	b.silent[0x22] = false
	require.Error(t, r.Begin(ctx), "only a new opening arms the coils")
}

func TestMovesReachTheObserver(t *testing.T) {
	b := newBoard(t)
	r := NewRig(t, b, bench.Options{})
	require.NoError(t, r.Enter(context.Background(), to("probe-vbus")))
	on := map[string]bool{}
	for _, m := range r.watch.moves {
		on[m.Name] = m.On
	}
	require.Equal(t, map[string]bool{"k_pv1": true, "k_pv2": true, "k_bleed": true}, on)
}

// TestACoilWriteIsNotedWithinItsTransfer: neither the reading back nor a slow
// bus makes it late. Where a pattern takes several writes, the last one counts.
func TestACoilWriteIsNotedWithinItsTransfer(t *testing.T) {
	b := newBoard(t)
	r := NewRig(t, b, bench.Options{})
	b.drag = 4 * time.Millisecond
	defer func() { b.drag = 0 }()
	r.Pass("probe-vbus")
	for _, s := range []wiring.Setting{to("probe-vbus"), to("probe-vbus", "current", "5 mA"), to("isolated"), to("probe-cc1")} {
		require.NoError(t, r.Enter(context.Background(), s))
		last, told := b.moves[len(b.moves)-1], r.watch.moves[len(r.watch.moves)-1]
		half := (b.drag+5*9*2500).Seconds()/2 + 1e-9 // of rounding
		require.InDelta(t, last.at.Seconds(), r.Entered().Seconds(), half, "%s", s)
		require.Equal(t, r.Entered(), told.At, "%s", s)
	}
}

func TestFaultSaysWhatAndKeepsTheCause(t *testing.T) {
	cause := errors.New("no acknowledge")
	f := &bench.Fault{What: "write and read back coils", Thing: "out1", Hint: "Check it.", Err: cause}
	require.EqualError(t, f, "out1: write and read back coils: no acknowledge")
	require.ErrorIs(t, f, cause)
}
