package bench_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/twin"
)

// The hardware of the twin drops the coils within its gap of 30 ms and keeps
// them off; the contact that connects the pull-up shows it.
func TestStopHeartSeesTheCoilSupplyGoAndStayOff(t *testing.T) {
	ctx := context.Background()
	r := newTwin(t, 4, bench.Options{})
	require.NoError(t, r.Enter(ctx, to("self-test", "state", "10 kΩ")))
	got, err := r.StopHeart(ctx, "cc1")
	require.NoError(t, err)
	require.True(t, got.Dropped)
	require.False(t, got.Back)
	require.Greater(t, got.After, 29*time.Millisecond)
	require.Less(t, got.After, 33*time.Millisecond)
	require.InDelta(t, 3.27, got.Before.Value.SI, 0.05)
	require.InDelta(t, 0, got.Without.Value.SI, 0.01)
	require.InDelta(t, 0, got.Again.Value.SI, 0.01)
	require.Empty(t, r.made(t))
	require.ErrorIs(t, r.Enter(ctx, to("isolated")), bench.ErrStopped)
	require.ErrorIs(t, r.Begin(ctx), bench.ErrStopped, "only a new opening arms again")
}

func TestStopHeartSeesAMonostableThatHolds(t *testing.T) {
	ctx := context.Background()
	r := newTwin(t, 4, bench.Options{})
	require.NoError(t, r.twin.Break(twin.RigFault{Kind: twin.MonostableStuck, Part: "heartbeat"}))
	require.NoError(t, r.Enter(ctx, to("self-test", "state", "10 kΩ")))
	got, err := r.StopHeart(ctx, "cc1")
	require.NoError(t, err)
	require.False(t, got.Dropped)
	require.InDelta(t, 3.27, got.Without.Value.SI, 0.05, "the contact is still closed")
	r.twin.Mend()
}

func TestStopHeartStillServesTheLines(t *testing.T) {
	ctx := context.Background()
	r := newTwin(t, 4, bench.Options{})
	require.NoError(t, r.Enter(ctx, to("self-test", "state", "10 kΩ")))
	require.NoError(t, r.twin.Break(twin.RigFault{Kind: twin.StopPressed, At: r.Now() + 20*time.Millisecond}))
	_, err := r.StopHeart(ctx, "cc1")
	var lock *bench.Interlock
	require.ErrorAs(t, err, &lock)
	require.Equal(t, bench.StopPressed, lock.Kind)
	_, err = r.StopHeart(ctx, "cc1")
	require.Error(t, err, "the run is over")
	r.twin.Mend()
}
