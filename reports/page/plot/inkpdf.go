package plot

import (
	"image/color"
	"math"

	"codeberg.org/go-pdf/fpdf"
)

// inkPDF is the surface of a PDF page whose unit is the point.
type inkPDF struct{ pdf *fpdf.Fpdf }

func (k inkPDF) stroke(o outline, l line) {
	k.pdf.SetDrawColor(int(l.Ink.R), int(l.Ink.G), int(l.Ink.B))
	k.pdf.SetLineWidth(l.Width)
	if len(l.Dashes) > 0 {
		k.pdf.SetDashPattern(l.Dashes, 0)
		defer k.pdf.SetDashPattern([]float64{}, 0)
	}
	k.draw(o, "D")
}

func (k inkPDF) fill(o outline, ink color.NRGBA) {
	k.pdf.SetFillColor(int(ink.R), int(ink.G), int(ink.B))
	k.draw(o, "F")
}

func (k inkPDF) draw(o outline, style string) {
	if len(o) == 0 {
		return
	}
	for _, s := range o {
		switch s.Op {
		case 'M':
			k.pdf.MoveTo(s.At.X, s.At.Y)
		case 'L':
			k.pdf.LineTo(s.At.X, s.At.Y)
		case 'C':
			k.pdf.CurveBezierCubicTo(s.C1.X, s.C1.Y, s.C2.X, s.C2.Y, s.At.X, s.At.Y)
		case 'Z':
			k.pdf.ClosePath()
		}
	}
	k.pdf.DrawPath(style)
}

func (k inkPDF) text(x, y, degrees float64, f face, s string) {
	k.pdf.SetTextColor(int(f.Ink.R), int(f.Ink.G), int(f.Ink.B))
	style := ""
	if f.Bold {
		style = "B"
	}
	k.pdf.SetFont(Family, style, f.Size)
	if math.Abs(degrees) < 0.01 {
		k.pdf.Text(x, y, s)
		return
	}
	k.pdf.TransformBegin()
	k.pdf.TransformRotate(degrees, x, y)
	k.pdf.Text(x, y, s)
	k.pdf.TransformEnd()
}
