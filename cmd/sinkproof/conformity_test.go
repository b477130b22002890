package main

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/quantity"
	"sinkproof/reports/quality/conformance"
)

// JCGM 106:2012, 8.2.2, example: a diode's breakdown voltage of -5.47 V with
// u = 0.05 V and an upper limit of -5.40 V conforms with p = 0.92 (7.4, example;
// from memory).
func TestConformityOfTheDiode(t *testing.T) {
	m := quantity.NewMeasured(quantity.Volts(-5.47), quantity.Normal("u", 0.05, 1, 0))
	c := conform(m, conformance.Limits{Lower: math.Inf(-1), Upper: -5.40}, 0)
	require.NotNil(t, c)
	require.True(t, c.Accepted)
	require.InDelta(t, 0.92, c.Conforms, 0.005)
	require.InDelta(t, 0.08, c.Risk, 0.005)
	require.InDelta(t, 0.5, c.Worst, 1e-12, "simple acceptance risks a half on the limit")
	require.Nil(t, c.Lower)
	require.Nil(t, c.Capability)

	guarded := conform(m, conformance.Limits{Lower: math.Inf(-1), Upper: -5.40}, 1)
	require.False(t, guarded.Accepted, "-5.47 V lies above -5.40 V - 0.1 V")
	require.InDelta(t, guarded.Conforms, guarded.Risk, 1e-12, "the producer loses it although it most likely conforms")
	// Φ(-2): ILAC-G8:09/2019, table 1, a guard band of U for one-sided limits
	// gives at most 2.5 %, exactly 2.3 %.
	require.InDelta(t, 0.0228, guarded.Worst, 5e-5)
}

// JCGM 106:2012, 7.6.3: C_m = T/4u.
func TestConformityOfTwoLimits(t *testing.T) {
	m := quantity.NewMeasured(quantity.Volts(5), quantity.Normal("u", 0.05, 1, 0))
	c := conform(m, conformance.Limits{Lower: 4.8, Upper: 5.2}, 1)
	require.InDelta(t, 2, *c.Capability, 1e-12)
	require.InDelta(t, 4.9, *c.AcceptanceLow, 1e-12)
	require.InDelta(t, 5.1, *c.AcceptanceHigh, 1e-12)
	require.Nil(t, conform(m, conformance.Limits{Lower: 4.95, Upper: 5.05}, 1), "the guard bands meet")
	require.Nil(t, conform(m.WithBound(quantity.AtLeast), conformance.Limits{Lower: 4.8, Upper: 5.2}, 1))
}
