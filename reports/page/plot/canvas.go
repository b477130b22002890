package plot

import (
	"image"
	"image/color"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// surface takes what a canvas draws, in points of the page with its origin at
// the top left and y downwards.
type surface interface {
	stroke(o outline, l line)
	fill(o outline, ink color.NRGBA)
	// text sets a line whose left end stands on (x, y), turned by degrees
	// counter-clockwise around that point, in the width of its face.
	text(x, y, degrees float64, f face, s string)
}

// outline is a path of segments.
type outline []segment

// segment is one step of an outline: 'M' moves to At, 'L' draws a line there,
// 'C' a cubic Bézier curve by way of C1 and C2, 'Z' closes.
type segment struct {
	Op         byte
	At, C1, C2 spot
}

// spot is a place on the page.
type spot struct{ X, Y float64 }

// line is how an outline is stroked.
type line struct {
	Ink    color.NRGBA
	Width  float64
	Dashes []float64
}

// face is how a text is set, and how wide it was measured to be.
type face struct {
	Ink   color.NRGBA
	Size  float64
	Bold  bool
	Width float64
}

// canvas is a vg.Canvas over a surface. gonum/plot has its origin at the
// bottom left with y upwards; canvas keeps the transformation itself.
type canvas struct {
	to    surface
	state state
	stack []state
}

// state is what Push saves.
type state struct {
	m      affine
	width  vg.Length
	dashes []vg.Length
	ink    color.NRGBA
}

// affine maps (x, y) to (a x + c y + e, b x + d y + f).
type affine struct{ a, b, c, d, e, f float64 }

func (m affine) apply(p vg.Point) spot {
	x, y := p.X.Points(), p.Y.Points()
	return spot{m.a*x + m.c*y + m.e, m.b*x + m.d*y + m.f}
}

// then returns the map that applies n first and m after it.
func (m affine) then(n affine) affine {
	return affine{
		a: m.a*n.a + m.c*n.b, b: m.b*n.a + m.d*n.b,
		c: m.a*n.c + m.c*n.d, d: m.b*n.c + m.d*n.d,
		e: m.a*n.e + m.c*n.f + m.e, f: m.b*n.e + m.d*n.f + m.f,
	}
}

// angle is the rotation of the map on the page, in degrees counter-clockwise.
func (m affine) angle() float64 { return -math.Atan2(m.b, m.a) * 180 / math.Pi }

// newCanvas returns a canvas of the given height whose upper left corner lies
// at (x, y) of the surface; all lengths in points.
func newCanvas(to surface, x, y, height float64) *canvas {
	return &canvas{to: to, state: state{
		m: affine{a: 1, d: -1, e: x, f: y + height}, width: vg.Points(1), ink: color.NRGBA{A: 0xFF},
	}}
}

// SetLineWidth sets the width of the lines that Stroke draws.
func (c *canvas) SetLineWidth(w vg.Length) { c.state.width = w }

// SetLineDash sets the dashes; their offset is always 0 in this house.
func (c *canvas) SetLineDash(pattern []vg.Length, _ vg.Length) { c.state.dashes = pattern }

// SetColor sets the ink of lines, areas and texts; nil is black.
func (c *canvas) SetColor(ink color.Color) {
	if ink == nil {
		ink = color.Black
	}
	c.state.ink = color.NRGBAModel.Convert(ink).(color.NRGBA)
}

// Rotate turns what follows counter-clockwise.
func (c *canvas) Rotate(rad float64) {
	s, k := math.Sincos(rad)
	c.state.m = c.state.m.then(affine{a: k, b: s, c: -s, d: k})
}

// Translate moves the origin.
func (c *canvas) Translate(p vg.Point) {
	c.state.m = c.state.m.then(affine{a: 1, d: 1, e: p.X.Points(), f: p.Y.Points()})
}

// Scale stretches what follows.
func (c *canvas) Scale(x, y float64) { c.state.m = c.state.m.then(affine{a: x, d: y}) }

// Push saves the state.
func (c *canvas) Push() { c.stack = append(c.stack, c.state) }

// Pop returns to the state that Push saved last.
func (c *canvas) Pop() {
	c.state = c.stack[len(c.stack)-1]
	c.stack = c.stack[:len(c.stack)-1]
}

// Stroke draws a path as a line.
func (c *canvas) Stroke(p vg.Path) {
	if c.state.width <= 0 {
		return
	}
	l := line{Ink: c.state.ink, Width: c.state.width.Points()}
	for _, d := range c.state.dashes {
		l.Dashes = append(l.Dashes, d.Points())
	}
	c.to.stroke(c.outline(p), l)
}

// Fill draws the area inside a path.
func (c *canvas) Fill(p vg.Path) { c.to.fill(c.outline(p), c.state.ink) }

// FillString sets a line of text.
func (c *canvas) FillString(f font.Face, p vg.Point, text string) {
	if f.Font.Size == 0 {
		return
	}
	at := c.state.m.apply(p)
	c.to.text(at.X, at.Y, c.state.m.angle(), face{
		Ink: c.state.ink, Size: f.Font.Size.Points(), Bold: f.Font.Weight > 0, Width: f.Width(text).Points(),
	}, text)
}

// DrawImage does nothing: no figure of the house holds a raster image, and
// codes are drawn by the pages themselves.
func (c *canvas) DrawImage(vg.Rectangle, image.Image) {}

func (c *canvas) outline(p vg.Path) outline {
	o := make(outline, 0, len(p))
	for _, s := range p {
		switch s.Type {
		case vg.MoveComp:
			o = append(o, segment{Op: 'M', At: c.state.m.apply(s.Pos)})
		case vg.LineComp:
			o = append(o, segment{Op: 'L', At: c.state.m.apply(s.Pos)})
		case vg.ArcComp:
			o = c.arc(o, s)
		case vg.CurveComp:
			o = c.curve(o, s)
		case vg.CloseComp:
			o = append(o, segment{Op: 'Z'})
		}
	}
	return o
}

// arc appends an arc as Bézier curves of at most a quarter turn each, whose
// control points lie 4/3 tan(θ/4) radii along the tangents; the error is
// below 0.03 % of the radius.
func (c *canvas) arc(o outline, s vg.PathComp) outline {
	n := max(1, int(math.Ceil(math.Abs(s.Angle)/(math.Pi/2)-1e-9)))
	step := s.Angle / float64(n)
	reach := 4.0 / 3 * math.Tan(step/4)
	at := func(angle, along float64) spot {
		sin, cos := math.Sincos(angle)
		return c.state.m.apply(vg.Point{
			X: s.Pos.X + s.Radius*vg.Length(cos-along*sin),
			Y: s.Pos.Y + s.Radius*vg.Length(sin+along*cos),
		})
	}
	first := byte('L')
	if len(o) == 0 || o[len(o)-1].Op == 'Z' {
		first = 'M'
	}
	o = append(o, segment{Op: first, At: at(s.Start, 0)})
	for i := range n {
		from := s.Start + step*float64(i)
		o = append(o, segment{Op: 'C', C1: at(from, reach), C2: at(from+step, -reach), At: at(from+step, 0)})
	}
	return o
}

// curve appends a Bézier curve; a quadratic one is raised to a cubic.
func (c *canvas) curve(o outline, s vg.PathComp) outline {
	end := c.state.m.apply(s.Pos)
	switch len(s.Control) {
	case 0:
		return append(o, segment{Op: 'L', At: end})
	case 1:
		q := c.state.m.apply(s.Control[0])
		start := q
		if len(o) > 0 {
			start = o[len(o)-1].At
		}
		return append(o, segment{Op: 'C', C1: toward(start, q, 2.0/3), C2: toward(end, q, 2.0/3), At: end})
	}
	return append(o, segment{Op: 'C', C1: c.state.m.apply(s.Control[0]), C2: c.state.m.apply(s.Control[1]), At: end})
}

func toward(from, to spot, share float64) spot {
	return spot{from.X + (to.X-from.X)*share, from.Y + (to.Y-from.Y)*share}
}
