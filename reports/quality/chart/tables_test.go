package chart

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestChampAndWoodall: in-control run lengths of combined rules (Technometrics 29
// (1987) 393, table 1; from memory, to the digits printed).
func TestChampAndWoodall(t *testing.T) {
	for want, rules := range map[float64][]Rule{
		370.40: {BeyondLimits},
		225.44: {BeyondLimits, TwoOfThree},
		166.05: {BeyondLimits, FourOfFive},
		152.73: {BeyondLimits, EightOnOneSide},
		91.75:  {BeyondLimits, TwoOfThree, FourOfFive, EightOnOneSide},
	} {
		got, err := RunLength(rules, 0)
		require.NoError(t, err)
		require.InDelta(t, want, got, 0.006, "%v", rules)
	}
}

// TestLucasAndSaccucci: EWMA schemes designed for 500 points between false alarms
// (Technometrics 32 (1990) 1; Montgomery, table 9.11; from memory).
func TestLucasAndSaccucci(t *testing.T) {
	for _, c := range []struct{ weight, width, oneSigma float64 }{
		{0.40, 3.054, 14.3}, {0.25, 2.998, 11.1}, {0.20, 2.962, 10.5}, {0.10, 2.814, 10.3},
	} {
		require.InEpsilon(t, 500, MovingRunLength(c.weight, c.width, 0), 0.01, "weight %v", c.weight)
		require.InDelta(t, c.oneSigma, MovingRunLength(c.weight, c.width, 1), 0.1, "weight %v", c.weight)
		require.InDelta(t, c.width, MovingWidth(c.weight, 500), 0.003, "weight %v", c.weight)
	}
}

// TestHawkins: slack and decision interval that give 370 points between false
// alarms (Journal of Quality Technology 25 (1993) 248; Montgomery, table 9.4; from
// memory).
func TestHawkins(t *testing.T) {
	for slack, decision := range map[float64]float64{0.25: 8.01, 0.5: 4.77, 0.75: 3.34, 1.0: 2.52, 1.25: 1.99, 1.5: 1.61} {
		require.InEpsilon(t, 370, CusumRunLength(slack, decision, 0), 0.02, "slack %v", slack)
	}
}

// TestPrintedConstants: the tables of the books, three decimals (ASTM manual on
// presentation of data, table 16; from memory).
func TestPrintedConstants(t *testing.T) {
	c := Of(5)
	for name, pair := range map[string][2]float64{"A2": {0.577, c.A2}, "A3": {1.427, c.A3}, "B4": {2.089, c.B4}, "D4": {2.114, c.D4}, "d2": {2.326, c.RangeMean}} {
		require.InDelta(t, pair[0], pair[1], 6e-4, name)
	}
	require.Zero(t, c.B3)
	require.Zero(t, c.D3)
	ten := Of(10)
	require.InDelta(t, 0.223, ten.D3, 6e-4)
	require.InDelta(t, 0.284, ten.B3, 6e-4)
}

// TestShiftedProcessIsSeenSooner by every chart, and sooner the farther.
func TestShiftedProcessIsSeenSooner(t *testing.T) {
	for name, length := range map[string]func(shift float64) float64{
		"limits": func(s float64) float64 { return LimitsRunLength(3, s) },
		"CUSUM":  func(s float64) float64 { return CusumRunLength(0.5, 5, s) },
		"EWMA":   func(s float64) float64 { return MovingRunLength(0.2, 2.86, s) },
		"zones": func(s float64) float64 {
			n, err := RunLength([]Rule{BeyondLimits, TwoOfThree}, s)
			require.NoError(t, err)
			return n
		},
	} {
		before := length(0)
		for _, shift := range []float64{0.25, 0.5, 1, 2, 4} {
			now := length(shift)
			require.Less(t, now, before, "%s at %v", name, shift)
			require.GreaterOrEqual(t, now, 1.0, "%s at %v", name, shift)
			require.InEpsilon(t, now, length(-shift), 1e-6, "%s at -%v", name, shift)
			before = now
		}
	}
	// The small shift is what memory is for.
	require.Less(t, CusumRunLength(0.5, 5, 0.5), LimitsRunLength(3, 0.5)/3)
}
