package wear_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/wear"
)

func rig() *wiring.Rig {
	return &wiring.Rig{Name: "r", Relays: []wiring.Relay{{Name: "k1", Life: 1000}, {Name: "k2"}},
		Nest: wiring.Nest{Matings: 100}}
}

// chain seals documents one after the other.
type chain struct {
	t    testing.TB
	prev *record.Entry
	list []record.Entry
}

func (c *chain) add(doc record.Document) record.Entry {
	e, err := record.Seal(c.prev, doc, ed25519.NewKeyFromSeed(bytes.Repeat([]byte("k"), 32)))
	require.NoError(c.t, err)
	c.prev = &e
	c.list = append(c.list, e)
	return e
}

func opening(t testing.TB, n int, day int, scenario string) record.Opening {
	at := time.Date(2026, 5, 4+day, 7, 0, n, 0, time.UTC)
	id, err := record.NewID(at, strings.NewReader(fmt.Sprintf("%010d", n)))
	require.NoError(t, err)
	return record.Opening{ID: id, Serial: fmt.Sprint("U-", n), Product: "p", Attempt: 1, Bench: record.Bench{Name: "r", Kind: record.Hardware, Program: "1"},
		Started: record.Instant(at), Files: []record.File{{Role: record.RoleScenario, Name: scenario, SHA256: strings.Repeat(scenario, 64)}},
		Decision: record.Decision{Rule: record.Simple}}
}

// run closes k1 as often as it is told, and plugs again, the unit and the check
// receptacle in turn.
func (c *chain) run(o record.Opening, k1, reseats int) {
	c.add(o)
	r := record.Run{Schema: record.RunSchema, Opening: o, Verdict: record.None, Reason: "test", Bin: record.BinRetest}
	for i := range k1 {
		r.Relays = append(r.Relays, record.RelayMove{AtUS: int64(2 * i), Condition: "x", On: []string{"k1", "sel"}, Coils: []string{"k1", "sel"}},
			record.RelayMove{AtUS: int64(2*i + 1), Condition: "isolated", Off: []string{"k1", "sel"}})
	}
	for i := range reseats {
		r.Notes = append(r.Notes, record.Note{Kind: []string{"re-seat", "receptacle"}[i%2], Text: "again"})
	}
	c.add(r)
}

func (c *chain) counted(kind string) *wear.Count {
	n := wear.NewCount(rig(), kind)
	for _, e := range c.list {
		require.NoError(c.t, n.Add(e))
	}
	return n
}

func TestCountSumsOperationsAndMatings(t *testing.T) {
	c := &chain{t: t}
	c.run(opening(t, 1, 0, "a"), 7, 0)
	c.run(opening(t, 2, 9, "a"), 3, 2)
	n := c.counted(record.Hardware)
	require.Equal(t, 2, n.Runs)
	last := time.Date(2026, 5, 13, 7, 0, 2, 0, time.UTC)
	parts := n.Parts()
	require.Equal(t, []string{"k1", "k2", "plug"}, []string{parts[0].Name, parts[1].Name, parts[2].Name})
	require.Equal(t, 10.0, parts[0].Done)
	require.InDelta(t, 0.01, parts[0].Used(), 1e-12)
	// 10 operations in 10 days leave 990 days; the first and last started days
	// count, which makes it 10 days and not 9.
	require.Equal(t, last.AddDate(0, 0, 990), parts[0].Due)
	require.Equal(t, 10, n.Days())
	require.Zero(t, parts[1].Done)
	require.True(t, parts[1].Due.IsZero())
	require.Equal(t, 4.0, parts[2].Done, "two units, a re-seat and the check receptacle")
	require.Equal(t, last.AddDate(0, 0, 240), parts[2].Due)
	require.Empty(t, c.counted(record.Twin).Runs, "the twin wears nothing of the real rig")
}

// A power cut leaves an opening without moves: it counts as the most that a run
// of the same scenario did.
func TestPowerCutsAreCountedAtTheirWorst(t *testing.T) {
	c := &chain{t: t}
	c.run(opening(t, 1, 0, "a"), 7, 0)
	c.run(opening(t, 2, 0, "a"), 5, 1)
	c.run(opening(t, 3, 0, "b"), 40, 0)
	cut := opening(t, 4, 0, "a")
	e := c.add(cut)
	c.add(record.Interruption{ID: cut.ID, Serial: cut.Serial, Opened: e.Hash, Reason: "power"})
	still := opening(t, 5, 0, "c")
	c.add(still)
	n := c.counted(record.Hardware)
	require.Equal(t, 1, n.Interrupted)
	parts := n.Parts()
	require.Equal(t, 7.0+40, parts[0].Estimated, "7 by its scenario, 40 for a scenario that never ended")
	require.Equal(t, 7+5+40+47.0, parts[0].Done)
	require.Equal(t, 4.0, parts[2].Estimated, "two plugs each")
	require.Equal(t, parts, n.Parts(), "asking changes nothing")
}

func TestCountOfNothing(t *testing.T) {
	require.Zero(t, wear.NewCount(rig(), record.Hardware).Days())
	for _, p := range wear.NewCount(rig(), record.Hardware).Parts() {
		require.Zero(t, p.Done)
		require.True(t, p.Due.IsZero())
	}
}

func TestWornOutIsDueNow(t *testing.T) {
	c := &chain{t: t}
	c.run(opening(t, 1, 0, "a"), 1200, 0)
	p := c.counted(record.Hardware).Parts()[0]
	require.Greater(t, p.Used(), 1.0)
	require.Equal(t, time.Date(2026, 5, 4, 7, 0, 1, 0, time.UTC), p.Due)
}

// mover turns what an open rig moves into a record.
type mover struct{ moves []record.RelayMove }

func (m *mover) Moved(k bench.Move) {
	r := record.RelayMove{AtUS: k.At.Microseconds(), Condition: "x"}
	if k.On {
		r.On = []string{k.Name}
	} else {
		r.Off = []string{k.Name}
	}
	m.moves = append(m.moves, r)
}

func (m *mover) Noticed(bench.Notice) {}

// A golden unit goes through plug and relays like any other.
func TestGoldenRunsCount(t *testing.T) {
	c := &chain{t: t}
	o := opening(t, 1, 0, "a")
	c.add(record.GoldenOpening{Opening: o})
	move := record.RelayMove{Condition: "x", On: []string{"k1"}, Coils: []string{"k1"}}
	r := record.Run{Schema: record.RunSchema, Opening: o, Verdict: record.None, Reason: "test", Bin: record.BinRetest, Relays: []record.RelayMove{move}}
	c.add(record.GoldenRun{Golden: o.ID, Answer: record.NoAnswer, Deviations: []string{"test"}, Run: r})
	second := opening(t, 2, 0, "a")
	opened := c.add(record.GoldenOpening{Opening: second})
	c.add(record.GoldenInterruption{Interruption: record.Interruption{ID: second.ID, Serial: second.Serial, Opened: opened.Hash, Reason: "power"}})
	n := c.counted(record.Hardware)
	require.Equal(t, 1, n.Runs)
	require.Equal(t, 1, n.Interrupted)
	for _, p := range n.Parts() {
		if p.Name == "k1" || p.Name == "plug" {
			require.Equal(t, 2.0, p.Done, p.Name)
			require.Equal(t, 1.0, p.Estimated, p.Name)
		}
	}
}

// What is counted is what the contacts of the circuit did.
func TestCountAgreesWithTheContacts(t *testing.T) {
	ctx := context.Background()
	f, err := fixtures.Shipped("bench-one")
	require.NoError(t, err)
	p, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	w, err := twin.New(twin.Config{Wiring: f.Rig, Product: p, Seed: 1})
	require.NoError(t, err)
	m := &mover{}
	r, err := bench.Open(ctx, f.Rig, w.Hardware(), bench.Options{Observer: m, Current: quantity.Amperes(1)})
	require.NoError(t, err)
	r.Pass(bench.ProbeVbus)
	for range 3 {
		for _, name := range []string{"legacy-a", "isolated", "c-supply", "probe-cc1", "probe-cc2", "detached"} {
			require.NoError(t, r.Enter(ctx, wiring.Setting{Condition: name}))
		}
	}
	require.NoError(t, r.Close())
	c := &chain{t: t}
	o := opening(t, 1, 0, "a")
	o.Bench.Name = f.Rig.Name
	c.add(o)
	c.add(record.Run{Schema: record.RunSchema, Opening: o, Verdict: record.None, Reason: "test", Bin: record.BinRetest, Relays: m.moves})
	n := wear.NewCount(f.Rig, record.Hardware)
	for _, e := range c.list {
		require.NoError(t, n.Add(e))
	}
	moved := 0
	for i, k := range f.Rig.Relays {
		moves, err := w.Truth().Moves(k.Name)
		require.NoError(t, err)
		require.Equal(t, float64(moves), n.Parts()[i].Done, k.Name)
		moved += moves
	}
	require.Greater(t, moved, 30)
}

func ExampleCount() {
	n := wear.NewCount(&wiring.Rig{Name: "r", Nest: wiring.Nest{Matings: 10000}}, record.Hardware)
	for _, p := range n.Parts() {
		fmt.Printf("%s: %.0f of %.0f\n", p.Name, p.Done, p.Life)
	}
	// Output: plug: 0 of 10000
}
