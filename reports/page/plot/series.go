package plot

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Series is a further set of points in a figure: where one curve does not tell
// it all. Its name stands in the key under the title; without one it is not
// named.
type Series struct {
	Name   string
	Shape  Shape
	Ink    Ink
	Points []Point
	// Width is that of bars, in the unit of X.
	Width float64
}

// Shape is how the points of a series are drawn.
type Shape int

// The shapes. A Bar stands on zero around its X; Steps hold each Y for half the
// way to the neighbours; Ring goes around a point of another series; Room is not
// drawn and makes room for what is.
const (
	Line Shape = iota
	Dashed
	Dots
	Bars
	Steps
	Ring
	Room
)

// Ink is the colour of a series. Series that stand together differ by their
// shape or place as well, so that colour alone carries nothing.
type Ink int

// The inks: the blue of curves, an orange and a green for what stands beside
// them, the red-brown of limits, a pale blue for areas, grey.
const (
	Blue Ink = iota
	Orange
	Green
	Brown
	Pale
	Grey
)

// hex is the colour; all but Pale have a contrast above 4.5:1 on white, and
// stay apart for readers who do not tell red from green.
func (i Ink) hex() uint32 {
	inks := [...]uint32{inkLine, 0xB35900, 0x00705A, inkLimit, 0xB9D0E6, 0x5A5A5A}
	if i < 0 || int(i) >= len(inks) {
		return inkLine
	}
	return inks[i]
}

// Tick is a label at a place of an axis, for axes whose places have names.
type Tick struct {
	At    float64
	Label string
}

// fixedTicks are the ticks of an axis that names its places.
type fixedTicks []Tick

// Ticks returns those in the range.
func (f fixedTicks) Ticks(low, high float64) []plot.Tick {
	var list []plot.Tick
	for _, t := range f {
		if t.At >= low && t.At <= high {
			list = append(list, plot.Tick{Value: t.At, Label: t.Label})
		}
	}
	return list
}

// mostLines is how many lines a named tick may have under an axis.
const mostLines = 3

// stacked sets the words of named ticks in lines, where that lets all of them stand
// beside each other.
func stacked(list []Tick, room vg.Length, wide func(string) vg.Length) []Tick {
	if len(list) == 0 {
		return list
	}
	each := room/vg.Length(len(list)) - tickGap
	measure := func(t string) float64 { return wide(t).Points() }
	out := slices.Clone(list)
	for i, t := range list {
		lines := Wrap(t.Label, each.Points(), measure)
		for _, word := range strings.Fields(t.Label) {
			if wide(word) > each {
				return list // a word would be broken
			}
		}
		if len(lines) > mostLines {
			lines = append(lines[:mostLines-1], "…")
		}
		out[i].Label = strings.Join(lines, "\n")
	}
	return out
}

// tickGap is the room between two labels of an axis.
const tickGap = vg.Length(4)

// fewer leaves ticks out until their labels have room beside each other.
func fewer(list []Tick, room vg.Length, wide func(string) vg.Length) []Tick {
	for step := 1; ; step++ {
		var kept []Tick
		widest := vg.Length(0)
		for i := 0; i < len(list); i += step {
			kept = append(kept, list[i])
			widest = max(widest, wide(list[i].Label))
		}
		if len(kept) < 2 || (widest+tickGap)*vg.Length(len(kept)) <= room {
			return kept
		}
	}
}

// each calls f for every point of the figure, those of bars with their edges.
func (f Figure) each(visit func(Point)) {
	for _, p := range f.Curve {
		visit(p)
	}
	for _, s := range f.Series {
		for _, p := range s.Points {
			if s.Shape == Bars {
				visit(Point{p.X - s.Width/2, 0})
				visit(Point{p.X + s.Width/2, p.Y})
				continue
			}
			visit(p)
		}
	}
}

// across is the range of the abscissas of everything but marks.
func (f Figure) across() (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	f.each(func(p Point) { first, last = min(first, p.X), max(last, p.X) })
	return first, last
}

// upright is the range of the ordinates of the curve and the series.
func (f Figure) upright() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	f.each(func(p Point) { low, high = min(low, p.Y), max(high, p.Y) })
	return low, high
}

// areas draws the bars, behind everything else.
func (l layers) areas(c draw.Canvas, tx, ty func(float64) vg.Length) {
	const gap = vg.Length(0.4)
	for _, s := range l.f.Series {
		if s.Shape != Bars {
			continue
		}
		c.SetColor(ink(s.Ink.hex()))
		for _, p := range s.Points {
			if p.Y == 0 {
				continue
			}
			left, right, foot, top := tx(p.X-s.Width/2)+gap, tx(p.X+s.Width/2)-gap, ty(0), ty(p.Y)
			if right-left < 2*gap {
				left, right = left-gap, right+gap
			}
			var bar vg.Path
			bar.Move(vg.Point{X: left, Y: foot})
			bar.Line(vg.Point{X: left, Y: top})
			bar.Line(vg.Point{X: right, Y: top})
			bar.Line(vg.Point{X: right, Y: foot})
			bar.Close()
			c.Fill(bar)
		}
	}
}

// lines draws the series that are lines.
func (l layers) lines(c draw.Canvas, tx, ty func(float64) vg.Length) {
	for _, s := range l.f.Series {
		points := make([]vg.Point, 0, len(s.Points))
		for _, p := range s.Points {
			points = append(points, vg.Point{X: tx(p.X), Y: ty(p.Y)})
		}
		style := draw.LineStyle{Color: ink(s.Ink.hex()), Width: 1.1}
		switch s.Shape {
		case Line:
			c.StrokeLines(style, thin(points))
		case Dashed:
			style.Dashes, style.Width = []vg.Length{5, 3}, 0.8
			c.StrokeLines(style, thin(points))
		case Steps:
			style.Dashes, style.Width = []vg.Length{5, 3}, 0.8
			c.StrokeLines(style, thin(steps(points)))
		}
	}
}

// steps holds each ordinate for half the way to the neighbours.
func steps(points []vg.Point) []vg.Point {
	var out []vg.Point
	for i, p := range points {
		left, right := p.X, p.X
		if i > 0 {
			left = (points[i-1].X + p.X) / 2
		}
		if i+1 < len(points) {
			right = (points[i+1].X + p.X) / 2
		}
		out = append(out, vg.Point{X: left, Y: p.Y}, vg.Point{X: right, Y: p.Y})
	}
	return out
}

// ringRadius is the radius of the ring around a point.
const ringRadius = 3.4

// points draws the dots and the rings, on top.
func (l layers) points(c draw.Canvas, tx, ty func(float64) vg.Length) {
	for _, s := range l.f.Series {
		if s.Shape == Dots || s.Shape == Ring {
			mark(c, s, func(p Point) vg.Point { return vg.Point{X: tx(p.X), Y: ty(p.Y)} }, s.Points)
		}
	}
}

func mark(c draw.Canvas, s Series, at func(Point) vg.Point, list []Point) {
	c.SetColor(ink(s.Ink.hex()))
	if s.Shape == Ring {
		c.SetLineWidth(1.3)
		c.SetLineDash(nil, 0)
	}
	var dots vg.Path
	for _, p := range list {
		r, centre := vg.Length(dotRadius), at(p)
		if s.Shape == Ring {
			r = ringRadius
		}
		dots.Move(vg.Point{X: centre.X + r, Y: centre.Y})
		dots.Arc(centre, r, 0, 2*math.Pi)
		dots.Close()
	}
	if s.Shape == Ring {
		c.Stroke(dots)
		return
	}
	c.Fill(dots)
}

// The measures of the key, in points.
const (
	keyLead   = vg.Length(11)
	keySample = vg.Length(14)
	keyGap    = vg.Length(12)
)

// key names the series in rows under the title, and returns their height.
func (s styles) key(area draw.Canvas, f Figure, y vg.Length) vg.Length {
	sty := s.small(inkMark)
	x, top := area.Min.X, y
	used := false
	for _, series := range f.Series {
		if series.Name == "" {
			continue
		}
		name := shortened(sty, series.Name, (area.Max.X-area.Min.X)*0.8)
		width := keySample + 4 + sty.Width(name)
		if used && x+width > area.Max.X {
			x, y = area.Min.X, y-keyLead
		}
		used = true
		series.sample(area, x, y-keyLead/2)
		area.FillText(sty, vg.Point{X: x + keySample + 4, Y: y - keyLead/2 - 2.8}, name)
		x += width + keyGap
	}
	if !used {
		return 0
	}
	return top - y + keyLead + 2
}

// sample draws what a series looks like, for the key.
func (s Series) sample(c draw.Canvas, x, y vg.Length) {
	from, to := vg.Point{X: x, Y: y}, vg.Point{X: x + keySample, Y: y}
	style := draw.LineStyle{Color: ink(s.Ink.hex()), Width: 1.1}
	switch s.Shape {
	case Dashed, Steps:
		style.Dashes, style.Width = []vg.Length{5, 3}, 0.8
		c.StrokeLines(style, []vg.Point{from, to})
	case Bars:
		c.SetColor(ink(s.Ink.hex()))
		var bar vg.Path
		bar.Move(vg.Point{X: x + 2, Y: y - 3})
		bar.Line(vg.Point{X: x + 2, Y: y + 3})
		bar.Line(vg.Point{X: x + keySample - 2, Y: y + 3})
		bar.Line(vg.Point{X: x + keySample - 2, Y: y - 3})
		bar.Close()
		c.Fill(bar)
	case Dots, Ring:
		mark(c, s, func(Point) vg.Point { return vg.Point{X: x + keySample/2, Y: y} }, make([]Point, 1))
	default:
		c.StrokeLines(style, []vg.Point{from, to})
	}
}
