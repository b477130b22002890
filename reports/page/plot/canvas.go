package plot

import (
	"image"
	"image/color"
	"math"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// canvas draws on a page of a PDF whose unit is the point. gonum/plot has its
// origin at the bottom left with y upwards, fpdf at the top left with y
// downwards, so canvas keeps the transformation itself and hands fpdf plain
// page coordinates.
type canvas struct {
	pdf   *fpdf.Fpdf
	state state
	stack []state
}

// state is what Push saves.
type state struct {
	m      affine
	width  vg.Length
	dashes []vg.Length
	offset vg.Length
	ink    color.Color
}

// affine maps (x, y) to (a x + c y + e, b x + d y + f).
type affine struct{ a, b, c, d, e, f float64 }

func (m affine) apply(p vg.Point) (x, y float64) {
	px, py := p.X.Points(), p.Y.Points()
	return m.a*px + m.c*py + m.e, m.b*px + m.d*py + m.f
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

// newCanvas returns a canvas whose lower left corner lies at (x, y+h) of the
// page; all lengths in points.
func newCanvas(pdf *fpdf.Fpdf, x, y, h float64) *canvas {
	return &canvas{pdf: pdf, state: state{
		m: affine{a: 1, d: -1, e: x, f: y + h}, width: vg.Points(1), ink: color.Black,
	}}
}

func (c *canvas) SetLineWidth(w vg.Length) { c.state.width = w }

func (c *canvas) SetLineDash(pattern []vg.Length, offset vg.Length) {
	c.state.dashes, c.state.offset = pattern, offset
}

func (c *canvas) SetColor(ink color.Color) {
	if ink == nil {
		ink = color.Black
	}
	c.state.ink = ink
}

func (c *canvas) Rotate(rad float64) {
	s, k := math.Sincos(rad)
	c.state.m = c.state.m.then(affine{a: k, b: s, c: -s, d: k})
}

func (c *canvas) Translate(p vg.Point) {
	c.state.m = c.state.m.then(affine{a: 1, d: 1, e: p.X.Points(), f: p.Y.Points()})
}

func (c *canvas) Scale(x, y float64) { c.state.m = c.state.m.then(affine{a: x, d: y}) }

func (c *canvas) Push() { c.stack = append(c.stack, c.state) }

func (c *canvas) Pop() {
	c.state = c.stack[len(c.stack)-1]
	c.stack = c.stack[:len(c.stack)-1]
}

func (c *canvas) Stroke(p vg.Path) {
	if c.state.width <= 0 {
		return
	}
	r, g, b := rgb(c.state.ink)
	c.pdf.SetDrawColor(r, g, b)
	c.pdf.SetLineWidth(c.state.width.Points())
	dashes := make([]float64, len(c.state.dashes))
	for i, d := range c.state.dashes {
		dashes[i] = d.Points()
	}
	c.pdf.SetDashPattern(dashes, c.state.offset.Points())
	c.path(p)
	c.pdf.DrawPath("D")
	c.pdf.SetDashPattern([]float64{}, 0)
}

func (c *canvas) Fill(p vg.Path) {
	r, g, b := rgb(c.state.ink)
	c.pdf.SetFillColor(r, g, b)
	c.path(p)
	c.pdf.DrawPath("F")
}

// arcSteps is the number of chords that a full circle is drawn with: on a
// marker of a few points the error is far below a printer's dot.
const arcSteps = 48

func (c *canvas) path(p vg.Path) {
	for _, s := range p {
		switch s.Type {
		case vg.MoveComp:
			c.pdf.MoveTo(c.state.m.apply(s.Pos))
		case vg.LineComp:
			c.pdf.LineTo(c.state.m.apply(s.Pos))
		case vg.ArcComp:
			c.arc(s)
		case vg.CurveComp:
			c.curve(s)
		case vg.CloseComp:
			c.pdf.ClosePath()
		}
	}
}

func (c *canvas) arc(s vg.PathComp) {
	n := max(2, int(math.Ceil(math.Abs(s.Angle)/(2*math.Pi)*arcSteps)))
	for i := 0; i <= n; i++ {
		sin, cos := math.Sincos(s.Start + s.Angle*float64(i)/float64(n))
		x, y := c.state.m.apply(vg.Point{X: s.Pos.X + s.Radius*vg.Length(cos), Y: s.Pos.Y + s.Radius*vg.Length(sin)})
		if i == 0 {
			c.pdf.MoveTo(x, y)
			continue
		}
		c.pdf.LineTo(x, y)
	}
}

func (c *canvas) curve(s vg.PathComp) {
	if len(s.Control) == 0 {
		c.pdf.LineTo(c.state.m.apply(s.Pos))
		return
	}
	x1, y1 := c.state.m.apply(s.Control[0])
	x2, y2 := c.state.m.apply(s.Control[len(s.Control)-1])
	x, y := c.state.m.apply(s.Pos)
	c.pdf.CurveBezierCubicTo(x1, y1, x2, y2, x, y)
}

func (c *canvas) FillString(f font.Face, p vg.Point, text string) {
	if f.Font.Size == 0 {
		return
	}
	r, g, b := rgb(c.state.ink)
	c.pdf.SetTextColor(r, g, b)
	style := ""
	if f.Font.Weight > 0 {
		style = "B"
	}
	c.pdf.SetFont(Family, style, f.Font.Size.Points())
	x, y := c.state.m.apply(p)
	if angle := c.state.m.angle(); math.Abs(angle) > 0.01 {
		c.pdf.TransformBegin()
		c.pdf.TransformRotate(angle, x, y)
		c.pdf.Text(x, y, text)
		c.pdf.TransformEnd()
		return
	}
	c.pdf.Text(x, y, text)
}

// DrawImage does nothing: no figure of the house holds a raster image, and
// codes are drawn by the pages themselves.
func (c *canvas) DrawImage(vg.Rectangle, image.Image) {}

func rgb(ink color.Color) (r, g, b int) {
	v := color.NRGBAModel.Convert(ink).(color.NRGBA)
	return int(v.R), int(v.G), int(v.B)
}
