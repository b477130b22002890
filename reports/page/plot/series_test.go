package plot

import (
	"encoding/xml"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
)

// charted is a figure with a series of every shape.
func charted() Figure {
	return Figure{
		Title: "Means of subgroups", X: Axis{Name: "subgroup"}, Y: Axis{Name: "mean", Unit: "V", Floating: true},
		Curve: []Point{{1, 4.9}, {2, 5.1}, {3, 5.3}},
		Series: []Series{
			{Name: "seen", Shape: Bars, Ink: Pale, Points: []Point{{1, 5}, {2, 4}}, Width: 0.8},
			{Name: "fitted", Shape: Line, Ink: Orange, Points: []Point{{1, 5}, {3, 5.2}}},
			{Name: "expected", Shape: Dashed, Ink: Green, Points: []Point{{1, 5}, {3, 5.1}}},
			{Name: "limits", Shape: Steps, Ink: Brown, Points: []Point{{1, 5.2}, {2, 5.25}, {3, 5.2}}},
			{Name: "a rule is broken", Shape: Ring, Ink: Brown, Points: []Point{{3, 5.3}}},
			{Name: "nest 2", Shape: Dots, Ink: Grey, Points: []Point{{2.5, 5}}},
		},
		Levels: []Level{{"centre", 5}},
	}
}

func TestSeries(t *testing.T) {
	f := charted()
	svg, err := f.SVG(500, 180)
	require.NoError(t, err)
	again, err := f.SVG(500, 180)
	require.NoError(t, err)
	require.Equal(t, string(svg), string(again))
	require.NoError(t, xml.Unmarshal(svg, new(struct{})))
	for _, s := range f.Series {
		require.Contains(t, string(svg), ">"+s.Name+"<", "the key names every series")
		require.Contains(t, strings.ToLower(string(svg)), hexOf(ink(s.Ink.hex())))
	}
	require.NotContains(t, string(svg), "NaN")
	require.NotEmpty(t, document(t, f))
}

func TestAFigureMayBeMadeOfSeriesAlone(t *testing.T) {
	f := Figure{Title: "Histogram", X: Axis{Name: "v", Floating: true}, Series: []Series{{Shape: Bars, Ink: Pale, Points: []Point{{5, 3}, {6, 0}, {7, 1}}, Width: 1}}}
	x0, x1, y0, y1 := f.extent()
	require.Less(t, x0, 4.5)
	require.Greater(t, x1, 7.5)
	require.Less(t, y0, 0.0)
	require.Greater(t, y1, 3.0)
	svg, err := f.SVG(300, 150)
	require.NoError(t, err)
	require.Equal(t, 2, strings.Count(string(svg), hexOf(ink(Pale.hex()))), "a bar of height 0 is not drawn")
	require.Equal(t, "Histogram:  from 0 to 3.0 over 3.0", f.Description())
}

func TestSeriesThatCannotBeDrawn(t *testing.T) {
	for _, p := range []Point{{math.NaN(), 1}, {1, math.Inf(1)}, {1e31, 0}} {
		_, err := Figure{Title: "x", Series: []Series{{Points: []Point{{0, 0}, p}}}}.SVG(300, 150)
		require.ErrorIs(t, err, ErrNotDrawable)
	}
	_, err := Figure{Title: "x", Series: []Series{{}}}.SVG(300, 150)
	require.ErrorIs(t, err, ErrNotDrawable)
}

func TestSeriesTakeThePrefixOfTheAxis(t *testing.T) {
	f := Figure{X: Axis{Unit: "s"}, Y: Axis{Unit: "A"}, Series: []Series{{Shape: Bars, Points: []Point{{0.002, 0.4}}, Width: 0.001}},
		XTicks: []Tick{{0.002, "two"}}}
	s := f.scaled()
	require.Equal(t, "mA", s.Y.Unit)
	require.InDelta(t, 400, s.Series[0].Points[0].Y, 1e-9)
	require.InDelta(t, 2, s.Series[0].Points[0].X, 1e-9)
	require.InDelta(t, 1, s.Series[0].Width, 1e-9)
	require.InDelta(t, 2, s.XTicks[0].At, 1e-9)
	require.InDelta(t, 0.4, f.Series[0].Points[0].Y, 0, "the figure itself stays")
}

func TestNamedTicks(t *testing.T) {
	f := Figure{Title: "Kinds", Series: []Series{{Shape: Bars, Points: []Point{{1, 5}, {2, 3}}, Width: 0.8}}, XTicks: []Tick{{1, "short"}, {2, "no Rd"}, {9, "outside"}}}
	svg, err := f.SVG(300, 150)
	require.NoError(t, err)
	require.Contains(t, string(svg), ">no Rd<")
	require.NotContains(t, string(svg), "outside")
	var many []Tick
	for i := range 100 {
		many = append(many, Tick{float64(i), "a long name"})
	}
	st, err := newStyles()
	require.NoError(t, err)
	kept := fewer(many, 400, st.small(inkAxis).Width)
	require.Less(t, len(kept), 10, "named ticks do not run into each other")
	require.Equal(t, many[0], kept[0])
}

func TestStepsHoldHalfTheWay(t *testing.T) {
	f := charted()
	f.Series = []Series{{Shape: Steps, Points: []Point{{1, 5}, {2, 6}, {3, 5}}}}
	svg, err := f.SVG(500, 180)
	require.NoError(t, err)
	require.Contains(t, string(svg), "stroke-dasharray")
}

// Long names of a few ticks are set in lines; where a word alone is too wide they
// stay as they are.
func TestNamesOfTicksAreSetInLines(t *testing.T) {
	wide := func(s string) vg.Length {
		most := 0
		for _, line := range strings.Split(s, "\n") {
			most = max(most, len(line))
		}
		return vg.Length(most)
	}
	list := []Tick{{1, "one termination shared by both pins"}, {2, "no termination"}, {3, "the cell feeds the port, and more than that is said of it here"}}
	got := stacked(list, 3*(16+tickGap), wide)
	require.Equal(t, []Tick{{1, "one termination\nshared by both\npins"}, {2, "no termination"}, {3, "the cell feeds\nthe port, and\n…"}}, got)
	require.Len(t, fewer(got, 3*(16+tickGap), wide), 3)
	require.Equal(t, list, stacked(list, 3*(8+tickGap), wide))
}
