package takt_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/takt"
)

// BenchmarkTakt runs good units through the shipped scenario, each on a rig of
// its own, and prints what a run takes on the rig's clock: in the order of the
// file with conditional waits, in the planned order with shared windows, at
// least (the floor), and with fixed waits; and what the plan saves against each.
func BenchmarkTakt(b *testing.B) {
	prod, sc := loadShipped(b, "hand-lamp", "charge-path")
	rig := takt.NewRig(benchOne(b), prod)
	shared := takt.Shared(sc)
	plan, err := rig.Best(shared, study(b, prod, shared, 4, 1, 10).Samples(0.01), takt.Prices{Operation: 1e-3})
	require.NoError(b, err)
	best, err := shared.InOrder(plan.Order)
	require.NoError(b, err)
	floor, err := rig.Floor(best)
	require.NoError(b, err)
	fixed, err := rig.Fixed(sc)
	require.NoError(b, err)
	took, runs := [2]float64{}, 0
	for b.Loop() {
		runs++
		for i, order := range []*scenarios.Scenario{sc, best} {
			run, _ := newStation(b, prod, order, uint64(runs)).run(fmt.Sprintf("B%06d", runs))
			require.Equal(b, record.Pass, run.Verdict, run.Reason)
			took[i] += float64(run.DurationUS) / 1e6
		}
	}
	file, planned := took[0]/float64(runs), took[1]/float64(runs)
	b.ReportMetric(file, "file-rig-s")
	b.ReportMetric(planned, "planned-rig-s")
	b.ReportMetric(takt.Sum(floor), "floor-rig-s")
	b.ReportMetric(takt.Sum(fixed), "fixed-rig-s")
	b.ReportMetric(100*(planned/takt.Sum(floor)-1), "%-above-floor")
	b.ReportMetric(100*(1-planned/file), "%-saved-against-file")
	b.ReportMetric(100*(1-planned/takt.Sum(fixed)), "%-saved-against-fixed")
}

// BenchmarkBest finds the order of the shipped scenario's rounds.
func BenchmarkBest(b *testing.B) {
	prod, sc := loadShipped(b, "hand-lamp", "charge-path")
	rig := takt.NewRig(benchOne(b), prod)
	samples := study(b, prod, sc, 4, 1, 10).Samples(0.01)
	for b.Loop() {
		plan, err := rig.Best(sc, samples, takt.Prices{Operation: 1e-3})
		require.NoError(b, err)
		require.True(b, plan.Exact)
	}
}
