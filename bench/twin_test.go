package bench_test

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
)

// twinned is a bench on the simulated rig.
type twinned struct {
	*bench.Rig
	twin  *twin.Twin
	watch *watcher
}

// newTwin opens a bench on the twin and proves after the test that no contact
// of the circuit is left closed.
func newTwin(t testing.TB, seed uint64, o bench.Options) *twinned {
	t.Helper()
	f, err := shipped()
	require.NoError(t, err)
	p, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	w, err := twin.New(twin.Config{Wiring: f.Rig, Product: p, Seed: seed})
	require.NoError(t, err)
	r := &twinned{twin: w, watch: &watcher{}}
	o.Observer = r.watch
	r.Rig, err = bench.Open(context.Background(), f.Rig, w.Hardware(), o)
	require.NoError(t, err)
	t.Cleanup(func() {
		_ = r.Close()
		require.NoError(t, w.Truth().Pass(50*time.Millisecond))
		require.Empty(t, r.made(t), "contacts left closed")
		require.NoError(t, w.Truth().Err())
	})
	return r
}

// made lists the relays that are away from rest.
func (r *twinned) made(t testing.TB) []string {
	t.Helper()
	var out []string
	for i := range r.Wiring().Relays {
		k := &r.Wiring().Relays[i]
		for c := range k.Contacts {
			no, nc, err := r.twin.Truth().Made(k.Name, c)
			require.NoError(t, err)
			if no || k.Contacts[c].Form == wiring.FormC && !nc {
				out = append(out, k.Name)
			}
		}
	}
	return slices.Compact(out)
}

// seat seats a unit with faults by name.
func (r *twinned) seat(t testing.TB, faults string) {
	t.Helper()
	list, err := twin.ParseFaults(faults)
	require.NoError(t, err)
	require.NoError(t, r.twin.Seat("T-1", list...))
}

// true is the voltage of a net in the circuit.
func (r *twinned) net(t testing.TB, name string) float64 {
	t.Helper()
	v, err := r.twin.Truth().Volts(name)
	require.NoError(t, err)
	return v
}

func TestTwinEveryConditionIsEnteredAndReadNearTheTruth(t *testing.T) {
	ctx := context.Background()
	r := newTwin(t, 3, bench.Options{})
	r.seat(t, "")
	r.Pass(bench.ProbeVbus)
	w := r.Wiring()
	n, outside := 0, 0
	for i := range w.Conditions {
		settings := w.Settings(w.Conditions[i].Name)
		for _, s := range []wiring.Setting{settings[0], settings[len(settings)-1]} {
			require.NoError(t, r.Enter(ctx, s), "%s", s)
			require.Equal(t, s.Condition, r.State().Setting.Condition)
			settle := 700 * time.Millisecond
			if s.Condition == "portable" {
				settle = 60 * time.Millisecond // it switches itself off
			}
			require.NoError(t, r.Pause(ctx, settle))
			for j := range w.Channels {
				c := &w.Channels[j]
				if c.Kind != wiring.VoltageChannel || s.Condition == bench.ProbeVbus {
					continue
				}
				got, err := r.Read(ctx, c.Name, bench.ReadOptions{})
				require.NoError(t, err)
				n++
				if truth := r.net(t, c.Net); got.Value.U().SI < abs(truth-got.Value.SI) {
					outside++
					require.Less(t, abs(truth-got.Value.SI), 2*got.Value.U().SI+0.02*abs(truth), "%s in %s: %s, truth %g", c.Name, s, got.Value, truth)
				}
			}
		}
	}
	require.Greater(t, n, 100)
	// k = 2 covers about 95 %.
	require.Less(t, float64(outside)/float64(n), 0.06, "readings outside U")
}

func abs(x float64) float64 { return max(x, -x) }

func TestTwinTerminationNearTheTruth(t *testing.T) {
	ctx := context.Background()
	for seed := range uint64(8) {
		r := newTwin(t, seed, bench.Options{})
		r.seat(t, "")
		p, err := r.Probe(ctx)
		require.NoError(t, err)
		require.True(t, p.Present)
		r.Pass(bench.ProbeVbus)
		for _, c := range []string{"1", "2"} {
			require.NoError(t, r.Enter(ctx, to("probe-cc"+c)))
			got, err := r.Read(ctx, "rd"+c, bench.ReadOptions{})
			require.NoError(t, err)
			require.Equal(t, quantity.Exact, got.Value.Bound)
			u, ok := r.twin.Truth().Unit()
			require.True(t, ok)
			truth := u.Rd[c[0]-'1']
			require.InDelta(t, truth, got.Value.SI, 1.5*got.Value.U().SI, "%s", got.Value) // k = 3
			require.Less(t, got.Value.U().SI, 25.0)
		}
	}
}

func TestTwinChargesAndCurrentIsSteady(t *testing.T) {
	ctx := context.Background()
	r := newTwin(t, 5, bench.Options{Current: amps(1), Temperature: celsius(60)})
	r.seat(t, "")
	r.Pass(bench.ProbeVbus)
	require.NoError(t, r.Enter(ctx, to("legacy-a", "cell", "3.7 V")))
	up, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(4.75),
		Hold: 100 * time.Millisecond, Within: time.Second, Keep: true})
	require.NoError(t, err)
	require.True(t, up.Met, "%s", up.Reading.Value)
	i, err := r.Wait(ctx, bench.Until{Channel: "ibus", Relation: bench.Steady, Band: 0.02, Within: 5 * time.Second})
	require.NoError(t, err)
	require.True(t, i.Met)
	u, ok := r.twin.Truth().Unit()
	require.True(t, ok)
	require.InDelta(t, u.FastCurrent, i.Reading.Value.SI, 0.01*u.FastCurrent)
}

func TestTwinProbe(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		faults string
		check  func(t *testing.T, p bench.Presence, truth float64)
	}{
		{"", func(t *testing.T, p bench.Presence, truth float64) {
			require.True(t, p.Present)
			require.Equal(t, quantity.Exact, p.Capacitance.Value.Bound)
			require.Less(t, p.Capacitance.Value.U().SI, 0.03*p.Capacitance.Value.SI)
			require.InDelta(t, truth, p.Capacitance.Value.SI, 1.5*p.Capacitance.Value.U().SI, "%s", p.Capacitance.Value) // k = 3
		}},
		{"vbus-gnd-short", func(t *testing.T, p bench.Presence, truth float64) { require.True(t, p.Shorted && p.Present) }},
		{"bulk-missing", func(t *testing.T, p bench.Presence, truth float64) {
			require.True(t, p.Present, "%s", p.Capacitance.Value)
			require.Less(t, p.Capacitance.Value.SI, 3e-6)
			require.InDelta(t, truth, p.Capacitance.Value.SI, 1.5*p.Capacitance.Value.U().SI, "%s", p.Capacitance.Value)
		}},
		{"bulk-too-large", func(t *testing.T, p bench.Presence, truth float64) {
			require.True(t, p.Present)
			require.Greater(t, p.Capacitance.Value.SI, 11e-6)
			require.InDelta(t, truth, p.Capacitance.Value.SI, 1.5*p.Capacitance.Value.U().SI, "%s", p.Capacitance.Value)
		}},
	} {
		for seed := range uint64(6) {
			t.Run(fmt.Sprintf("%s/%d", c.faults, seed), func(t *testing.T) {
				r := newTwin(t, seed, bench.Options{})
				_, err := r.Empty(ctx)
				require.NoError(t, err, "the nest before")
				require.NoError(t, r.Enter(ctx, to("isolated")))
				r.seat(t, c.faults)
				p, err := r.Probe(ctx)
				require.NoError(t, err)
				u, _ := r.twin.Truth().Unit()
				c.check(t, p, u.Capacitance)
				_, err = r.Empty(ctx)
				require.ErrorIs(t, err, bench.ErrOccupied)
				r.twin.Unseat()
				_, err = r.Empty(ctx)
				require.NoError(t, err)
			})
		}
	}
}

// A transfer that hangs for a second: the contacts, seen in the circuit, are
// open within 50 ms and stay open after it returns.
func TestTwinHangOpensTheContactsAndKeepsThemOpen(t *testing.T) {
	ctx := context.Background()
	r := newTwin(t, 1, bench.Options{})
	r.seat(t, "")
	r.Pass(bench.ProbeVbus)
	require.NoError(t, r.Enter(ctx, to("legacy-a")))
	require.NoError(t, r.Pause(ctx, 50*time.Millisecond))
	require.NotEmpty(t, r.made(t))
	require.NoError(t, r.twin.Break(twin.RigFault{Kind: twin.BusHang, Part: "i2c-main", Index: 5, For: time.Second}))
	_, err := r.Read(ctx, "vbus", bench.ReadOptions{})
	require.ErrorIs(t, err, bench.ErrLate)
	require.Empty(t, r.made(t))
	require.False(t, r.twin.Truth().CoilSupply())
	moves := map[string]int{}
	for i := range r.Wiring().Relays {
		name := r.Wiring().Relays[i].Name
		n, err := r.twin.Truth().Moves(name)
		require.NoError(t, err)
		moves[name] = n
	}
	require.NoError(t, r.twin.Truth().Pass(5*time.Second))
	require.Error(t, r.Enter(ctx, to("isolated")))
	require.NoError(t, r.twin.Truth().Pass(5*time.Second))
	for name, before := range moves {
		n, err := r.twin.Truth().Moves(name)
		require.NoError(t, err)
		require.Equal(t, before, n, "%s moved after the hang", name)
	}
	require.Less(t, r.net(t, "plug.sense"), 0.8)
}

func TestTwinEmergencyStopAndLid(t *testing.T) {
	ctx := context.Background()
	for kind, want := range map[twin.RigFaultKind]bench.InterlockKind{twin.StopPressed: bench.StopPressed, twin.LidOpened: bench.LidOpen} {
		r := newTwin(t, 1, bench.Options{})
		r.seat(t, "")
		r.Pass(bench.ProbeVbus)
		require.NoError(t, r.Enter(ctx, to("legacy-a")))
		require.NoError(t, r.twin.Break(twin.RigFault{Kind: kind, At: r.Now() + 30*time.Millisecond}))
		_, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(9), Within: time.Second})
		var lock *bench.Interlock
		require.ErrorAs(t, err, &lock)
		require.Equal(t, want, lock.Kind)
		require.NoError(t, lock.Safe)
		require.Less(t, r.net(t, "plug.sense"), 0.8)
		r.twin.Mend()
		require.ErrorIs(t, r.Begin(ctx), bench.ErrCoilSupply, "the hardware has cut the coil supply")
	}
}

func TestTwinBusThatDiesInMidRun(t *testing.T) {
	ctx := context.Background()
	r := newTwin(t, 1, bench.Options{})
	r.seat(t, "")
	err := r.Do(func() error {
		if _, err := r.Probe(ctx); err != nil {
			return err
		}
		r.Pass(bench.ProbeVbus)
		if err := r.Enter(ctx, to("c-supply")); err != nil {
			return err
		}
		require.NoError(t, r.twin.Break(twin.RigFault{Kind: twin.BusDead, Part: "i2c-main", Index: 40}))
		_, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(4.75), Hold: time.Second, Within: time.Second})
		return err
	})
	var f *bench.Fault
	require.ErrorAs(t, err, &f)
	require.NoError(t, r.twin.Truth().Pass(50*time.Millisecond))
	require.False(t, r.twin.Truth().CoilSupply(), "the heartbeat has stopped")
	require.Empty(t, r.made(t))
}
