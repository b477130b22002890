package scenarios_test

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/proving"
)

// station is a twin, a rig opened on it, and somebody who moves the unit.
type station struct {
	tb       testing.TB
	rig      *wiring.Rig
	product  *product.Product
	twin     *twin.Twin
	bench    *bench.Rig
	relays   *scenarios.RelayLog
	scenario *scenarios.Scenario
	faults   []twin.Fault
	moved    []string
	// on is called after each move of the unit, nil for nothing.
	on func(move string)
	// prover, when set, proves the bench before a unit is failed.
	prover scenarios.Prover
	// keeper, when set, has the check receptacle; noReceptacle is why nobody has.
	keeper       scenarios.Keeper
	noReceptacle string
	proof        *proving.Proof
	// events are those of the last run.
	events []record.Event
}

// newStation opens the shipped rig with a product and a shipped scenario. Its
// cleanup proves that everything is off.
func newStation(tb testing.TB, productName, scenarioName string) *station {
	tb.Helper()
	prod, _, err := product.Shipped(productName)
	require.NoError(tb, err)
	file, err := scenarios.Shipped(scenarioName)
	require.NoError(tb, err)
	return openStation(tb, benchOne(tb), prod, prod, file)
}

// openStation lets the units be of another product than the one that the
// scenario is loaded for.
func openStation(tb testing.TB, rig *wiring.Rig, prod, units *product.Product, file *source.File) *station {
	tb.Helper()
	sc, found := scenarios.Load(file, rig, prod)
	require.NoError(tb, found.Err())
	tw, err := twin.New(twin.Config{Wiring: rig, Product: units, Seed: 1})
	require.NoError(tb, err)
	s := &station{tb: tb, rig: rig, product: prod, twin: tw, relays: &scenarios.RelayLog{}, scenario: sc}
	s.open()
	tb.Cleanup(func() { require.NoError(tb, s.bench.Close()) })
	return s
}

func (s *station) open() {
	s.tb.Helper()
	var err error
	s.bench, err = bench.Open(s.tb.Context(), s.rig, s.twin.Hardware(), bench.Options{
		Current: s.product.Ceiling.Current, Temperature: s.product.Ceiling.Temperature, Observer: s.relays,
	})
	require.NoError(s.tb, err)
}

// prove opens the rig anew and has it proved before the next unit is failed.
func (s *station) prove() {
	s.tb.Helper()
	require.NoError(s.tb, s.bench.Close())
	s.open()
	if s.proof == nil {
		s.proof = proving.NewProof(s.rig)
	}
	s.keeper = s
	s.prover = proving.Prover{Proof: s.proof, Rig: s.bench, Hardware: s.twin.Hardware(), Observer: s.relays}
}

// Seat implements scenarios.Handler.
func (s *station) Seat(_ context.Context, serial string) error {
	if err := s.twin.Seat(serial, s.faults...); err != nil {
		return err
	}
	s.note("seat")
	return nil
}

// Unseat implements scenarios.Handler.
func (s *station) Unseat(context.Context, string, string) error {
	s.twin.Unseat()
	s.note("unseat")
	return nil
}

// Reseat implements scenarios.Handler.
func (s *station) Reseat(_ context.Context, serial, _ string) error {
	s.twin.Unseat()
	if err := s.twin.Seat(serial, s.faults...); err != nil {
		return err
	}
	s.note("reseat")
	return nil
}

// SeatReceptacle implements scenarios.Keeper.
func (s *station) SeatReceptacle(context.Context, string) error {
	if err := s.twin.SeatCheck(); err != nil {
		return err
	}
	s.note("receptacle")
	return nil
}

// TakeReceptacle implements scenarios.Keeper.
func (s *station) TakeReceptacle(context.Context) error {
	s.twin.Unseat()
	s.note("no receptacle")
	return nil
}

func (s *station) note(move string) {
	s.moved = append(s.moved, move)
	if s.on != nil {
		s.on(move)
	}
}

// opening is what is known of a run before anything moves.
func opening(sc *scenarios.Scenario, serial string) record.Opening {
	return record.Opening{
		ID: "01890a5d-ac96-774b-bcce-b302099a8057", Serial: serial, Product: sc.Product, Attempt: 1,
		Bench:   record.Bench{Name: "bench-one", Kind: record.Twin, Program: "test"},
		Started: "2026-05-04T07:30:00Z",
		Files: []record.File{{
			Role: record.RoleScenario, Name: sc.Name, Version: sc.Version, SHA256: strings.Repeat("0", 64),
		}},
		Decision: sc.Decision,
	}
}

// run tests one unit and proves that the record is valid.
func (s *station) run(serial string, faults ...twin.Fault) record.Run {
	s.tb.Helper()
	s.twin.Unseat()
	s.faults, s.moved, s.events = faults, nil, nil
	got, err := scenarios.Run(s.tb.Context(), s.job(serial))
	require.NoError(s.tb, err)
	require.NoError(s.tb, got.Validate())
	s.twin.Unseat()
	return got
}

func (s *station) job(serial string) scenarios.Job {
	return scenarios.Job{
		Opening: opening(s.scenario, serial), Scenario: s.scenario, Bench: s.bench, Handler: s, Relays: s.relays, Prover: s.prover,
		Keeper: s.keeper, NoReceptacle: s.noReceptacle,
		// What the maker of the cell wrote on it; only a fitted cell is asked for.
		Given: map[string]quantity.Quantity{"open-circuit": quantity.Volts(3.75)},
		Emit:  func(e record.Event) { s.events = append(s.events, e) },
	}
}

// failed lists the checks that failed, in order.
func failed(run record.Run) []string { return withAnswer(run, record.Failed) }

func withAnswer(run record.Run, a record.Answer) []string {
	var out []string
	for _, c := range run.Checks {
		if c.Answer == a {
			out = append(out, c.Name)
		}
	}
	return out
}

// checkNamed returns a check of a run.
func checkNamed(tb testing.TB, run record.Run, name string) record.Check {
	tb.Helper()
	for _, c := range run.Checks {
		if c.Name == name {
			return c
		}
	}
	require.Failf(tb, "no such check", "%s in %v", name, run.Checks)
	return record.Check{}
}
