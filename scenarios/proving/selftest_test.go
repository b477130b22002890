package proving_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestHealthyRigHasNoFinding(t *testing.T) {
	for seed := range uint64(60) {
		got := selfTest(t, seed, true)
		for _, s := range got.Steps {
			for _, x := range s.Items {
				if x.OK {
					continue
				}
				t.Logf("%-60s %6.3f %-12s %-30s %s %v", s.Name, s.At.Seconds(), x.Name, x.Text, x.Limits, x.OK)
			}
			if s.Trouble != "" {
				t.Log(s.Name, s.Trouble)
			}
		}
		if len(got.Findings) > 0 {
			t.Error(seed, got.Findings)
		}
		require.Less(t, got.Bench, 20*time.Second)
		t.Log(got.Bench)
	}
}
