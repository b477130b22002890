//go:build !race

package main

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/record"
)

// nestUnits are units for so many nests: every other one good, the rest with
// each fault in turn.
func nestUnits(nests, each int) [][]nestUnit {
	units, faults, n := make([][]nestUnit, nests), twin.Faults(), 0
	for i := range units {
		for k := range each {
			u := nestUnit{serial: fmt.Sprintf("N%d-%02d", i+1, k+1)}
			if k%2 == 1 {
				u.faults = []twin.Fault{{Name: faults[n%len(faults)].Name}}
				n++
			}
			units[i] = append(units[i], u)
		}
	}
	return units
}

// TestSweepNestsReadAsOneDoes: good and faulty units in four nests side by side have
// the verdicts, the answers and, within their uncertainty, the values that they have
// where their nest works alone, and each record names its nest.
func TestSweepNestsReadAsOneDoes(t *testing.T) {
	p := nestPapers(t)
	units := nestUnits(4, 6)
	all, err := sideBySide(t.Context(), p, 3, units)
	require.NoError(t, err)
	compared := 0
	for i := range units {
		only := make([][]nestUnit, len(units))
		only[i] = units[i]
		alone, err := sideBySide(t.Context(), p, 3, only)
		require.NoError(t, err)
		for k, run := range all[i].runs {
			was := alone[i].runs[k]
			require.Equal(t, was.Verdict, run.Verdict, run.Serial)
			require.Equal(t, i+1, run.Nest)
			require.Len(t, run.Checks, len(was.Checks))
			for c := range run.Checks {
				require.Equal(t, was.Checks[c].Answer, run.Checks[c].Answer, "%s: %s", run.Serial, run.Checks[c].Name)
				is, before := run.Checks[c].Value, was.Checks[c].Value
				if is == nil || before == nil || is.Bound != "" || before.Bound != "" {
					continue
				}
				if run.Checks[c].Name == "vbus-not-shorted" {
					continue // the sample that ended a rise, and not a steady value
				}
				require.InDelta(t, before.Value, is.Value, before.U+is.U, "%s: %s", run.Serial, run.Checks[c].Name)
				compared++
			}
		}
	}
	require.Greater(t, compared, 24*10)
}

// TestSweepNestsSideBySide: four nests at 400 kHz do at least 3.5 times what one
// does, every unit is judged as it is alone, and twice the same is done. At
// 100 kHz transfers take four times as long: a unit may go without a verdict, but
// none gets the wrong one.
func TestSweepNestsSideBySide(t *testing.T) {
	p := nestPapers(t)
	units := nestUnits(4, 10)
	fast, err := studyNests(t.Context(), p, 7, 400e3, units)
	require.NoError(t, err)
	require.GreaterOrEqual(t, fast.Times, 3.5)
	require.Empty(t, fast.Differences)
	require.Greater(t, fast.Load, 3.5*fast.OneLoad)
	again, err := studyNests(t.Context(), p, 7, 400e3, units)
	require.NoError(t, err)
	require.Equal(t, fast, again)
	slow, err := studyNests(t.Context(), p, 7, 100e3, units)
	require.NoError(t, err)
	require.Greater(t, slow.Load, 2*fast.Load)
	for _, d := range slow.Differences {
		require.Contains(t, d, "side by side "+string(record.None))
	}
	t.Logf("400 kHz: %+v", fast)
	t.Logf("100 kHz: %+v", slow)
}
