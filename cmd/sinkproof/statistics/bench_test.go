package statistics

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/moments"
	"sinkproof/reports/quality/spread"
)

// million is a file of a million values, and the values.
func million(b *testing.B) (path string, values []float64) {
	b.Helper()
	values = sample(1_000_000, 5, 0.05)
	// Neighbours must differ as those of a process do, not all by one step.
	for i := range values {
		j := (i * 514_229) % len(values)
		values[i], values[j] = values[j], values[i]
	}
	text := append(make([]byte, 0, 20<<20), "value\n"...)
	for i, v := range values {
		line := strconv.AppendFloat(nil, v, 'f', 6, 64)
		rounded, err := strconv.ParseFloat(string(line), 64)
		require.NoError(b, err)
		values[i] = rounded
		text = append(append(text, line...), '\n')
	}
	path = filepath.Join(b.TempDir(), "million.csv")
	require.NoError(b, os.WriteFile(path, text, 0o600))
	b.SetBytes(int64(len(text)))
	return path, values
}

// BenchmarkMoments compares the command on a file of a million values with the
// same values in memory, and with their mere sum.
func BenchmarkMoments(b *testing.B) {
	path, values := million(b)
	b.Run("file", func(b *testing.B) {
		for b.Loop() {
			require.Contains(b, drive(b, "", "study", "moments", path, "--json").out, `"n": 1000000`)
		}
	})
	b.Run("memory", func(b *testing.B) {
		for b.Loop() {
			require.Equal(b, 1_000_000, moments.Of(values).Moments().N)
		}
	})
	b.Run("sum", func(b *testing.B) {
		for b.Loop() {
			sum := 0.0
			for _, v := range values {
				sum += v
			}
			require.InDelta(b, 5e6, sum, 1)
		}
	})
}

// BenchmarkCapability compares the command with the study in memory.
func BenchmarkCapability(b *testing.B) {
	path, values := million(b)
	b.Run("file", func(b *testing.B) {
		for b.Loop() {
			require.Contains(b, drive(b, "", "study", "capability", path, "--lower", "4.8", "--upper", "5.2", "--json").out, `"n": 1000000`)
		}
	})
	b.Run("memory", func(b *testing.B) {
		for b.Loop() {
			_, err := capability.Study([][]float64{values}, capability.Between(4.8, 5.2), spread.MovingRange, 0.95)
			require.NoError(b, err)
		}
	})
}
