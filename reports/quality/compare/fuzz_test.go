package compare

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality"
)

// FuzzComparisons: any two samples are compared or refused, never a panic, and a
// p-value is a probability or undefined.
func FuzzComparisons(f *testing.F) {
	f.Add([]byte{1, 2, 3}, []byte{2, 3, 4})
	f.Add([]byte{7}, []byte{7})
	f.Add([]byte{7, 7, 7}, []byte{7, 7})
	f.Add([]byte{}, []byte{255})
	f.Fuzz(func(t *testing.T, a, b []byte) {
		x, y := values(a), values(b)
		p := map[string]float64{}
		keep := func(name string, v float64, err error) {
			if err != nil {
				require.ErrorIs(t, err, quality.ErrSample, name)
				return
			}
			p[name] = v
		}
		r, err := MannWhitney(x, y, 0.95)
		keep("ranks", r.P, err)
		k, err := KolmogorovSmirnov(x, y)
		keep("KS", k.P, err)
		l, err := Levene([][]float64{x, y})
		keep("Levene", l.P, err)
		o, err := OneWay([][]float64{x, y})
		keep("one-way", o.P, err)
		h, err := KruskalWallis([][]float64{x, y})
		keep("Kruskal", h.P, err)
		sx, err := Of(x)
		sy, other := Of(y)
		if err == nil && other == nil {
			p["Welch"] = Welch(sx, sy, 0.95).P
			p["ratio"] = VarianceRatio(sx, sy, 0.95).P
			p["equivalence"] = Welch(sx, sy, 0.95).Equivalent(1, 0.05).P
		}
		for name, v := range p {
			require.True(t, math.IsNaN(v) || (v >= 0 && v <= 1+1e-12), "%s: p %v", name, v)
		}
	})
}

// values makes small numbers with ties of bytes, and a hole of the largest.
func values(raw []byte) []float64 {
	var out []float64
	for _, b := range raw[:min(len(raw), 80)] {
		v := float64(b) / 4
		if b == 255 {
			v = math.NaN()
		}
		out = append(out, v)
	}
	return out
}

// FuzzFisher: any table of counts is compared or refused.
func FuzzFisher(f *testing.F) {
	f.Add(2, 15, 10, 3)
	f.Add(0, 5, 0, 7)
	f.Add(-1, 0, 0, 0)
	f.Fuzz(func(t *testing.T, a, b, c, d int) {
		small := func(v int) int { return v % 200 }
		one, two := Counts{small(a), small(b)}, Counts{small(c), small(d)}
		r, err := Fisher(one, two, 0.95)
		if err != nil {
			require.ErrorIs(t, err, quality.ErrSample)
			return
		}
		require.True(t, r.P > 0 && r.P <= 1)
		require.InDelta(t, 1, r.PLess+r.PGreater-mass(one, two), 1e-9, "both tails share the observed table")
		require.True(t, r.DifferenceRange.Contains(r.Difference))
		if r.OddsRange.Defined() && !math.IsInf(r.OddsRatio, 0) && r.OddsRatio > 0 {
			require.True(t, r.OddsRange.Contains(r.OddsRatio))
		}
	})
}

// mass is the probability of the observed table, from the two-sided tails of it.
func mass(a, b Counts) float64 {
	s := a.Bad + b.Bad
	return choose(a.N(), a.Bad) * choose(b.N(), s-a.Bad) / choose(a.N()+b.N(), s)
}
