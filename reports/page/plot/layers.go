package plot

import (
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// layers draws a figure's content from back to front: grid, bars, levels,
// marks, lines, curve, dots.
type layers struct {
	f      Figure
	styles styles
	labels []label
	flags  []flag
	// rows is the number of lines that the names of marks take.
	rows int
}

// Plot draws everything; it makes layers a plot.Plotter.
func (l layers) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	grid := draw.LineStyle{Color: ink(inkGrid), Width: 0.5}
	for _, t := range p.X.Tick.Marker.Ticks(p.X.Min, p.X.Max) {
		c.StrokeLine2(grid, tx(t.Value), c.Min.Y, tx(t.Value), c.Max.Y)
	}
	for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		c.StrokeLine2(grid, c.Min.X, ty(t.Value), c.Max.X, ty(t.Value))
	}
	l.areas(c, tx, ty)
	l.levels(c, ty)
	l.marks(c, tx)
	l.lines(c, tx, ty)
	l.curve(c, tx, ty)
	l.points(c, tx, ty)
}

// levels draws the dashed lines and sets their names beside the right edge,
// pushed apart where they would overlap and then led to their line.
func (l layers) levels(c draw.Canvas, ty func(float64) vg.Length) {
	dashed := draw.LineStyle{Color: ink(inkLimit), Width: 0.8, Dashes: []vg.Length{5, 3}}
	for _, v := range l.f.Levels {
		c.StrokeLine2(dashed, c.Min.X, ty(v.Y), c.Max.X, ty(v.Y))
	}
	thin := draw.LineStyle{Color: ink(inkLimit), Width: 0.4}
	sty := l.styles.small(inkLimit)
	top := c.Max.Y
	if l.rows == 0 {
		top += headerFoot // no names of marks there
	}
	for _, s := range spread(l.labels, ty, c.Min.Y-labelDip, top) {
		if s.lead {
			c.StrokeLine2(thin, c.Max.X+1, s.want, c.Max.X+labelGap-2, s.at)
		}
		sty.YAlign = text.YTop
		for i, line := range s.lines {
			c.FillText(sty, vg.Point{X: c.Max.X + labelGap, Y: s.at + s.height()/2 - vg.Length(i)*labelLead}, line)
		}
	}
}

// marks draws the instants, each with its name like a flag above the data.
func (l layers) marks(c draw.Canvas, tx func(float64) vg.Length) {
	dotted := draw.LineStyle{Color: ink(inkMark), Width: 0.7, Dashes: []vg.Length{1.5, 2}}
	sty := l.styles.small(inkMark)
	sty.YAlign = text.YBottom
	for _, f := range l.flags {
		x := tx(f.x)
		foot := c.Max.Y + vg.Length(f.row)*markLead
		top := foot
		if f.name != "" {
			top += markLead * 0.8
		}
		c.StrokeLine2(dotted, x, c.Min.Y, x, top)
		if f.name != "" {
			c.FillText(sty, vg.Point{X: x + flagGap, Y: foot + 1}, f.name)
		}
	}
}

// dotsUpTo and dotSpace tell when each sample gets a dot: few enough that the
// dots stay apart.
const (
	dotsUpTo = 80
	dotSpace = 4.0
)

func (l layers) curve(c draw.Canvas, tx, ty func(float64) vg.Length) {
	if len(l.f.Curve) == 0 {
		return
	}
	points := make([]vg.Point, len(l.f.Curve))
	for i, p := range l.f.Curve {
		points[i] = vg.Point{X: tx(p.X), Y: ty(p.Y)}
	}
	c.StrokeLines(draw.LineStyle{Color: ink(inkLine), Width: 1.3}, thin(points))
	width := points[len(points)-1].X - points[0].X
	if len(points) > dotsUpTo || len(points) > 1 && width/vg.Length(len(points)) < dotSpace {
		return
	}
	var dots vg.Path
	for _, p := range points {
		dots.Move(vg.Point{X: p.X + dotRadius, Y: p.Y})
		dots.Arc(p, dotRadius, 0, 2*3.141592653589793)
		dots.Close()
	}
	c.SetColor(ink(inkLine))
	c.Fill(dots)
}

// dotRadius is the radius of a sample's dot.
const dotRadius = 1.5
