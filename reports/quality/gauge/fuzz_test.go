package gauge

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// FuzzArrange: readings of any parts by any appraisers are a study or an error,
// and a study can be analyzed both ways.
func FuzzArrange(f *testing.F) {
	f.Add([]byte{0, 0, 1, 0, 0, 2, 1, 0, 3, 1, 0, 4})
	f.Add([]byte{0, 0, 1, 0, 0, 2, 1, 0, 3, 1, 0, 4, 0, 1, 1, 0, 1, 2, 1, 1, 3, 1, 1, 9})
	f.Add([]byte{0, 0, 255})
	f.Fuzz(func(t *testing.T, raw []byte) {
		var readings []Reading
		for ; len(raw) >= 3; raw = raw[3:] {
			v := float64(raw[2])
			if raw[2] == 255 {
				v = math.NaN()
			}
			readings = append(readings, Reading{string(rune('a' + raw[0]%4)), string(rune('A' + raw[1]%3)), v})
		}
		s, err := Arrange(readings)
		if err != nil {
			return
		}
		a := s.Analyze(Pooling, 0.95)
		for name, c := range map[string]Components{"anova": a.Components, "ranges": s.AverageRange().Components} {
			for _, v := range []float64{c.EV, c.AV, c.Interaction, c.GRR, c.PV, c.TV} {
				require.True(t, v >= 0, "%s: component %v", name, v)
			}
			require.GreaterOrEqual(t, c.TV*(1+1e-12), c.GRR, name)
		}
		require.InDelta(t, a.Table.Total.SS, a.Table.Part.SS+a.Table.Appraiser.SS+a.Table.Interaction.SS+a.Table.Repeatability.SS, 1e-6*(1+a.Table.Total.SS))
	})
}
