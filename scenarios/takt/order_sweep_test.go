//go:build !race

package takt_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/takt"
)

// reworks are what a record says is to be reworked: what failed and follows
// from no other fail. Which of several consequences fail hangs on what the
// supplies draw, even in one order.
func reworks(run record.Run) []string {
	var out []string
	for _, f := range run.Suspects {
		out = append(out, f.Rework)
	}
	slices.Sort(out)
	return out
}

// TestSweepNoVerdictChangesWithTheOrder: every fault of the catalogue, barely,
// middling and grossly bad, gets the same verdict, bin and rework in the order of
// the file, one by one, and in the planned one with shared windows. Where only
// hazards are asked for after a fail, verdict and bin are the same, too.
func TestSweepNoVerdictChangesWithTheOrder(t *testing.T) {
	for _, name := range []string{"hand-lamp", "desk-sensor", "key-tag"} {
		prod, sc := loadShipped(t, name, "charge-path")
		shared := takt.Shared(sc)
		rig := takt.NewRig(benchOne(t), prod)
		plan, err := rig.Best(shared, study(t, prod, shared, 4, 1, 10).Samples(0.1), takt.Prices{Operation: 1e-3})
		require.NoError(t, err)
		require.True(t, plan.Exact)
		planned, err := shared.InOrder(plan.Order)
		require.NoError(t, err)
		brief := *planned
		brief.AfterFail = scenarios.AskHazards
		one, two, three := newStation(t, prod, sc, 3), newStation(t, prod, planned, 3), newStation(t, prod, &brief, 3)
		units := [][]twin.Fault{nil}
		for _, d := range twin.Faults() {
			for _, severity := range []float64{0, 0.5, 1} {
				if d.Applies(prod) {
					units = append(units, []twin.Fault{twin.Fault{Name: d.Name}.Severe(severity)})
				}
			}
		}
		require.Greater(t, len(units), 40)
		for i, faults := range units {
			t.Run(fmt.Sprintf("%s %d %v", name, i, faults), func(t *testing.T) {
				serial := fmt.Sprintf("ORDER-%d", i)
				a, _ := one.run(serial, faults...)
				b, _ := two.run(serial, faults...)
				c, _ := three.run(serial, faults...)
				require.Equal(t, a.Verdict, b.Verdict, "%s | %s", a.Reason, b.Reason)
				require.Equal(t, a.Bin, b.Bin)
				if name == "key-tag" && len(reworks(a)) > 0 {
					// A dual-role port turns while it is read, so what else it
					// shows hangs on the instant.
					require.True(t, slices.ContainsFunc(reworks(a), func(x string) bool { return slices.Contains(reworks(b), x) }))
				} else {
					require.Equal(t, reworks(a), reworks(b), "what to rework")
				}
				require.Equal(t, a.Verdict, c.Verdict, "%s | %s", a.Reason, c.Reason)
				require.Equal(t, a.Bin, c.Bin)
			})
		}
	}
}

// TestSweepTheFloorIsAFloor: over rigs drawn anew a run never takes less on the
// average, and what a bench cannot help is close to it.
func TestSweepTheFloorIsAFloor(t *testing.T) {
	for _, c := range []struct{ product, scenario string }{
		{"hand-lamp", "charge-path"}, {"hand-lamp", "terminations-only"}, {"key-tag", "charge-path"}, {"hand-lamp", "no-cell"},
	} {
		t.Run(c.product+" "+c.scenario, func(t *testing.T) {
			prod, sc := loadShipped(t, c.product, c.scenario)
			sc = takt.Shared(sc)
			floor, err := takt.NewRig(benchOne(t), prod).Floor(sc)
			require.NoError(t, err)
			for _, x := range floor {
				require.GreaterOrEqual(t, x.Seconds, 0.0)
				require.NotEmpty(t, x.How)
				require.Contains(t, takt.Causes(), x.Cause)
			}
			mean, err := study(t, prod, sc, 16, 0, 1).Good()
			require.NoError(t, err)
			require.Greater(t, mean.Seconds+3*mean.SE, takt.Sum(floor))
			require.Less(t, mean.Seconds-3*mean.SE, 1.3*takt.Sum(floor))
		})
	}
}
