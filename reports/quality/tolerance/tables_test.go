package tolerance

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSmallestSamples: factors of two to four units, where approximations fail
// worst (Natrella, Experimental Statistics, table A-7 one-sided; two-sided ISO
// 16269-6, annex; from memory, to the digits printed).
func TestSmallestSamples(t *testing.T) {
	for n, k := range map[int]float64{2: 26.260, 3: 7.656, 4: 5.144} {
		require.InDelta(t, k, OneSided(n, 0.95, 0.95), 1e-3, "one-sided, %d units", n)
	}
	require.InDelta(t, 36.519, TwoSided(2, 0.95, 0.95), 2e-3)
	require.InDelta(t, 9.789, TwoSided(3, 0.95, 0.95), 2e-3)
	require.InDelta(t, 6.341, TwoSided(4, 0.95, 0.95), 2e-3)
}

// TestDroppedValues: what ISO 16269-6 calls the sample sizes for a number of
// values left out is the beta law; here by summing binomial masses, the second
// way.
func TestDroppedValues(t *testing.T) {
	for _, c := range []struct{ n, m int }{{93, 2}, {181, 5}, {59, 1}, {400, 12}} {
		sum, term := 0.0, 1.0
		for range c.n {
			term *= 0.95
		}
		for k := range c.m { // fewer than m of n beyond the limits
			sum += term
			term *= float64(c.n-k) / float64(k+1) * 0.05 / 0.95
		}
		require.InDelta(t, 1-sum, Confidence(c.n, c.m, 0.95), 1e-12, "%+v", c)
	}
	require.Equal(t, 5, Dropped(181, 0.95, 0.95), "181 units bear five dropped values (table value, from memory)")
	require.Equal(t, 4, Dropped(180, 0.95, 0.95))
}

// TestLimitsAroundTheMean.
func TestLimitsAroundTheMean(t *testing.T) {
	l := Limits(10, 2, 1.5)
	require.Equal(t, 7.0, l.Low)
	require.Equal(t, 13.0, l.High)
}
