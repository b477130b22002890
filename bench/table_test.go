package bench_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
)

var shippedFour = sync.OnceValues(func() (*fixtures.Fixture, error) { return fixtures.Shipped("bench-four") })

// seatedNests is the rig with four nests, a good unit in each, and what came of
// them.
type seatedNests struct {
	twin  *twin.Rig
	table *bench.Table
	errs  [4]error
	done  [4]int // rounds of work that each nest finished
	edges []time.Duration
}

// newNests builds it and proves after the test that no contact of any nest is left
// closed.
func newNests(t *testing.T) *seatedNests {
	t.Helper()
	f, err := shippedFour()
	require.NoError(t, err)
	p, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	s := &seatedNests{}
	s.twin, err = twin.NewRig(twin.Config{Wiring: f.Rig, Product: p, Seed: 5})
	require.NoError(t, err)
	hw := s.twin.Hardware()
	hw.Lines["heartbeat"] = &edges{hw.Lines["heartbeat"], hw.Clock, &s.edges}
	s.table = bench.NewTable(hw, len(s.twin.Nests))
	for i, n := range s.twin.Nests {
		require.NoError(t, n.Seat(fmt.Sprintf("T-%d", i+1)))
	}
	t.Cleanup(func() {
		require.NoError(t, hw.Clock.Sleep(context.Background(), 50*time.Millisecond))
		for i := range s.twin.Nests {
			require.Empty(t, s.closed(t, i), "contacts of nest %d left closed", i+1)
			require.NoError(t, s.twin.Nests[i].Truth().Err())
		}
	})
	return s
}

// edges notes when a line changes.
type edges struct {
	gpio.PinIO
	clock bench.Clock
	at    *[]time.Duration
}

func (e *edges) Out(l gpio.Level) error {
	*e.at = append(*e.at, e.clock.Now())
	return e.PinIO.Out(l)
}

// closed lists the relays of a nest that are away from rest.
func (s *seatedNests) closed(t *testing.T, nest int) (out []string) {
	t.Helper()
	n := s.twin.Nests[nest]
	for _, k := range n.Wiring().Relays {
		for c := range k.Contacts {
			no, nc, err := n.Truth().Made(k.Name, c)
			require.NoError(t, err)
			if no || k.Contacts[c].Form == wiring.FormC && !nc {
				out = append(out, k.Name)
			}
		}
	}
	return out
}

// rounds is how often each nest charges its unit.
const rounds = 3

// work opens a nest, charges its unit again and again and closes it. before is
// called ahead of each round.
func (s *seatedNests) work(nest int, before func(round int)) func(context.Context) error {
	return func(ctx context.Context) (err error) {
		r, err := bench.Open(ctx, s.twin.Nests[nest].Wiring(), s.table.Hardware(nest), bench.Options{})
		if err != nil {
			s.errs[nest] = err
			return nil
		}
		defer func() { _ = r.Close() }()
		for round := range rounds {
			before(round)
			if s.errs[nest] = charge(ctx, r); s.errs[nest] != nil {
				return nil
			}
			s.done[nest]++
		}
		return nil
	}
}

// charge brings a unit to charging and back.
func charge(ctx context.Context, r *bench.Rig) error {
	if err := r.Begin(ctx); err != nil {
		return err
	}
	if _, err := r.Probe(ctx); err != nil {
		return err
	}
	r.Pass(bench.ProbeVbus)
	if err := r.Enter(ctx, wiring.Setting{Condition: "legacy-a"}); err != nil {
		return err
	}
	up, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: quantity.Volts(4.75),
		Hold: 100 * time.Millisecond, Within: time.Second})
	if err == nil && !up.Met {
		err = fmt.Errorf("VBUS did not come up")
	}
	if err != nil {
		return err
	}
	return r.Enter(ctx, wiring.Setting{Condition: bench.Isolated})
}

// run lets all nests work; at is called by nest 1 ahead of its second round, when
// the others are in the middle of theirs.
func (s *seatedNests) run(t *testing.T, at func()) {
	t.Helper()
	works := make([]func(context.Context) error, len(s.twin.Nests))
	for i := range works {
		works[i] = s.work(i, func(round int) {
			if i == 0 && round == 1 && at != nil {
				at()
			}
		})
	}
	require.NoError(t, s.table.Run(t.Context(), works...))
}

func TestNestsWorkSideBySideOnOneHeartbeat(t *testing.T) {
	s := newNests(t)
	s.run(t, nil)
	require.Equal(t, [4]error{}, s.errs)
	require.Equal(t, [4]int{rounds, rounds, rounds, rounds}, s.done)
	// The first edge sets the line to rest; the beat begins with the second.
	for i := 2; i < len(s.edges); i++ {
		gap := s.edges[i] - s.edges[i-1]
		require.GreaterOrEqual(t, gap, 10*time.Millisecond, "one heartbeat and not four")
		require.LessOrEqual(t, gap, 30*time.Millisecond)
	}
	require.NoError(t, s.twin.Nests[0].Truth().Pass(40*time.Millisecond))
	require.False(t, s.twin.Nests[0].Truth().CoilSupply(), "it ended with the last nest")
}

func TestTheStopIsolatesEveryNest(t *testing.T) {
	s := newNests(t)
	s.run(t, func() { require.NoError(t, s.twin.Break(twin.RigFault{Kind: twin.StopPressed})) })
	for i, err := range s.errs {
		var lock *bench.Interlock
		require.ErrorAs(t, err, &lock, "nest %d", i+1)
		require.Equal(t, bench.StopPressed, lock.Kind)
		require.NoError(t, lock.Safe, "nest %d", i+1)
	}
}

func TestALidIsolatesItsOwnNest(t *testing.T) {
	s := newNests(t)
	s.run(t, func() { require.NoError(t, s.twin.Break(twin.RigFault{Kind: twin.LidOpened, Part: "nest-2"})) })
	var lock *bench.Interlock
	require.ErrorAs(t, s.errs[1], &lock)
	require.Equal(t, bench.LidOpen, lock.Kind)
	require.Equal(t, "lid2", lock.Thing)
	require.Less(t, s.done[1], rounds)
	for _, i := range []int{0, 2, 3} {
		require.NoError(t, s.errs[i], "nest %d", i+1)
		require.Equal(t, rounds, s.done[i])
	}
}

// A nest's own chips and its branch of the coil supply are its own trouble.
func TestTroubleOfOneNestLeavesTheOthersAlone(t *testing.T) {
	for name, c := range map[string]struct {
		fault twin.RigFault
		thing string
	}{
		"a dead converter":           {twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-3/adc1"}, "adc1"},
		"a dead monitor":             {twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-3/meter1"}, "meter1"},
		"a fuse of the coil branch":  {twin.RigFault{Kind: twin.LineStuck, Part: "coil_ok3"}, "coil_ok3"},
		"a line that reads its lid":  {twin.RigFault{Kind: twin.LineStuck, Part: "lid3"}, "lid3"},
		"an alert that is stuck low": {twin.RigFault{Kind: twin.LineStuck, Part: "over_voltage3"}, "meter2"},
	} {
		t.Run(name, func(t *testing.T) {
			s := newNests(t)
			s.run(t, func() { require.NoError(t, s.twin.Break(c.fault)) })
			require.ErrorContains(t, s.errs[2], c.thing)
			for _, i := range []int{0, 1, 3} {
				require.NoError(t, s.errs[i], "nest %d", i+1)
				require.Equal(t, rounds, s.done[i])
			}
		})
	}
}

// Coils that cannot be proven off are taken off by the end of the heartbeat, which
// all nests live on. They go on when they are opened again; the nest with the dead
// expander stays out, and its branch of the coil supply off.
func TestADeadExpanderEndsTheHeartbeat(t *testing.T) {
	s := newNests(t)
	s.run(t, func() { require.NoError(t, s.twin.Break(twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-3/out1"})) })
	require.ErrorContains(t, s.errs[2], "out1")
	for _, i := range []int{0, 1, 3} {
		var f *bench.Fault
		require.ErrorAs(t, s.errs[i], &f, "nest %d", i+1)
		require.Equal(t, "nest-3", f.Thing)
		require.NotEmpty(t, f.Hint)
	}
	s.done = [4]int{}
	s.run(t, nil)
	require.ErrorContains(t, s.errs[2], "out1")
	for _, i := range []int{0, 1, 3} {
		require.NoError(t, s.errs[i], "nest %d", i+1)
		require.Equal(t, rounds, s.done[i])
	}
	require.False(t, s.twin.Nests[2].Truth().CoilSupply())
}

// An expander that dies while its nest is closed may have coils on, and its branch
// may have power as long as the others beat: the opening that finds out ends the
// heartbeat.
func TestAnExpanderThatDiedMeanwhileEndsTheHeartbeat(t *testing.T) {
	s := newNests(t)
	works := make([]func(context.Context) error, 4)
	for i := range works {
		works[i] = s.work(i, func(int) {})
	}
	first := works[2]
	var second error
	works[2] = func(ctx context.Context) error {
		if err := first(ctx); err != nil {
			return err
		}
		require.NoError(t, s.twin.Break(twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-3/out1"}))
		require.True(t, s.twin.Nests[2].Truth().CoilSupply(), "the others keep it on")
		_, second = bench.Open(ctx, s.twin.Nests[2].Wiring(), s.table.Hardware(2), bench.Options{})
		return nil
	}
	works[0] = func(ctx context.Context) error {
		for range 3 {
			if err := s.work(0, func(int) {})(ctx); err != nil || s.errs[0] != nil {
				return err
			}
		}
		return nil
	}
	require.NoError(t, s.table.Run(t.Context(), works...))
	require.ErrorContains(t, second, "out1")
	var f *bench.Fault
	require.ErrorAs(t, s.errs[0], &f)
	require.Equal(t, "nest-3", f.Thing)
}

// A transfer that hangs holds the one loop up: every nest loses its coils.
func TestAHungBusIsAFaultOfAllNests(t *testing.T) {
	s := newNests(t)
	s.run(t, func() {
		require.NoError(t, s.twin.Break(twin.RigFault{Kind: twin.BusHang, Part: "i2c-2", Index: 3, For: 400 * time.Millisecond}))
	})
	for i, err := range s.errs {
		require.ErrorIs(t, err, bench.ErrLate, "nest %d", i+1)
	}
}

// The self-test of the heartbeat would take the coils of the others.
func TestTheHeartIsNotStoppedUnderOtherNests(t *testing.T) {
	s := newNests(t)
	alone := func(i int) *bench.Rig {
		r, err := bench.Open(t.Context(), s.twin.Nests[i].Wiring(), s.table.Hardware(i), bench.Options{})
		require.NoError(t, err)
		return r
	}
	one, two := alone(0), alone(1)
	_, err := one.StopHeart(t.Context(), "vbus")
	require.ErrorIs(t, err, bench.ErrShared)
	require.NoError(t, two.Close())
	stop, err := one.StopHeart(t.Context(), "vbus")
	require.NoError(t, err)
	require.True(t, stop.Dropped)
	require.NoError(t, one.Close())
}

// Four nests of one rig read the reference that each has, taking turns.
func ExampleTable() {
	f, err := fixtures.Shipped("bench-four")
	if err != nil {
		fmt.Println(err)
		return
	}
	lamp, _, err := product.Shipped("hand-lamp")
	if err != nil {
		fmt.Println(err)
		return
	}
	rig, err := twin.NewRig(twin.Config{Wiring: f.Rig, Product: lamp, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	views := f.Rig.ByNest()
	table := bench.NewTable(rig.Hardware(), len(views))
	works := make([]func(context.Context) error, len(views))
	for i, view := range views {
		works[i] = func(ctx context.Context) error {
			nest, err := bench.Open(ctx, view, table.Hardware(i), bench.Options{})
			if err != nil {
				return err
			}
			reference, err := nest.Read(ctx, "vref", bench.ReadOptions{})
			fmt.Printf("%s: %s\n", view.Nest.Name, reference.Value.Quantity.Text(2))
			return errors.Join(err, nest.Close())
		}
	}
	fmt.Println(table.Run(context.Background(), works...))
	// Output:
	// nest-1: 2.5 V
	// nest-2: 2.5 V
	// nest-3: 2.5 V
	// nest-4: 2.5 V
	// <nil>
}

// Two nests on one bus: the chips of the second answer at addresses of their own.
func TestNestsOnOneBus(t *testing.T) {
	f, err := shippedFour()
	require.NoError(t, err)
	rig := *f.Rig
	rig.Nests = slices.Clone(f.Rig.Nests[:2])
	second := &rig.Nests[1]
	second.Chips = slices.Clone(second.Chips)
	for i := range second.Chips {
		c := &second.Chips[i]
		switch c.Kind { // the converters take all four of their addresses
		case wiring.Expander:
			c.Bus, c.Address = "i2c-1", c.Address+3
		case wiring.PowerMon:
			c.Bus, c.Address = "i2c-1", c.Address+2
		case wiring.Thermometer:
			c.Bus, c.Address = "i2c-1", c.Address+1
		}
	}
	require.Empty(t, rig.Validate())
	p, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	s := &seatedNests{}
	s.twin, err = twin.NewRig(twin.Config{Wiring: &rig, Product: p, Seed: 5})
	require.NoError(t, err)
	hw := s.twin.Hardware()
	require.Len(t, hw.Buses, 2)
	s.table = bench.NewTable(hw, 2)
	for i, n := range s.twin.Nests {
		require.NoError(t, n.Seat(fmt.Sprintf("T-%d", i+1)))
	}
	s.run(t, nil)
	require.Equal(t, [4]error{}, s.errs)
	require.Equal(t, [4]int{rounds, rounds, 0, 0}, s.done)
	for i := range s.twin.Nests {
		require.Empty(t, s.closed(t, i))
	}

	s.done = [4]int{}
	s.run(t, func() { require.NoError(t, s.twin.Break(twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-2/meter2"})) })
	require.NoError(t, s.errs[0])
	require.ErrorContains(t, s.errs[1], "meter2")
}

// A program that is killed leaves the coil registers of all nests as they are. The
// hardware drops every branch and holds it; a new start finds all nests safe.
func TestKilledNestsLoseTheirCoils(t *testing.T) {
	s := newNests(t)
	works := make([]func(context.Context) error, 4)
	for i := range works {
		works[i] = func(ctx context.Context) error {
			r, err := bench.Open(ctx, s.twin.Nests[i].Wiring(), s.table.Hardware(i), bench.Options{})
			if err != nil {
				return err
			}
			if _, err := r.Probe(ctx); err != nil {
				return err
			}
			r.Pass(bench.ProbeVbus)
			return r.Enter(ctx, wiring.Setting{Condition: "legacy-a"})
		}
	}
	require.NoError(t, s.table.Run(t.Context(), works...))
	hw := s.twin.Hardware()
	for i := range s.twin.Nests {
		require.NotEmpty(t, s.closed(t, i), "nest %d is in front of a supply", i+1)
	}
	require.NoError(t, hw.Clock.Sleep(t.Context(), 50*time.Millisecond))
	for i := range s.twin.Nests {
		require.Empty(t, s.closed(t, i), "nest %d", i+1)
	}
	s.table = bench.NewTable(s.twin.Hardware(), 4)
	s.run(t, nil)
	require.Equal(t, [4]error{}, s.errs)
}
