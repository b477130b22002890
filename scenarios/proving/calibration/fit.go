package calibration

import (
	"errors"
	"fmt"
	"math"
)

// ErrPoints is the cause when no line goes through the points.
var ErrPoints = errors.New("no line through the points")

// Comparison is a reading with what the reference showed, in SI.
type Comparison struct {
	Reading, Reference float64
	// Std is the repeatability of the reading (standard uncertainty of the
	// mean).
	Std float64
}

// Line is what the reference shows for a reading:
//
//	value = Level + Slope*(reading - Centre)
type Line struct {
	Centre, Level, Slope float64
	// LevelStd and SlopeStd are standard uncertainties, independent of each
	// other; DOF their degrees of freedom, 0 for infinite.
	LevelStd, SlopeStd, DOF float64
	// Residual is the standard deviation of the points about the line; 0 where
	// they do not tell.
	Residual float64
}

// At is the value for a reading.
func (l Line) At(reading float64) float64 { return l.Level + l.Slope*(reading-l.Centre) }

// Std is the standard uncertainty of the line at a reading (JCGM 100:2008,
// H.3.4).
func (l Line) Std(reading float64) float64 {
	return math.Hypot(l.LevelStd, l.SlopeStd*(reading-l.Centre))
}

// Fit fits a line by least squares, every point with the same weight (JCGM
// 100:2008, H.3.2).
//
// Special cases: two points give the line through them with the uncertainty of
// their repeatability. One point gives the line through zero, the uncertainty
// of whose offset is offset; it must not lie at zero. ErrPoints for none, for
// readings that are all alike, and for numbers that are not finite.
func Fit(points []Comparison, offset float64) (Line, error) {
	n := float64(len(points))
	var x, y, repeat float64
	for _, p := range points {
		x, y, repeat = x+p.Reading/n, y+p.Reference/n, repeat+p.Std*p.Std/n
	}
	if len(points) == 0 || math.IsNaN(x+y+repeat) || math.IsInf(x+y+repeat, 0) {
		return Line{}, fmt.Errorf("fit %d points: %w", len(points), ErrPoints)
	}
	if len(points) == 1 {
		if x == 0 {
			return Line{}, fmt.Errorf("fit one point at a reading of 0: %w", ErrPoints)
		}
		return Line{Slope: y / x, SlopeStd: math.Sqrt(repeat) / math.Abs(x), LevelStd: offset}, nil
	}
	var sxx, sxy float64
	for _, p := range points {
		sxx += (p.Reading - x) * (p.Reading - x)
		sxy += (p.Reading - x) * (p.Reference - y)
	}
	if sxx == 0 {
		return Line{}, fmt.Errorf("fit %d points, all at a reading of %g: %w", len(points), x, ErrPoints)
	}
	l := Line{Centre: x, Level: y, Slope: sxy / sxx}
	variance := repeat
	if len(points) > 2 {
		squares := 0.0
		for _, p := range points {
			r := p.Reference - l.At(p.Reading)
			squares += r * r
		}
		l.DOF = n - 2
		variance = squares / l.DOF
		l.Residual = math.Sqrt(variance)
	}
	l.LevelStd, l.SlopeStd = math.Sqrt(variance/n), math.Sqrt(variance/sxx)
	return l, nil
}

// reach is how far from its one point a thermometer may be off by what its wiring
// bounds again: 50 K, what a bandgap sensor's error moves by over its range. Own
// choice.
const reach = 50

// Shift is the line of slope 1 through one point, for a channel whose error is an
// offset and no proportion, as that of a thermometer in kelvin. offset is the
// standard uncertainty that was allowed for the offset.
func Shift(p Comparison, offset float64) Line {
	return Line{Centre: p.Reading, Level: p.Reference, Slope: 1, LevelStd: p.Std, SlopeStd: offset / reach}
}
