package takt

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// Units that met the same supplies are no independent witnesses: the rigs are.
func TestTheErrorOfAMeanIsThatOfItsRigs(t *testing.T) {
	values := []float64{8, 9, 10, 12}
	mean := 39.0 / 4

	// Clusters of one: s/√n, worked out by hand: squares of -1.75, -0.75, 0.25, 2.25.
	se, rigs := standardError(values, []int{0, 1, 2, 3}, mean)
	require.InDelta(t, math.Sqrt(8.75/3)/2, se, 1e-12)
	require.Equal(t, 4, rigs)

	// Each value three times over, in a rig of its own, tells nothing more.
	var thrice []float64
	var of []int
	for i, v := range values {
		thrice, of = append(thrice, v, v, v), append(of, i, i, i)
	}
	again, rigs := standardError(thrice, of, mean)
	require.InDelta(t, se, again, 1e-12)
	require.Equal(t, 4, rigs)

	one, rigs := standardError(values, []int{7, 7, 7, 7}, mean)
	require.InDelta(t, math.Sqrt(8.75/3)/2, one, 1e-12)
	require.Equal(t, 1, rigs)
	none, _ := standardError([]float64{8}, []int{0}, 8)
	require.Zero(t, none)
}

func TestNoGoodUnitPassed(t *testing.T) {
	_, err := (&Study{}).Good()
	require.ErrorIs(t, err, ErrNonePassed)
}
