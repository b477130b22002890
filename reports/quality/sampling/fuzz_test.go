package sampling

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// FuzzLookup: every lot, level and limit has a plan or an error that says why;
// a plan never asks for more units than there are.
func FuzzLookup(f *testing.F) {
	f.Add(1000, "II", 1.0, "normal")
	f.Add(1, "S-1", 0.01, "tightened")
	f.Add(-5, "", 0.0, "")
	f.Add(600_000, "III", 0.025, "tightened")
	f.Fuzz(func(t *testing.T, lot int, level string, aql float64, severity string) {
		s, err := ParseSeverity(severity)
		if err != nil {
			require.ErrorIs(t, err, ErrPlan)
			return
		}
		require.Equal(t, severity, s.String())
		d, err := Lookup(lot, Level(level), aql, s)
		if err != nil {
			require.ErrorIs(t, err, ErrPlan)
			return
		}
		require.True(t, d.N >= 1 && d.N <= lot)
		require.Equal(t, d.All, d.N == lot)
		require.GreaterOrEqual(t, d.Accept, 0)
	})
}

// FuzzSwitching: no history of lots leads out of the four severities, and
// reduced inspection never begins without 30 points.
func FuzzSwitching(f *testing.F) {
	f.Add([]byte{1, 1, 0, 0, 1, 1, 1, 1, 1})
	f.Add([]byte("AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		var s Switching
		for _, b := range raw {
			j := Judged{Accepted: b&1 == 1, Accept: int(b >> 4), Tighter: b&2 == 2, Steady: b&4 == 4}
			before := s
			s.Next(j)
			require.True(t, s.Severity >= Normal && s.Severity <= Discontinued)
			if s.Severity == Reduced && before.Severity != Reduced {
				require.Equal(t, Normal, before.Severity)
				require.GreaterOrEqual(t, before.Score+3, reducedFrom)
			}
			if before.Severity == Discontinued {
				require.Equal(t, before, s)
			}
			if b == 255 {
				s.Resume()
			}
		}
	})
}
