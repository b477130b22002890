package scenarios_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// BenchmarkLoad proves and expands the complete scenario.
func BenchmarkLoad(b *testing.B) {
	file, err := scenarios.Shipped("charge-path")
	require.NoError(b, err)
	rig, prod := benchOne(b), shippedProduct(b, "hand-lamp")
	for b.Loop() {
		_, found := scenarios.Load(file, rig, prod)
		require.NoError(b, found.Err())
	}
}

// BenchmarkRun is one full run of the complete scenario on the twin, a good
// unit each time: drivers, interlocks, judgement and the events of the record, whose
// rules and encoding have benchmarks of their own.
func BenchmarkRun(b *testing.B) {
	s := newStation(b, "hand-lamp", "charge-path")
	seconds, i := 0.0, 0
	for b.Loop() {
		s.twin.Unseat()
		s.events = s.events[:0]
		run, err := scenarios.Run(b.Context(), s.job(fmt.Sprintf("B%06d", i)))
		require.NoError(b, err)
		require.Equal(b, record.Pass, run.Verdict, run.Reason)
		seconds += float64(run.DurationUS) / 1e6
		i++
	}
	b.ReportMetric(seconds/float64(i), "rig-s/op")
}
