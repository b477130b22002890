package proving_test

import (
	"context"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/scenarios/proving"
)

// shipped loads and proves the shipped rig once; nobody changes it.
var shipped = sync.OnceValues(func() (*fixtures.Fixture, error) { return fixtures.Shipped("bench-one") })

func benchOne(t testing.TB) *wiring.Rig {
	t.Helper()
	f, err := shipped()
	require.NoError(t, err)
	return f.Rig
}

// hands are those of the twin.
type hands struct {
	twin *twin.Twin
	// asked is what was asked for, in order; refuses makes hands do nothing.
	asked   []proving.Action
	refuses map[proving.Action]bool
}

func (h *hands) Act(ctx context.Context, a proving.Action, rest func(context.Context) error) error {
	h.asked = append(h.asked, a)
	if h.refuses[a] {
		return nil
	}
	switch a {
	case proving.EmptyNest, proving.TakeReceptacle:
		h.twin.Unseat()
	case proving.SeatReceptacle:
		return h.twin.SeatCheck()
	case proving.PressStop:
		return h.twin.Break(twin.RigFault{Kind: twin.StopPressed})
	case proving.OpenLid:
		return h.twin.Break(twin.RigFault{Kind: twin.LidOpened})
	case proving.ReleaseStop, proving.CloseLid:
		h.twin.Release()
	}
	_ = rest(ctx) // what the rig sees there it tells by itself
	return nil
}

// tested is a self-test on a twin.
type tested struct {
	proving.Report
	twin  *twin.Twin
	hands *hands
}

func selfTest(t testing.TB, seed uint64, receptacle bool, faults ...twin.RigFault) tested {
	t.Helper()
	return selfTestBy(t, &hands{}, seed, receptacle, faults...)
}

// selfTestRefusing is a self-test whose hands do not do one thing.
func selfTestRefusing(t testing.TB, a proving.Action) tested {
	t.Helper()
	return selfTestBy(t, &hands{refuses: map[proving.Action]bool{a: true}}, 1, false)
}

func selfTestBy(t testing.TB, h *hands, seed uint64, receptacle bool, faults ...twin.RigFault) tested {
	t.Helper()
	p, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	w, err := twin.New(twin.Config{Wiring: benchOne(t), Product: p, Seed: seed})
	require.NoError(t, err)
	for _, f := range faults {
		require.NoError(t, w.Break(f))
	}
	h.twin = w
	got, err := proving.Run(context.Background(), proving.Job{Wiring: benchOne(t), Hardware: w.Hardware(), Handler: h, Receptacle: receptacle})
	require.NoError(t, err)
	require.NoError(t, w.Truth().Err())
	return tested{got, w, h}
}
