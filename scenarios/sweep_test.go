//go:build !race

package scenarios_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// The sweeps simulate a run for each fault and for each check. They build only
// without the race detector, which would make them several times slower and
// sees the same code in the runs of the other tests; those are not repeated
// here.

// The matrix of faults by checks: the checks that name a fault fail, and what is
// good about such a unit is not failed. The barely bad end is the hard one; the
// gross end, where more goes wrong, is asked in the complete scenario of the
// product that has everything.
func TestSweepFaultsFailTheChecksThatNameThem(t *testing.T) {
	stations := map[string]*station{}
	for _, r := range faultRows(t) {
		key := r.product + " " + r.scenario
		if stations[key] == nil {
			stations[key] = newStation(t, r.product, r.scenario)
		}
		severities := []float64{0}
		if key == "hand-lamp charge-path" {
			severities = append(severities, 1)
		}
		for _, severity := range severities {
			t.Run(fmt.Sprintf("%s %s %g", key, r.fault, severity), func(t *testing.T) {
				run := stations[key].run("FAULT", r.at(severity))
				require.Equal(t, record.Fail, run.Verdict, run.Reason)
				got, allowed := bare(failed(run)), slices.Clone(r.others)
				for _, name := range r.naming {
					either := strings.Split(name, "|")
					allowed = append(allowed, either...)
					require.True(t, slices.ContainsFunc(either, func(n string) bool { return slices.Contains(got, n) }), "%s among %v", name, got)
				}
				for _, name := range got {
					require.Contains(t, allowed, name, "what is good about the unit is not failed")
				}
				require.NotEmpty(t, run.Suspects, "something to rework")
			})
		}
	}
}

// pair is a product with a scenario that gives verdicts on it.
type pair struct{ product, scenario string }

// shippedPairs are those whose good units pass.
func shippedPairs() []pair {
	return []pair{
		{"hand-lamp", "charge-path"}, {"hand-lamp", "terminations-only"}, {"hand-lamp", "no-cell"},
		{"desk-sensor", "terminations-only"}, {"desk-sensor", "no-cell"},
		{"key-tag", "charge-path"}, {"key-tag", "terminations-only"}, {"key-tag", "no-cell"},
	}
}

func TestSweepGoodUnitsPassEveryShippedScenario(t *testing.T) {
	for _, c := range shippedPairs() {
		t.Run(c.product+" "+c.scenario, func(t *testing.T) {
			s := newStation(t, c.product, c.scenario)
			for i := range 3 {
				run := s.run(fmt.Sprintf("GOOD-%d", i))
				require.Equal(t, record.Pass, run.Verdict, "%s: %s", run.Serial, run.Reason)
				require.Equal(t, []string{"seat"}, s.moved)
			}
		})
	}
}

// Each check earns its place: there is a unit, or for a control a rig, that it
// fails, and with its limits widened it does not. So a check that is weakened
// breaks this test, by name.
func TestSweepEachCheckEarnsItsPlace(t *testing.T) {
	units := map[string][]string{} // what fails on a unit under the whole scenario
	for _, e := range earnings() {
		t.Run(e.check, func(t *testing.T) {
			whole, err := scenarios.Shipped(e.scenario)
			require.NoError(t, err)
			unit := fmt.Sprintln(e.product, e.scenario, e.fault, e.pin, e.severity)
			if e.rig != nil {
				unit += e.check
			}
			if _, known := units[unit]; !known {
				units[unit] = failedIn(t, e, whole)
			}
			require.Contains(t, units[unit], e.check)
			require.NotContains(t, failedIn(t, e, weakened(t, whole, e.check)), e.check)
		})
	}
}

func failedIn(t *testing.T, e earning, file *source.File) []string {
	t.Helper()
	prod := shippedProduct(t, e.product)
	s := openStation(t, benchOne(t), prod, prod, file)
	var faults []twin.Fault
	if e.fault != "" {
		faults = append(faults, row{fault: e.fault, pin: e.pin}.at(e.severity))
	}
	if e.rig != nil {
		require.NoError(t, s.twin.Break(*e.rig))
		defer s.twin.Mend()
	}
	return bare(failed(s.run("EARNS", faults...)))
}
