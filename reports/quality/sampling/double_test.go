package sampling

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// Where the first sample always decides, a double plan is the single one: its
// quantiles come by the beta law there, by a search here.
func TestADoublePlanWithoutASecondSampleIsSingle(t *testing.T) {
	for _, p := range []Plan{{8, 0}, {50, 1}, {125, 7}} {
		d := Double{N1: p.N, Accept1: p.Accept, Reject1: p.Accept + 1, N2: 10, Accept2: p.Accept + 1}
		for _, accept := range []float64{0.95, 0.5, 0.1} {
			require.InEpsilon(t, p.QualityAt(accept), d.QualityAt(accept), 1e-9)
		}
	}
	for _, accept := range []float64{0, 1, math.NaN()} {
		require.True(t, math.IsNaN(Double{N1: 8, Reject1: 2, N2: 8, Accept2: 1}.QualityAt(accept)), "%v", accept)
	}
}

func TestDoublePlansDecide(t *testing.T) {
	d := Double{N1: 50, Accept1: 1, Reject1: 4, N2: 100, Accept2: 3}
	require.Equal(t, []Decision{Accept, Accept, Continue, Continue, Reject, Reject},
		[]Decision{d.First(0), d.First(1), d.First(2), d.First(3), d.First(4), d.First(50)})
	require.Equal(t, []Decision{Accept, Reject}, []Decision{d.Second(3), d.Second(4)})
}
