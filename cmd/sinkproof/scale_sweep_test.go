//go:build !race

package main

import (
	"context"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// Simulated records have twenty checks and readings, say what they are, hang together
// as the twin's values do, and one in fifty shows a fault.
func TestSweepSimulatedRecords(t *testing.T) {
	p, err := load(defaultRig, defaultProduct, defaultScenario, io.Discard)
	require.NoError(t, err)
	const n = 2000
	s, err := newScaleSource(context.Background(), p, 1, n)
	require.NoError(t, err)
	require.Greater(t, len(s.faulty), 15)
	failed := 0
	var good [][]float64
	models := s.spread.away
	for i := range n {
		r, err := s.draw(i)
		require.NoError(t, err)
		_, err = record.EncodeRun(r)
		require.NoError(t, err)
		require.Equal(t, record.Twin, r.Bench.Kind)
		require.Equal(t, scaleNote, r.Notes[0].Text)
		if r.Verdict == record.Fail {
			failed++
			require.True(t, failedAny(r.Checks))
			continue
		}
		require.Len(t, r.Checks, scaleChecks)
		require.Len(t, r.Readings, scaleChecks)
		values := make([]float64, len(r.Checks))
		for k, c := range r.Checks {
			values[k] = c.Value.Value
			require.Equal(t, c.Name, r.Readings[k].Name)
			require.Equal(t, values[k], r.Readings[k].Value.Value)
		}
		good = append(good, values)
	}
	require.InDelta(t, scaleFaulty*n, failed, 4*math.Sqrt(scaleFaulty*n))
	for i := range scaleChecks {
		for j := range i {
			scale := math.Sqrt(covariance(models, i, i) * covariance(models, j, j))
			if scale > 0 {
				require.InDelta(t, covariance(models, i, j)/scale, covariance(good, i, j)/scale, 0.15, "%s and %s", s.good.Checks[i].Name, s.good.Checks[j].Name)
			}
		}
	}
	first, err := s.draw(77)
	require.NoError(t, err)
	again, err := s.draw(77)
	require.NoError(t, err)
	require.Equal(t, first, again, "a record depends on its number alone")
}
