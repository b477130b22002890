package compare

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestCohensSizes: units per group for 80 % power at 5 % (Cohen, Statistical
// Power Analysis, table 2.4.1; from memory).
func TestCohensSizes(t *testing.T) {
	for d, n := range map[float64]float64{0.2: 393, 0.5: 64, 0.8: 26} {
		require.InDelta(t, n, math.Ceil(Size(d, 1, 0.05, 0.8)), 1, "effect %v", d)
		require.InDelta(t, 0.8, Power(Size(d, 1, 0.05, 0.8), d, 1, 0.05), 1e-9)
	}
}

// TestPowerOfFractions: the example in R's help of power.prop.test, 76.7 per group
// for .50 against .75 with 90 % power (from memory).
func TestPowerOfFractions(t *testing.T) {
	require.InDelta(t, 0.9, FractionsPower(76.7, 0.5, 0.75, 0.05), 1e-3)
	require.Less(t, FractionsPower(76, 0.5, 0.75, 0.05), 0.9)
	require.InDelta(t, 76.65, FractionsSize(0.5, 0.75, 0.05, 0.9), 0.06)
	// One bad board in a hundred against three, 90 %: some thousand boards each.
	size := FractionsSize(0.01, 0.03, 0.05, 0.9)
	require.InDelta(t, 0.9, FractionsPower(size, 0.01, 0.03, 0.05), 1e-9)
	require.InDelta(t, 1030, size, 40)
	require.True(t, math.IsNaN(FractionsSize(0.1, 0.1, 0.05, 0.9)) && math.IsNaN(FractionsSize(0, 0.1, 0.05, 0.9)))
}

// TestHolmsBoundOnR: p.adjust(c(.01,.02,.03,.04,.05)) is .05, .08, .09, .09, .09
// by Holm and .05 for all by Benjamini and Hochberg (both by definition).
func TestHolmsBoundOnR(t *testing.T) {
	p := []float64{0.01, 0.02, 0.03, 0.04, 0.05}
	require.InDeltaSlice(t, []float64{0.05, 0.08, 0.09, 0.09, 0.09}, Holm(p), 1e-12)
	require.InDeltaSlice(t, []float64{0.05, 0.05, 0.05, 0.05, 0.05}, BenjaminiHochberg(p), 1e-12)
}

// TestEquivalenceNeedsUnits: no difference at all is not proved by few units.
func TestEquivalenceNeedsUnits(t *testing.T) {
	few := Welch(Sample{4, 5, 1}, Sample{4, 5, 1}, 0.95).Equivalent(0.5, 0.05)
	require.False(t, few.Inside(), "the same means, and still not enough")
	many := Welch(Sample{100, 5, 1}, Sample{100, 5, 1}, 0.95).Equivalent(0.5, 0.05)
	require.True(t, many.Inside())
	require.Less(t, EquivalencePower(4, 0, 0.5, 1, 0.05), 0.05)
	require.Greater(t, EquivalencePower(100, 0, 0.5, 1, 0.05), 0.9)
	size := EquivalenceSize(0, 0.5, 1, 0.05, 0.9)
	require.Greater(t, EquivalencePower(math.Ceil(size), 0, 0.5, 1, 0.05), 0.9-1e-9)
	require.Less(t, EquivalencePower(math.Floor(size)-1, 0, 0.5, 1, 0.05), 0.9)
}

// TestLargeSamplesByRanks: without ties the normal p-value meets the exact one.
func TestLargeSamplesByRanks(t *testing.T) {
	x, y := make([]float64, 45), make([]float64, 49)
	for i := range x {
		x[i] = float64(i) + 0.31
	}
	for i := range y {
		y[i] = float64(i)*1.13 - 0.17
	}
	r, err := MannWhitney(x, y, 0.95)
	require.NoError(t, err)
	require.True(t, r.Exact)
	m, n := float64(len(x)), float64(len(y))
	normal, _ := normalRanks(r.U-m*n/2, spreadOfRanks(m, n, 0))
	require.InDelta(t, r.P, normal, 3e-3)
	more, err := MannWhitney(append(x, 200, 201, 202, 203, 204), y, 0.95)
	require.NoError(t, err)
	require.False(t, more.Exact, "fifty values are counted as many")
	require.True(t, more.Contains(more.Shift))
}
