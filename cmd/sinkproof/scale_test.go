package main

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// covariance is that of two columns of a sample.
func covariance(units [][]float64, i, j int) float64 {
	var mean [2]float64
	for _, u := range units {
		mean[0] += u[i] / float64(len(units))
		mean[1] += u[j] / float64(len(units))
	}
	sum := 0.0
	for _, u := range units {
		sum += (u[i] - mean[0]) * (u[j] - mean[1])
	}
	return sum / float64(len(units)-1)
}

// What is drawn has the means, the spread and the correlations of the sample, and
// more values than the sample has.
func TestResampledValuesSpreadAsTheSampleDoes(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var sample [][]float64
	for range 40 {
		a, b := r.NormFloat64(), r.NormFloat64()
		sample = append(sample, []float64{100 + 2*a, 5 - a + 0.5*b, 3, math.Exp(b)})
	}
	s := newResample(sample)
	var drawn [][]float64
	different := map[float64]bool{}
	for range 40_000 {
		d := s.draw(r)
		for i := range d {
			d[i] += s.mean[i]
		}
		different[d[0]] = true
		drawn = append(drawn, d)
	}
	require.Greater(t, len(different), 39_000)
	for i := range sample[0] {
		for j := range i + 1 {
			want := covariance(sample, i, j)
			scale := math.Sqrt(covariance(sample, i, i) * covariance(sample, j, j))
			require.InDelta(t, want, covariance(drawn, i, j), 0.03*scale+1e-12, "%d and %d", i, j)
		}
	}
}
