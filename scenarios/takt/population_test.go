package takt_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/fixtures/product"
	"sinkproof/scenarios"
	"sinkproof/scenarios/population"
	"sinkproof/scenarios/takt"
)

// line makes stations for a population.
type line struct {
	tb      testing.TB
	product *product.Product
	sc      *scenarios.Scenario
}

func (l line) open(_ context.Context, r population.Rig) (population.Simulator, error) {
	return simulator{newStation(l.tb, l.product, l.sc, r.Seed)}, nil
}

// simulator is a station as a population wants it.
type simulator struct{ *station }

func (s simulator) Run(_ context.Context, u population.Unit) (population.Outcome, error) {
	var faults []twin.Fault
	for _, name := range u.Faults {
		faults = append(faults, twin.Fault{Name: name})
	}
	run, kept := s.run(u.Serial, faults...)
	return population.Outcome{Run: run, Kept: kept}, nil
}

func (s simulator) Close() error { return nil } // the test's cleanup does it

// study puts good units and units with each fault through a scenario.
func study(tb testing.TB, prod *product.Product, sc *scenarios.Scenario, good, faulty, perRig int) *takt.Study {
	tb.Helper()
	plan := population.Plan{Seed: 1, PerRig: perRig, Classes: []population.Class{population.ClassOf(good)}}
	for _, d := range twin.Faults() {
		if faulty > 0 && d.Applies(prod) {
			plan.Classes = append(plan.Classes, population.ClassOf(faulty, d.Name))
		}
	}
	s := takt.NewStudy(sc)
	_, err := population.Run(tb.Context(), plan, population.Options{Workers: 1}, line{tb, prod, sc}.open, s.Digest, s.Take)
	require.NoError(tb, err)
	return s
}
