package record_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func TestWhatWasOnlyExpectedLeavesNoTrace(t *testing.T) {
	var plain, expecting record.Fold
	expecting.Expect(10, 20, 30)
	for _, f := range []*record.Fold{&plain, &expecting} {
		require.NoError(t, f.Apply(record.Opened{}))
		require.NoError(t, f.Apply(record.Closed{Verdict: record.None}))
	}
	require.Equal(t, plain.Run(), expecting.Run())
}
