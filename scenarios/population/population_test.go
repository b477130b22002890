package population_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/record"
	"sinkproof/scenarios/population"
)

// bench is a simulator whose answers depend on its rig, on the unit and on
// what it ran before, as those of a real one do.
type bench struct {
	chance *rand.Rand
	closed *atomic.Int64
	before int
}

func (b *bench) Run(ctx context.Context, u population.Unit) (population.Outcome, error) {
	if ctx.Err() != nil {
		return population.Outcome{}, ctx.Err()
	}
	b.before++
	r := record.Run{Verdict: record.Pass, Reason: fmt.Sprintf("%s %d %d", u.Serial, b.before, b.chance.Uint64())}
	return population.Outcome{Run: r, Truth: map[string]float64{"before": float64(b.before)}}, nil
}

func (b *bench) Close() error {
	b.closed.Add(1)
	return nil
}

// shop makes benches and counts them.
type shop struct{ opened, closed atomic.Int64 }

func (s *shop) open(_ context.Context, r population.Rig) (population.Simulator, error) {
	s.opened.Add(1)
	return &bench{chance: rand.New(rand.NewPCG(r.Seed, 0)), closed: &s.closed}, nil
}

func reason(_ population.Unit, o population.Outcome) string { return o.Run.Reason }

func classes(n int) []population.Class {
	return []population.Class{
		population.ClassOf(3 * n), population.ClassOf(n, "no-rd"), population.ClassOf(n, "no-rd", "back-feed"),
	}
}

func collect(t require.TestingT, p population.Plan, workers int) []string {
	var s shop
	var all []string
	n, err := population.Run(context.Background(), p, population.Options{Workers: workers}, s.open, reason, func(u population.Unit, r string) {
		require.Equal(t, len(all), u.Index)
		all = append(all, r)
	})
	require.NoError(t, err)
	require.Equal(t, p.Units(), n)
	require.EqualValues(t, p.Rigs(), s.opened.Load())
	require.EqualValues(t, p.Rigs(), s.closed.Load(), "every rig is closed")
	return all
}

func TestResultsDoNotDependOnTheWorkers(t *testing.T) {
	p := population.Plan{Classes: classes(77), Seed: 5, PerRig: 7}
	one := collect(t, p, 1)
	require.Len(t, one, 385)
	for _, workers := range []int{0, 2, 7, 100} {
		require.Equal(t, one, collect(t, p, workers), "%d workers", workers)
	}
	p.Seed++
	require.NotEqual(t, one, collect(t, p, 1), "another seed, other rigs")
}

// TestEveryStretchHoldsTheClassesInTheirShares: at no point does a class lag
// or lead by more than a unit.
func TestEveryStretchHoldsTheClassesInTheirShares(t *testing.T) {
	p := population.Plan{Classes: classes(50), PerRig: 10}
	seen, at := map[string]int{}, 0
	_, err := population.Run(context.Background(), p, population.Options{}, new(shop).open, reason, func(u population.Unit, _ string) {
		at++
		seen[u.Class]++
		for _, c := range p.Classes {
			due := float64(at) * float64(c.Units) / float64(p.Units())
			require.InDelta(t, due, seen[c.Name], 1, "%s after %d units", c.Name, at)
		}
	})
	require.NoError(t, err)
	require.Equal(t, map[string]int{"good": 150, "no-rd": 50, "no-rd+back-feed": 50}, seen)
}

func TestUnits(t *testing.T) {
	p := population.Plan{Classes: classes(40), Seed: 9}
	serials, rigs := map[string]bool{}, map[uint64]int{}
	_, err := population.Run(context.Background(), p, population.Options{}, new(shop).open, reason, func(u population.Unit, _ string) {
		require.False(t, serials[u.Serial], u.Serial)
		require.NoError(t, record.ValidSerial(u.Serial))
		serials[u.Serial] = true
		rigs[u.Rig.Seed]++
		require.Equal(t, u.Index/population.DefaultPerRig, u.Rig.Number)
		if u.Class == population.Good {
			require.Empty(t, u.Faults)
		}
	})
	require.NoError(t, err)
	require.Len(t, rigs, 2, "200 units meet two rigs")
}

// TestInterruptedKeepsWhatWasDone: whoever stops it has every finished unit,
// in order, and the error of the context.
func TestInterruptedKeepsWhatWasDone(t *testing.T) {
	for _, workers := range []int{1, 3} {
		var s shop
		ctx, stop := context.WithCancel(context.Background())
		var finished atomic.Int64
		p := population.Plan{Classes: classes(200), PerRig: 10}
		o := population.Options{Workers: workers, Progress: func(done int) {
			finished.Store(max(finished.Load(), int64(done)))
			if done == 123 {
				stop()
			}
		}}
		last, taken := -1, 0
		n, err := population.Run(ctx, p, o, s.open, reason, func(u population.Unit, _ string) {
			require.Greater(t, u.Index, last)
			last = u.Index
			taken++
		})
		require.ErrorIs(t, err, context.Canceled)
		require.ErrorContains(t, err, fmt.Sprintf("after %d of 1000 units", n))
		require.Equal(t, taken, n)
		require.GreaterOrEqual(t, n, 123)
		require.Less(t, n, 150)
		require.Equal(t, s.opened.Load(), s.closed.Load(), "every rig is closed")
	}
}

func TestEndedBeforeItBegan(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	n, err := population.Run(ctx, population.Plan{Classes: classes(3)}, population.Options{}, new(shop).open, reason, func(population.Unit, string) {})
	require.ErrorIs(t, err, context.Canceled)
	require.Zero(t, n)
}

// broken fails at one unit, or when it is closed.
type broken struct {
	population.Simulator
	at    string
	close error
}

var errBroken = errors.New("the solver gave up")

func (b broken) Run(ctx context.Context, u population.Unit) (population.Outcome, error) {
	if u.Serial == b.at {
		return population.Outcome{}, errBroken
	}
	return b.Simulator.Run(ctx, u)
}

func (b broken) Close() error { return errors.Join(b.Simulator.Close(), b.close) }

func TestTheFirstErrorEndsTheRun(t *testing.T) {
	p := population.Plan{Classes: classes(20), PerRig: 10}
	for name, c := range map[string]struct {
		open population.Factory
		says string
	}{
		"a unit that cannot be simulated": {func(ctx context.Context, r population.Rig) (population.Simulator, error) {
			s, err := new(shop).open(ctx, r)
			return broken{Simulator: s, at: "no-rd-00011"}, err
		}, "unit no-rd-00011 on rig 5"},
		"a rig that cannot be made": {func(ctx context.Context, r population.Rig) (population.Simulator, error) {
			if r.Number == 3 {
				return nil, errBroken
			}
			return new(shop).open(ctx, r)
		}, "make rig 3"},
		"a rig that does not close": {func(ctx context.Context, r population.Rig) (population.Simulator, error) {
			s, err := new(shop).open(ctx, r)
			return broken{Simulator: s, close: errBroken}, err
		}, "close rig"},
	} {
		t.Run(name, func(t *testing.T) {
			n, err := population.Run(context.Background(), p, population.Options{Workers: 2}, c.open, reason, func(population.Unit, string) {})
			require.ErrorIs(t, err, errBroken)
			require.ErrorContains(t, err, c.says)
			require.Less(t, n, p.Units())
		})
	}
}

func TestPlansThatAreNone(t *testing.T) {
	for name, list := range map[string][]population.Class{
		"without a name": {{Units: 3}},
		"twice":          {population.ClassOf(1, "no-rd"), population.ClassOf(2, "no-rd")},
		"fewer than 0":   {population.ClassOf(-1)},
	} {
		_, err := population.Run(context.Background(), population.Plan{Classes: list}, population.Options{}, new(shop).open, reason, func(population.Unit, string) {})
		require.ErrorIs(t, err, population.ErrPlan, name)
	}
}

// TestShare: whatever the weights, nothing is lost, and nobody is off by a
// whole unit.
func TestShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := rapid.IntRange(0, 5000).Draw(t, "units")
		weights := rapid.SliceOfN(rapid.Float64Range(0, 9), 1, 30).Draw(t, "weights")
		var list []population.Class
		of := map[string]float64{}
		sum := 0.0
		for i, w := range weights {
			c := population.ClassOf(0, fmt.Sprint("fault-", i))
			of[c.Name] = w
			sum += w
			list = append(list, c)
		}
		got := population.Share(units, list, func(c population.Class) float64 { return of[c.Name] })
		if sum == 0 {
			require.Nil(t, got)
			return
		}
		total := 0
		for _, c := range got {
			total += c.Units
			require.InDelta(t, float64(units)*of[c.Name]/sum, c.Units, 1)
		}
		require.Equal(t, units, total)
	})
}

// TestProgress: every unit is told of once.
func TestProgress(t *testing.T) {
	var guard sync.Mutex
	told := map[int]bool{}
	p := population.Plan{Classes: classes(30)}
	_, err := population.Run(context.Background(), p, population.Options{Workers: 4, Progress: func(done int) {
		guard.Lock()
		defer guard.Unlock()
		told[done] = true
	}}, new(shop).open, reason, func(population.Unit, string) {})
	require.NoError(t, err)
	require.Len(t, told, p.Units())
	require.True(t, told[p.Units()])
}

// BenchmarkRun is what spreading and ordering cost a unit.
func BenchmarkRun(b *testing.B) {
	p := population.Plan{Classes: []population.Class{population.ClassOf(b.N)}}
	b.ReportAllocs()
	_, err := population.Run(context.Background(), p, population.Options{}, new(shop).open,
		func(_ population.Unit, o population.Outcome) int { return len(o.Run.Reason) }, func(population.Unit, int) {})
	require.NoError(b, err)
}
