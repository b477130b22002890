package takt_test

import (
	"context"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/takt"
)

// shippedRig loads the rig once: its safety proof takes longer than a run.
var shippedRig = sync.OnceValues(func() (*fixtures.Fixture, error) { return fixtures.Shipped("bench-one") })

func benchOne(tb testing.TB) *wiring.Rig {
	tb.Helper()
	f, err := shippedRig()
	require.NoError(tb, err)
	return f.Rig
}

func loadShipped(tb testing.TB, productName, scenarioName string) (*product.Product, *scenarios.Scenario) {
	tb.Helper()
	prod, _, err := product.Shipped(productName)
	require.NoError(tb, err)
	file, err := scenarios.Shipped(scenarioName)
	require.NoError(tb, err)
	sc, found := scenarios.Load(file, benchOne(tb), prod)
	require.NoError(tb, found.Err())
	return prod, sc
}

// station is a twin with a watch on it and somebody who moves the unit.
type station struct {
	tb       testing.TB
	twin     *twin.Twin
	rig      *bench.Rig
	watch    *takt.Watch
	scenario *scenarios.Scenario
	faults   []twin.Fault
}

func newStation(tb testing.TB, prod *product.Product, sc *scenarios.Scenario, seed uint64) *station {
	tb.Helper()
	s := &station{tb: tb, scenario: sc}
	var err error
	s.twin, err = twin.New(twin.Config{Wiring: benchOne(tb), Product: prod, Seed: seed})
	require.NoError(tb, err)
	s.watch = takt.NewWatch(benchOne(tb), nil)
	s.rig, err = bench.Open(tb.Context(), benchOne(tb), s.watch.Hardware(s.twin.Hardware()), bench.Options{
		Current: prod.Ceiling.Current, Temperature: prod.Ceiling.Temperature, Observer: s.watch,
	})
	require.NoError(tb, err)
	tb.Cleanup(func() { require.NoError(tb, s.rig.Close()) })
	return s
}

func (s *station) Seat(_ context.Context, serial string) error {
	return s.twin.Seat(serial, s.faults...)
}

func (s *station) Unseat(context.Context, string, string) error {
	s.twin.Unseat()
	return nil
}

func (s *station) Reseat(ctx context.Context, serial, _ string) error {
	s.twin.Unseat()
	return s.Seat(ctx, serial)
}

func (s *station) run(serial string, faults ...twin.Fault) (record.Run, *takt.Timeline) {
	s.tb.Helper()
	s.twin.Unseat()
	s.faults = faults
	s.watch.Begin()
	run, err := scenarios.Run(s.tb.Context(), scenarios.Job{
		Opening: record.Opening{
			ID: "01890a5d-ac96-774b-bcce-b302099a8057", Serial: serial, Product: s.scenario.Product, Attempt: 1,
			Bench:    record.Bench{Name: "bench-one", Kind: record.Twin, Program: "test"},
			Started:  "2026-05-04T07:30:00Z",
			Files:    []record.File{{Role: record.RoleScenario, Name: s.scenario.Name, Version: s.scenario.Version, SHA256: strings.Repeat("0", 64)}},
			Decision: s.scenario.Decision,
		},
		Scenario: s.scenario, Bench: s.watch.Bench(s.rig), Handler: s, At: s.watch.At,
		Given: map[string]quantity.Quantity{"open-circuit": quantity.Volts(3.75)},
	})
	require.NoError(s.tb, err)
	s.twin.Unseat()
	return run, s.watch.End()
}
