package capability

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/spread"
)

// FuzzStudy: whatever values, limits and method, a study is an error that says
// why, or a report whose intervals hold their index.
func FuzzStudy(f *testing.F) {
	f.Add(1.0, 2.0, 3.0, 4.0, 0.0, 5.0, 0.95, uint8(0))
	f.Add(1.0, 1.0, 1.0, 1.0, 0.0, 5.0, 0.95, uint8(4))
	f.Add(1.0, math.NaN(), 1.0, 1.0, 5.0, 0.0, 95.0, uint8(2))
	f.Add(1e300, -1e300, 3.0, 4.0, math.Inf(-1), 5.0, 0.5, uint8(3))
	f.Fuzz(func(t *testing.T, a, b, c, d, lower, upper, confidence float64, method uint8) {
		r, err := Study([][]float64{{a, b}, {c}, {d, a, b}}, Between(lower, upper), spread.Method(method%5), confidence)
		if err != nil {
			require.ErrorIs(t, err, quality.ErrSample)
			return
		}
		for name, i := range map[string]Index{"Cp": r.Cp, "Cpk": r.Cpk, "Pp": r.Pp, "Ppk": r.Ppk, "Cpm": r.Cpm} {
			if i.Defined() && confidence > 0.5 {
				require.True(t, i.Contains(i.Value), "%s %v in %v", name, i.Value, i.Interval)
			}
		}
		if !math.IsNaN(r.NonconformingExpected) {
			require.True(t, r.NonconformingExpected >= 0 && r.NonconformingExpected <= 1+1e-12)
		}
		require.True(t, r.NonconformingObserved >= 0 && r.NonconformingObserved <= 1)
	})
}
