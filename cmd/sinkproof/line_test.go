package main

import (
	"context"
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/record"
)

// judge runs one unit and takes it out again.
func (l *line) judge(serial string, faults ...twin.Fault) (record.Run, error) {
	return l.take(context.Background(), serial, nil, faults...)
}

func shippedPapers(t testing.TB) *papers {
	t.Helper()
	p, err := load(defaultRig, defaultProduct, defaultScenario, io.Discard)
	require.NoError(t, err)
	return p
}

// failedNames lists the checks that a run failed by.
func failedNames(run record.Run) []string {
	var names []string
	for _, c := range run.Checks {
		if c.Answer == record.Failed {
			names = append(names, c.Name)
		}
	}
	return names
}

func BenchmarkRun(b *testing.B) {
	p := shippedPapers(b)
	l, err := newLine(b.Context(), p, 1)
	require.NoError(b, err)
	start := l.sim.twin.Truth().Now()
	b.ReportAllocs()
	b.ResetTimer()
	for i := range b.N {
		run, err := l.judge(fmt.Sprintf("B-%06d", i))
		require.NoError(b, err)
		require.Equal(b, record.Pass, run.Verdict, run.Reason)
	}
	b.ReportMetric((l.sim.twin.Truth().Now()-start).Seconds()/float64(b.N), "bench-s/op")
}
