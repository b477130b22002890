package plot

import (
	"bytes"
	"fmt"
	"math"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	xfont "golang.org/x/image/font"
)

// Figure is a curve over time or another axis, with levels and marks.
type Figure struct {
	Title  string
	X, Y   string // axis titles with their unit: "time in ms"
	Curve  []Point
	Levels []Level
	Marks  []Mark
	// Dots draws a dot at each point, so that a reader sees how far apart
	// the samples are.
	Dots bool
}

// Point is one point of the curve, in the units of the axes.
type Point struct{ X, Y float64 }

// Level is a horizontal line with its name: a limit or a threshold.
type Level struct {
	Label string
	Y     float64
}

// Mark is a vertical line with its name: an instant.
type Mark struct {
	Label string
	X     float64
}

// SVG returns the figure as an SVG element for inlining into a page; width
// and height in points.
func (f Figure) SVG(width, height float64) ([]byte, error) {
	c := vgsvg.New(vg.Length(width), vg.Length(height))
	if err := f.draw(c, vg.Length(width), vg.Length(height)); err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if _, err := c.WriteTo(&out); err != nil {
		return nil, fmt.Errorf("plot: %s: write SVG: %w", f.Title, err)
	}
	return inline(out.Bytes()), nil
}

// inline makes an SVG file an element of a page: neither XML declaration nor
// doctype, a width that follows the page, and fonts that a reader's machine
// has where it lacks the Go fonts.
func inline(svg []byte) []byte {
	if at := bytes.Index(svg, []byte("<svg")); at > 0 {
		svg = svg[at:]
	}
	svg = bytes.ReplaceAll(svg, []byte("font-family:Go;"), []byte("font-family:Go,'DejaVu Sans',Verdana,Arial,sans-serif;"))
	return bytes.TrimSpace(svg)
}

// Draw draws the figure on the current page of a PDF whose unit is the point
// and which has the house's fonts (AddFonts), with its upper left corner at
// (x, y).
func (f Figure) Draw(pdf *fpdf.Fpdf, x, y, width, height float64) error {
	if err := f.draw(newCanvas(pdf, x, y, height), vg.Length(width), vg.Length(height)); err != nil {
		return err
	}
	if err := pdf.Error(); err != nil {
		return fmt.Errorf("plot: %s: draw into PDF: %w", f.Title, err)
	}
	return nil
}

func (f Figure) draw(c vg.Canvas, width, height vg.Length) error {
	p, err := f.plot()
	if err != nil {
		return err
	}
	area := draw.NewCanvas(c, width, height)
	// The names of levels stand in a margin at the right of the data.
	p.Draw(draw.Crop(area, 2, -f.margin(p), 2, -4))
	return nil
}

// margin is the width that the longest name of a level needs.
func (f Figure) margin(p *plot.Plot) vg.Length {
	var widest vg.Length
	for _, l := range f.Levels {
		widest = max(widest, p.X.Tick.Label.Width(l.Label))
	}
	return widest + 10
}

func (f Figure) plot() (*plot.Plot, error) {
	if err := f.finite(); err != nil {
		return nil, err
	}
	h, err := handler()
	if err != nil {
		return nil, err
	}
	p := plot.New()
	p.TextHandler = h
	p.BackgroundColor = nil
	p.Title.Text = f.Title
	styleText(&p.Title.TextStyle, h, 10, xfont.WeightBold)
	p.Title.Padding = 6
	f.styleAxis(&p.X, h, f.X, 8)
	f.styleAxis(&p.Y, h, f.Y, 6)
	p.Add(layers{f})
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = f.extent()
	return p, nil
}

func (f Figure) styleAxis(a *plot.Axis, h text.Handler, title string, want int) {
	a.Label.Text = title
	styleText(&a.Label.TextStyle, h, 9, xfont.WeightNormal)
	styleText(&a.Tick.Label, h, 8, xfont.WeightNormal)
	a.Tick.Marker = ticks{want}
	a.Color, a.Tick.Color = ink(inkAxis), ink(inkAxis)
	a.Width, a.Tick.Width = 0.6, 0.6
	a.Tick.Length = 3
	a.Padding = 0
}

func styleText(s *text.Style, h text.Handler, size vg.Length, weight xfont.Weight) {
	s.Font = font.Font{Typeface: Family, Weight: weight, Size: size}
	s.Handler = h
	s.Color = ink(inkAxis)
}

// finite refuses what cannot be drawn.
func (f Figure) finite() error {
	if len(f.Curve) == 0 {
		return fmt.Errorf("plot: %s: no points to draw", f.Title)
	}
	for i, p := range f.Curve {
		if math.IsNaN(p.X+p.Y) || math.IsInf(p.X, 0) || math.IsInf(p.Y, 0) {
			return fmt.Errorf("plot: %s: point %d is (%g, %g), which cannot be drawn", f.Title, i, p.X, p.Y)
		}
	}
	return nil
}

// extent is the range of both axes: everything is inside, levels and marks
// included, with room at the edges.
func (f Figure) extent() (x0, x1, y0, y1 float64) {
	x0, x1, y0, y1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range f.Curve {
		x0, x1 = min(x0, p.X), max(x1, p.X)
		y0, y1 = min(y0, p.Y), max(y1, p.Y)
	}
	for _, l := range f.Levels {
		y0, y1 = min(y0, l.Y), max(y1, l.Y)
	}
	for _, m := range f.Marks {
		x0, x1 = min(x0, m.X), max(x1, m.X)
	}
	x0, x1 = widen(x0, x1, 0.01)
	y0, y1 = widen(min(y0, 0), y1, 0.06)
	if len(f.Marks) > 0 {
		y1 += (y1 - y0) * 0.1 * float64(min(len(f.Marks), markRows))
	}
	return x0, x1, y0, y1
}

func widen(low, high, share float64) (float64, float64) {
	if high == low {
		high = low + 1
	}
	room := (high - low) * share
	return low - room, high + room
}
