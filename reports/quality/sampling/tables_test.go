package sampling

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestCameron: the ratio of the qualities accepted with 10 % and 95 %, and n
// times the latter, for acceptance numbers (Cameron, Industrial Quality Control 9
// (1952) 37; NIST/SEMATECH e-Handbook; from memory, to the digits printed), under
// the Poisson law, which a long thin sample follows.
func TestCameron(t *testing.T) {
	for accept, want := range []struct{ ratio, np float64 }{
		{44.890, 0.052}, {10.946, 0.355}, {6.509, 0.818}, {4.890, 1.366}, {4.057, 1.970}, {3.549, 2.613},
	} {
		p := Plan{10_000_000, accept}
		good, bad := p.QualityAt(0.95), p.QualityAt(0.10)
		require.InDelta(t, want.np, good*1e7, 1.5e-3, "Ac %d", accept)
		require.InEpsilon(t, want.ratio, bad/good, 2e-3, "Ac %d", accept)
	}
}

// TestCurvesFall: worse lots pass less often, a larger sample is the stricter, a
// larger acceptance number the milder, under every law.
func TestCurvesFall(t *testing.T) {
	for _, lot := range []Lot{{Binomial, 0}, {Poisson, 0}, {Hypergeometric, 400}} {
		p := Plan{50, 2}
		fractions := []float64{0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5}
		points := p.Curve(lot, fractions)
		require.Equal(t, 1.0, points[0].AcceptProbability)
		for i := 1; i < len(points); i++ {
			require.Less(t, points[i].AcceptProbability, points[i-1].AcceptProbability+1e-15, "%v", lot)
			require.LessOrEqual(t, Plan{60, 2}.Accepts(lot, fractions[i]), points[i].AcceptProbability)
			require.GreaterOrEqual(t, Plan{50, 3}.Accepts(lot, fractions[i]), points[i].AcceptProbability)
		}
	}
	require.True(t, math.IsNaN(Plan{50, 2}.Curve(Lot{}, []float64{0.1})[0].ATI), "no lot, no rest of it")
}

// TestWholeLotTested: a lot that is tested whole is judged without error.
func TestWholeLotTested(t *testing.T) {
	lot := Lot{Hypergeometric, 30}
	p := Plan{30, 3}
	require.Equal(t, 1.0, p.Accepts(lot, 0.1), "three bad units of thirty")
	require.Equal(t, 0.0, p.Accepts(lot, 4.0/30))
	d, err := Lookup(30, "III", 0.1, Normal)
	require.NoError(t, err)
	require.True(t, d.All)
	require.Equal(t, 30, d.N)
}

// TestSeveritiesAreOrdered: for every limit tightened inspection accepts no more
// lots than normal inspection, and reduced inspection tests no more units.
func TestSeveritiesAreOrdered(t *testing.T) {
	for _, size := range []int{50, 500, 5000, 100_000} {
		for _, aql := range Limits()[4:16] {
			n, err := Lookup(size, "II", aql, Normal)
			require.NoError(t, err)
			r, err := Lookup(size, "II", aql, Reduced)
			require.NoError(t, err)
			tight, err := Lookup(size, "II", aql, Tightened)
			require.NoError(t, err)
			require.LessOrEqual(t, r.N, n.N, "lot %d, limit %v", size, aql)
			for _, f := range []float64{aql / 100, 3 * aql / 100} {
				if f < 1 {
					require.LessOrEqual(t, tight.Accepts(Lot{}, f), n.Accepts(Lot{}, f)+1e-12, "lot %d, limit %v", size, aql)
				}
			}
		}
	}
}

// TestDoubleSavesUnits: against the single plan of like risks a double one tests
// fewer units of very good and of very bad lots.
func TestDoubleSavesUnits(t *testing.T) {
	d := Double{N1: 50, Accept1: 1, Reject1: 4, N2: 100, Accept2: 3}
	for _, f := range []float64{0.001, 0.2} {
		_, _, tested := d.At(f)
		require.Less(t, tested, 60.0, "fraction %v", f)
	}
	_, _, between := d.At(0.04)
	require.Greater(t, between, 90.0)
	all, first, tested := d.At(0)
	require.Equal(t, []float64{1, 1, 50}, []float64{all, first, tested})
}
