package calibration

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// thermometer are the eleven corrections of JCGM 100:2008, H.3, table H.6: the
// temperature in degrees Celsius and the correction in kelvin (from memory; the
// results below, which the guide prints, would show a slip).
func thermometer() []Comparison {
	t := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	points := make([]Comparison, len(t))
	for i := range t {
		points[i] = Comparison{Reading: t[i], Reference: b[i]}
	}
	return points
}

// JCGM 100:2008, H.3.3 and H.3.4: intercept at 20 °C -0.1712 with s 0.0029,
// slope 0.00218 with s 0.00067, s 0.0035, and at 30 °C -0.1494 with 0.0041.
func TestFitOfTheThermometerOfTheGuide(t *testing.T) {
	l, err := Fit(thermometer(), 0)
	require.NoError(t, err)
	require.InDelta(t, 0.00218, l.Slope, 5e-6)
	require.InDelta(t, 0.00067, l.SlopeStd, 5e-6)
	require.InDelta(t, 0.0035, l.Residual, 5e-5)
	require.Equal(t, 9.0, l.DOF)
	require.InDelta(t, -0.1712, l.At(20), 5e-5)
	require.InDelta(t, 0.0029, l.Std(20), 5e-5)
	require.InDelta(t, -0.1494, l.At(30), 5e-5)
	require.InDelta(t, 0.0041, l.Std(30), 5e-5)
	// r(y1, y2) = -0.930 about 20 °C; about the centre there is none.
	require.InDelta(t, -0.930, -l.SlopeStd*(l.Centre-20)/l.Std(20), 5e-4)
}

func TestFitOfFewPoints(t *testing.T) {
	two, err := Fit([]Comparison{{1, 1.01, 0.001}, {3, 3.05, 0.001}}, 0)
	require.NoError(t, err)
	require.InDelta(t, 1.02, two.Slope, 1e-12)
	require.InDelta(t, 3.05, two.At(3), 1e-12)
	require.InDelta(t, 0.001, two.Std(1), 1e-9, "the repeatability of the point itself")
	require.Zero(t, two.DOF)

	one, err := Fit([]Comparison{{3.3, 3.303, 0.0003}}, 0.0004)
	require.NoError(t, err)
	require.InDelta(t, 3.303, one.At(3.3), 1e-12)
	require.Zero(t, one.At(0))
	require.InDelta(t, 0.0005, one.Std(3.3), 1e-9, "offset and repeatability")
}

func TestFitRefuses(t *testing.T) {
	for name, points := range map[string][]Comparison{
		"none": nil, "one at zero": {{0, 0.1, 0}}, "all alike": {{1, 1, 0}, {1, 1.1, 0}, {1, 1.2, 0}},
		"no number": {{math.NaN(), 1, 0}, {1, 1, 0}}, "infinite": {{1, math.Inf(1), 0}, {2, 1, 0}},
	} {
		_, err := Fit(points, 0)
		require.ErrorIs(t, err, ErrPoints, name)
	}
}

func TestFitFindsTheLineThatPointsLieOn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		slope, level := rapid.Float64Range(0.9, 1.1).Draw(t, "slope"), rapid.Float64Range(-0.1, 0.1).Draw(t, "level")
		var points []Comparison
		for i := range rapid.IntRange(2, 9).Draw(t, "points") {
			x := float64(i) + rapid.Float64Range(0, 0.5).Draw(t, "x")
			points = append(points, Comparison{Reading: x, Reference: level + slope*x})
		}
		l, err := Fit(points, 0)
		require.NoError(t, err)
		require.InDelta(t, slope, l.Slope, 1e-9)
		require.InDelta(t, level, l.At(0), 1e-9)
		require.InDelta(t, 0, l.Residual, 1e-9)
	})
}
