package page

import (
	"encoding/xml"
	"fmt"
	"strings"
	"unicode/utf8"

	"codeberg.org/go-pdf/fpdf"

	"sinkproof/reports/page/plot"
)

// side is the end of a text that stands at a point.
type side int

const (
	leftSide side = iota
	middle
	rightSide
)

// drawing takes the shapes of a figure, in points from its upper left corner.
type drawing interface {
	rect(x, y, width, height float64, fill tint)
	frame(x, y, width, height, thickness float64, ink tint)
	line(x1, y1, x2, y2, thickness float64, ink tint)
	// text sets a line with its base at y.
	text(x, y, size float64, style string, ink tint, at side, words string)
	// upright sets a line that reads upwards from (x, y).
	upright(x, y, size float64, ink tint, words string)
}

// sketch is a figure that knows its height for the width of the body.
type sketch struct {
	height float64
	// says is what the figure shows, for readers who hear the page.
	says string
	draw func(drawing)
}

// svgDrawing draws into an SVG element.
type svgDrawing struct{ out *strings.Builder }

// svg returns the sketch as an element for inlining.
func (s sketch) svg() string {
	var out strings.Builder
	fmt.Fprintf(&out, `<svg viewBox="0 0 %g %.1f" role="img" aria-label="%s" font-family="Go, DejaVu Sans, Verdana, Arial, sans-serif">`, bodyWidth, s.height, escaped(s.says))
	s.draw(svgDrawing{&out})
	out.WriteString("</svg>")
	return out.String()
}

func escaped(text string) string {
	var out strings.Builder
	_ = xml.EscapeText(&out, []byte(plot.Visible(text))) // a builder takes everything
	return out.String()
}

func (t tint) hex() string { return fmt.Sprintf("#%06x", uint32(t)) }

func (d svgDrawing) rect(x, y, width, height float64, fill tint) {
	fmt.Fprintf(d.out, `<rect x="%.2f" y="%.2f" width="%.2f" height="%.2f" fill="%s"/>`, x, y, width, height, fill.hex())
}

func (d svgDrawing) frame(x, y, width, height, thickness float64, ink tint) {
	fmt.Fprintf(d.out, `<rect x="%.2f" y="%.2f" width="%.2f" height="%.2f" fill="none" stroke="%s" stroke-width="%.2f"/>`, x, y, width, height, ink.hex(), thickness)
}

func (d svgDrawing) line(x1, y1, x2, y2, thickness float64, ink tint) {
	fmt.Fprintf(d.out, `<path d="M%.2f %.2fL%.2f %.2f" stroke="%s" stroke-width="%.2f"/>`, x1, y1, x2, y2, ink.hex(), thickness)
}

func (d svgDrawing) text(x, y, size float64, style string, ink tint, at side, words string) {
	attributes := [...]string{"", ` text-anchor="middle"`, ` text-anchor="end"`}[at]
	if style == "B" {
		attributes += ` font-weight="bold"`
	}
	fmt.Fprintf(d.out, `<text x="%.2f" y="%.2f" font-size="%.2f" fill="%s"%s>%s</text>`, x, y, size, ink.hex(), attributes, escaped(words))
}

func (d svgDrawing) upright(x, y, size float64, ink tint, words string) {
	fmt.Fprintf(d.out, `<text transform="translate(%.2f %.2f) rotate(-90)" font-size="%.2f" fill="%s">%s</text>`, x, y, size, ink.hex(), escaped(words))
}

// pdfDrawing draws on the present page of a PDF.
type pdfDrawing struct {
	pdf  *fpdf.Fpdf
	x, y float64
}

// place sets a sketch at the cursor, on the next page where it does not fit.
func (s *sheet) place(k sketch) {
	s.room(k.height)
	k.draw(pdfDrawing{s.pdf, marginLeft, s.y})
	s.y += k.height
}

func (d pdfDrawing) rect(x, y, width, height float64, fill tint) {
	d.pdf.SetFillColor(fill.rgb())
	d.pdf.Rect(d.x+x, d.y+y, width, height, "F")
}

func (d pdfDrawing) frame(x, y, width, height, thickness float64, ink tint) {
	d.pdf.SetDrawColor(ink.rgb())
	d.pdf.SetLineWidth(thickness)
	d.pdf.Rect(d.x+x, d.y+y, width, height, "D")
}

func (d pdfDrawing) line(x1, y1, x2, y2, thickness float64, ink tint) {
	d.pdf.SetDrawColor(ink.rgb())
	d.pdf.SetLineWidth(thickness)
	d.pdf.Line(d.x+x1, d.y+y1, d.x+x2, d.y+y2)
}

func (d pdfDrawing) text(x, y, size float64, style string, ink tint, at side, words string) {
	d.set(size, style, ink)
	words = plot.Printable(words)
	switch at {
	case middle:
		x -= d.pdf.GetStringWidth(words) / 2
	case rightSide:
		x -= d.pdf.GetStringWidth(words)
	}
	d.pdf.Text(d.x+x, d.y+y, words)
}

func (d pdfDrawing) upright(x, y, size float64, ink tint, words string) {
	d.set(size, "", ink)
	d.pdf.TransformBegin()
	d.pdf.TransformRotate(90, d.x+x, d.y+y)
	d.pdf.Text(d.x+x, d.y+y, plot.Printable(words))
	d.pdf.TransformEnd()
}

func (d pdfDrawing) set(size float64, style string, ink tint) {
	d.pdf.SetFont(plot.Family, style, size)
	d.pdf.SetTextColor(ink.rgb())
}

// shortTo cuts a text to a number of characters, visibly.
func shortTo(text string, most int) string {
	if utf8.RuneCountInString(text) <= most {
		return text
	}
	r := []rune(text)
	return strings.TrimRight(string(r[:most-1]), " ") + "…"
}
