package plot

import (
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// markRows is the number of rows in which the names of marks take turns.
const markRows = 2

// layers draws a figure's content from back to front: grid, levels, marks,
// curve, names.
type layers struct{ f Figure }

func (l layers) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	l.grid(c, p, tx, ty)
	l.levels(c, p, ty)
	l.marks(c, p, tx)
	l.curve(c, tx, ty)
}

func (l layers) grid(c draw.Canvas, p *plot.Plot, tx, ty func(float64) vg.Length) {
	style := draw.LineStyle{Color: ink(inkGrid), Width: 0.5}
	for _, t := range p.X.Tick.Marker.Ticks(p.X.Min, p.X.Max) {
		c.StrokeLine2(style, tx(t.Value), c.Min.Y, tx(t.Value), c.Max.Y)
	}
	for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		c.StrokeLine2(style, c.Min.X, ty(t.Value), c.Max.X, ty(t.Value))
	}
}

// levels draws the dashed lines and sets their names beside the right edge,
// pushed apart where they would overlap.
func (l layers) levels(c draw.Canvas, p *plot.Plot, ty func(float64) vg.Length) {
	sty := p.X.Tick.Label
	sty.Color = ink(inkLimit)
	sty.XAlign, sty.YAlign = text.XLeft, text.YCenter
	list := slices.Clone(l.f.Levels)
	slices.SortStableFunc(list, func(a, b Level) int {
		if a.Y < b.Y {
			return -1
		}
		return 1
	})
	last := vg.Length(-1e9)
	for _, v := range list {
		y := ty(v.Y)
		c.StrokeLine2(draw.LineStyle{Color: ink(inkLimit), Width: 0.8, Dashes: []vg.Length{5, 3}}, c.Min.X, y, c.Max.X, y)
		at := max(y, last+sty.Font.Size*1.15)
		c.FillText(sty, vg.Point{X: c.Max.X + 4, Y: at}, v.Label)
		last = at
	}
}

// marks draws the instants. Their names stand in a band above the data, which
// Figure.extent keeps free, one row lower than the mark before where they are
// close, on the side of the line that has room.
func (l layers) marks(c draw.Canvas, p *plot.Plot, tx func(float64) vg.Length) {
	sty := p.X.Tick.Label
	sty.Color = ink(inkMark)
	sty.YAlign = text.YTop
	for i, m := range l.f.Marks {
		x := tx(m.X)
		c.StrokeLine2(draw.LineStyle{Color: ink(inkMark), Width: 0.7, Dashes: []vg.Length{1.5, 2}}, x, c.Min.Y, x, c.Max.Y)
		at := vg.Point{X: x + 3, Y: c.Max.Y - 1 - vg.Length(i%markRows)*sty.Font.Size*1.2}
		sty.XAlign = text.XLeft
		if at.X+sty.Width(m.Label) > c.Max.X {
			at.X, sty.XAlign = x-3, text.XRight
		}
		c.FillText(sty, at, m.Label)
	}
}

func (l layers) curve(c draw.Canvas, tx, ty func(float64) vg.Length) {
	points := make([]vg.Point, len(l.f.Curve))
	for i, p := range l.f.Curve {
		points[i] = vg.Point{X: tx(p.X), Y: ty(p.Y)}
	}
	c.StrokeLines(draw.LineStyle{Color: ink(inkLine), Width: 1.4}, points)
	if l.f.Dots {
		for _, p := range points {
			c.DrawGlyph(draw.GlyphStyle{Color: ink(inkLine), Radius: 1.4, Shape: draw.CircleGlyph{}}, p)
		}
	}
}
