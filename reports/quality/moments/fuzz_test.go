package moments

import (
	"encoding/binary"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// numbers reads a byte string as doubles, whatever they are.
func numbers(raw []byte) []float64 {
	var out []float64
	for ; len(raw) >= 8; raw = raw[8:] {
		out = append(out, math.Float64frombits(binary.LittleEndian.Uint64(raw)))
	}
	return out
}

// FuzzRunning: no sequence of doubles panics, and what is reported is ordered.
func FuzzRunning(f *testing.F) {
	f.Add([]byte{}, uint8(0))
	f.Add(binary.LittleEndian.AppendUint64(binary.LittleEndian.AppendUint64(nil, math.Float64bits(4.98)), math.Float64bits(5.02)), uint8(1))
	f.Add(binary.LittleEndian.AppendUint64(nil, math.Float64bits(math.Inf(1))), uint8(0))
	f.Fuzz(func(t *testing.T, raw []byte, cut uint8) {
		data := numbers(raw)
		at := min(int(cut), len(data))
		a, b := Of(data[:at]), Of(data[at:])
		a.Merge(b)
		m := a.Moments()
		require.Equal(t, len(data), m.N)
		for name, v := range map[string]float64{"mean": m.Mean, "sd": m.SD, "min": m.Min, "max": m.Max,
			"skewness": m.Skewness, "kurtosis": m.Kurtosis, "lag": m.Lag1} {
			require.False(t, math.IsInf(v, 0), "%s is a number or undefined, not infinite", name)
		}
		if !math.IsNaN(m.SD) {
			require.GreaterOrEqual(t, m.SD, 0.0)
		}
		if !math.IsNaN(m.Mean) {
			// Rounding may put the mean a few units beyond an end.
			room := 1e-9 * (math.Abs(m.Min) + math.Abs(m.Max))
			require.True(t, m.Min-room <= m.Mean && m.Mean <= m.Max+room, "%v..%v around %v", m.Min, m.Max, m.Mean)
		}
	})
}
