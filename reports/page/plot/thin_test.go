package plot

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"
)

func curveOf(t *rapid.T) []vg.Point {
	var list []vg.Point
	x := 0.0
	for range rapid.IntRange(1, 300).Draw(t, "points") {
		x += rapid.SampledFrom([]float64{0, 0.01, 0.4, 3}).Draw(t, "step")
		list = append(list, vg.Point{X: vg.Length(x), Y: vg.Length(rapid.Float64Range(0, 100).Draw(t, "y"))})
	}
	return list
}

func TestThinKeepsEndsAndExtremes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points := curveOf(t)
		kept := thin(points)
		require.Equal(t, points[0], kept[0])
		require.Equal(t, points[len(points)-1], kept[len(kept)-1])
		low, high := bounds(points)
		keptLow, keptHigh := bounds(kept)
		require.InDelta(t, low, keptLow, deviation)
		require.InDelta(t, high, keptHigh, deviation)
		for i := 1; i < len(kept); i++ {
			require.GreaterOrEqual(t, kept[i].X, kept[i-1].X, "time does not go back")
		}
	})
}

// No point is further from the drawn line than deviation and half a column.
func TestThinStaysOnTheCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points := curveOf(t)
		kept := thin(points)
		for _, p := range points {
			require.LessOrEqual(t, distance(p, kept), column+deviation+1e-9)
		}
	})
}

func distance(p vg.Point, curve []vg.Point) float64 {
	least := math.Inf(1)
	for i, q := range curve {
		a := q
		if i > 0 {
			a = curve[i-1]
		}
		dx, dy := (q.X - a.X).Points(), (q.Y - a.Y).Points()
		share := 0.0
		if length := dx*dx + dy*dy; length > 0 {
			share = min(1, max(0, ((p.X-a.X).Points()*dx+(p.Y-a.Y).Points()*dy)/length))
		}
		least = min(least, math.Hypot((p.X-a.X).Points()-share*dx, (p.Y-a.Y).Points()-share*dy))
	}
	return least
}

func bounds(points []vg.Point) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, p := range points {
		low, high = min(low, p.Y.Points()), max(high, p.Y.Points())
	}
	return low, high
}

func TestThinIsBounded(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	points := make([]vg.Point, 20_000)
	for i := range points {
		points[i] = vg.Point{X: vg.Length(i) * 0.02, Y: vg.Length(random.Float64() * 100)}
	}
	// 400 points of width are 800 columns of at most four points.
	require.LessOrEqual(t, len(thin(points)), 3200)
	for i := range points {
		points[i].Y = vg.Length(i) * 0.001
	}
	require.Len(t, thin(points), 2, "a straight line is two points")
	require.Len(t, thin(points[:1]), 1)
}

// A spike of a single sample among 20,000 is what a reader must not miss.
func TestThinKeepsASingleSpike(t *testing.T) {
	points := make([]vg.Point, 20_000)
	for i := range points {
		points[i] = vg.Point{X: vg.Length(i) * 0.02, Y: 50}
	}
	points[12_345].Y = 80
	require.Contains(t, thin(points), points[12_345])
}
