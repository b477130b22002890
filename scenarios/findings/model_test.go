package findings

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestEveryUnitIsCountedOnce(t *testing.T) {
	d := sampleDictionary(t, 40)
	for i, seen := range d.counts.seen {
		sum := 0.0
		for _, x := range seen {
			sum += x
		}
		require.InDelta(t, d.Units, sum, 1, "%s: what counts beside a cut is taken from its own span", d.names[i].name)
	}
}

// In every context, the codes of a name have probabilities that add up to one
// under each class, those that were never seen too.
func TestProbabilitiesAddUpToOne(t *testing.T) {
	d := sampleDictionary(t, 40)
	for i, n := range d.model.sizes {
		for _, table := range [][]float32{d.model.alone[i], d.model.under[i], d.model.within[i]} {
			for from := 0; from < len(table); from += n {
				sum := 0.0
				for _, l := range table[from : from+n] {
					require.False(t, math.IsInf(float64(l), 0), "nothing is impossible")
					sum += math.Exp(float64(l))
				}
				require.InDelta(t, 1, sum, 1e-3, "%s, to the grain of the counts", d.names[i].name)
			}
		}
	}
}

func TestBayesRule(t *testing.T) {
	d := &Dictionary{
		Classes: sampleClasses()[:3], exponent: 1, ordinary: []float64{0, 0, 0}, spread: []float64{1, 1, 1},
		strangerSlope: 0, strangerBase: 0,
	}
	// Priors 1 : 2 : 1, likelihoods 1 : 1/2 : 1/4, strangers as likely as not
	// to give what is seen: 4/9, 4/9 and 1/9 of the three quarters.
	post := d.posterior([]float64{0, -math.Ln2, -2 * math.Ln2}, Priors{Class: []float64{0.25, 0.5, 0.25}, None: 1.0 / 3})
	require.InDeltaSlice(t, []float64{0.75 * 4 / 9, 0.75 * 4 / 9, 0.75 / 9, 0.25}, post, 1e-12)
}

func TestPosteriorsAreProbabilities(t *testing.T) {
	d := sampleDictionary(t, 20)
	rapid.Check(t, func(t *rapid.T) {
		like := rapid.SliceOfN(rapid.Float64Range(-1e5, 0), len(d.Classes), len(d.Classes)).Draw(t, "like")
		sum := 0.0
		for _, p := range d.posterior(like, d.Equal()) {
			require.True(t, p >= 0 && p <= 1, "%v", p)
			sum += p
		}
		require.InDelta(t, 1, sum, 1e-9)
	})
}

// Of ten at 0 two are of the second kind, of ten at 1 nine: with two points
// the line goes through both log-odds, ln(2/8) and ln(9/1).
func TestLogisticRegressionGoesThroughTwoPoints(t *testing.T) {
	var l logistic
	for _, c := range []struct{ x, y, n float64 }{{0, 0, 8}, {0, 1, 2}, {1, 0, 1}, {1, 1, 9}} {
		l.add(c.x, c.y, c.n)
	}
	slope, base := l.line()
	require.InDelta(t, math.Log(2.0/8), base, 0.01)
	require.InDelta(t, math.Log(9)-math.Log(2.0/8), slope, 0.01)
}

func TestLogisticRegressionOfWhatAPointSeparatesEnds(t *testing.T) {
	var l logistic
	for x := range 20 {
		y := 0.0
		if x >= 10 {
			y = 1
		}
		l.add(float64(x), y, 0.05)
	}
	slope, base := l.line()
	require.True(t, finite(slope, base))
	require.Greater(t, slope, 0.0)
	require.InDelta(t, 9.5, -base/slope, 0.1, "the kinds part half way")
}
