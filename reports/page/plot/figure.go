package plot

import (
	"bytes"
	"errors"
	"fmt"
	"math"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// ErrNotDrawable is the cause when a figure's data cannot be drawn: no point,
// a number that is not finite or beyond 1e30, an abscissa that goes back.
var ErrNotDrawable = errors.New("cannot be drawn")

// Figure is a curve over time or another axis, with further series, levels and marks, all in
// SI units without prefix. Drawing chooses the prefixes.
type Figure struct {
	Title string
	// Note stands under the title, smaller: how the curve was sampled.
	Note string
	X, Y Axis
	// Curve is what was measured; its X never goes back. It may be empty where
	// there are series.
	Curve  []Point
	Series []Series `json:",omitempty"`
	// XTicks and YTicks name places of an axis, in their order; empty for
	// numbers.
	XTicks []Tick `json:",omitempty"`
	YTicks []Tick `json:",omitempty"`
	Levels []Level
	Marks  []Mark
}

// Axis names what an axis shows.
type Axis struct {
	// Name is what a reader calls it: "time", "VBUS".
	Name string
	// Unit is the symbol without prefix: "V", "s", "°C"; empty or "1" for a
	// pure number.
	Unit string
	// Floating says that zero means nothing on this axis, as with degrees
	// Celsius; else zero is always inside.
	Floating bool
}

// Point is one point of the curve.
type Point struct{ X, Y float64 }

// Level is a horizontal line with its name: a limit or a threshold. Its value
// is set beside the name.
type Level struct {
	Label string
	Y     float64
}

// Mark is a vertical line with its name: an instant. One that is far outside
// the curve is told in the note instead of squeezing the curve.
type Mark struct {
	Label string
	X     float64
}

// limit is the largest magnitude that is drawn; beyond it sums and squares
// on the way to the page would leave the range of numbers that print.
const limit = 1e30

// Validate tells whether the figure can be drawn. It wraps ErrNotDrawable.
func (f Figure) Validate() error {
	within := func(v float64) bool { return math.Abs(v) <= limit }
	points, bad := 0, 0
	f.each(func(p Point) {
		points++
		if !within(p.X) || !within(p.Y) {
			bad++
		}
	})
	if points == 0 {
		return fmt.Errorf("plot: %s: no points: %w", f.Title, ErrNotDrawable)
	}
	for i, p := range f.Curve {
		if !within(p.X) || !within(p.Y) {
			return fmt.Errorf("plot: %s: point %d is (%g, %g): %w", f.Title, i+1, p.X, p.Y, ErrNotDrawable)
		}
		if i > 0 && p.X < f.Curve[i-1].X {
			return fmt.Errorf("plot: %s: point %d at %g lies before the one at %g: %w", f.Title, i+1, p.X, f.Curve[i-1].X, ErrNotDrawable)
		}
	}
	if bad > 0 {
		return fmt.Errorf("plot: %s: %d points of its series are not finite, or beyond %g: %w", f.Title, bad, limit, ErrNotDrawable)
	}
	for _, l := range f.Levels {
		if !within(l.Y) {
			return fmt.Errorf("plot: %s: level %q is %g: %w", f.Title, l.Label, l.Y, ErrNotDrawable)
		}
	}
	for _, m := range f.Marks {
		if !within(m.X) {
			return fmt.Errorf("plot: %s: mark %q is at %g: %w", f.Title, m.Label, m.X, ErrNotDrawable)
		}
	}
	return nil
}

// SVG returns the figure as an SVG element for inlining into a page; width
// and height in points. It wraps ErrNotDrawable.
func (f Figure) SVG(width, height float64) ([]byte, error) {
	k := inkSVG{new(bytes.Buffer)}
	k.open(width, height, f.Description())
	if err := f.draw(newCanvas(k, 0, 0, height), vg.Length(width), vg.Length(height)); err != nil {
		return nil, err
	}
	k.close()
	return k.out.Bytes(), nil
}

// Draw draws the figure on the current page of a PDF whose unit is the point
// and which has the house's fonts (AddFonts), with its upper left corner at
// (x, y). It wraps ErrNotDrawable.
func (f Figure) Draw(pdf *fpdf.Fpdf, x, y, width, height float64) error {
	if err := f.draw(newCanvas(inkPDF{pdf}, x, y, height), vg.Length(width), vg.Length(height)); err != nil {
		return err
	}
	if err := pdf.Error(); err != nil {
		return fmt.Errorf("plot: %s: draw into PDF: %w", f.Title, err)
	}
	return nil
}

// Description says in words what the figure shows, for readers who hear the
// page.
func (f Figure) Description() string {
	if f.Validate() != nil {
		return f.Title
	}
	s := f.scaled()
	low, high := s.upright()
	first, last := s.across()
	text := fmt.Sprintf("%s: %s from %s to %s over %s", f.Title, s.Y.Name, s.Y.value(low), s.Y.value(high), s.X.value(last-first))
	for _, l := range s.Levels {
		text += fmt.Sprintf("; %s %s", l.Label, s.Y.value(l.Y))
	}
	return text
}

// draw lays the figure out from the edges inwards: the names of levels need
// room at the right, those of marks above the data, title and note above all.
func (f Figure) draw(c vg.Canvas, width, height vg.Length) error {
	if err := f.Validate(); err != nil {
		return err
	}
	s, err := newStyles()
	if err != nil {
		return err
	}
	f = f.printable().scaled()
	f.X.Name = shortened(s.small(inkAxis), f.X.Name, width*axisShare)
	f.Y.Name = shortened(s.small(inkAxis), f.Y.Name, height*axisShare)
	area := draw.Crop(draw.NewCanvas(c, width, height), 2, -2, 2, 0)
	l := layers{f: f.near(), styles: s}
	l.labels = l.levelLabels(width * labelShare)
	wide := s.small(inkAxis).Width
	l.f.XTicks = fewer(stacked(l.f.XTicks, width*ticksShare, wide), width*ticksShare, wide)
	p := l.plot()
	body := draw.Crop(area, 0, -l.margin(width), 0, 0)
	left := l.flag(p, p.DataCanvas(body))
	body.Max.Y -= s.header(area, f.Title, f.note(left))
	body.Max.Y -= s.key(area, f, body.Max.Y)
	body.Max.Y -= vg.Length(l.rows) * markLead
	p.Add(l)
	p.Draw(body)
	return nil
}

// plot is the frame with its axes; layers fill it.
func (l *layers) plot() *plot.Plot {
	p := plot.New()
	p.TextHandler = l.styles.handler
	p.BackgroundColor = nil
	l.styles.axis(&p.X, l.f.X.title(), xTicks)
	l.styles.axis(&p.Y, l.f.Y.title(), yTicks)
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = l.f.extent()
	if len(l.f.XTicks) > 0 {
		p.X.Tick.Marker = fixedTicks(l.f.XTicks)
	}
	if len(l.f.YTicks) > 0 {
		p.Y.Tick.Marker = fixedTicks(l.f.YTicks)
	}
	return p
}

// axisShare is how much of its side the name of an axis may take, without the
// unit.
const axisShare = 0.5

// ticksShare is how much of the width is left for named places.
const ticksShare = 0.85

// The most ticks that the axes get.
const (
	xTicks = 10
	yTicks = 5
)
