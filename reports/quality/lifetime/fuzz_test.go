package lifetime

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality"
)

// FuzzFit: any lives are fitted or refused; what is fitted is a law.
func FuzzFit(f *testing.F) {
	f.Add([]byte{10, 21, 33, 40})
	f.Add([]byte{1, 1, 1})
	f.Add([]byte{255, 3, 5})
	f.Fuzz(func(t *testing.T, raw []byte) {
		var lives []Life
		for _, b := range raw[:min(len(raw), 200)] {
			life := Life{Time: math.Pow(1.3, float64(b>>1)), Failed: b&1 == 1}
			if b == 255 {
				life.Time = math.NaN()
			}
			lives = append(lives, life)
		}
		w, err := Fit(lives)
		if err != nil {
			require.ErrorIs(t, err, quality.ErrSample)
			return
		}
		require.True(t, w.Shape > 0 && w.Scale > 0 && !math.IsInf(w.Scale, 0), "%+v", w)
		i := w.LifeInterval(0.1, 0.9)
		require.True(t, i.Contains(w.Life(0.1)), "%v in %v", w.Life(0.1), i)
	})
}
