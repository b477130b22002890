package plot

import (
	"bytes"
	"fmt"
	"image/color"
	"sync"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	xfont "golang.org/x/image/font"
)

// Family is the name under which a PDF has to hold the house's sans font, in
// the styles "" and "B"; see AddFonts.
const Family = "Go"

// The inks of a figure. The line is a blue and the limit a red-brown that
// stay apart for readers who do not tell red from green, and in grey print by
// their dashes; contrast against white is above 4.5:1 (WCAG 2.2, 1.4.3).
const (
	inkText  = 0x1D2329
	inkAxis  = 0x333333
	inkGrid  = 0xE3E6EA
	inkLine  = 0x1B5E9E
	inkLimit = 0xA8401E
	inkMark  = 0x5A5A5A
)

func ink(hex uint32) color.NRGBA {
	return color.NRGBA{R: uint8(hex >> 16), G: uint8(hex >> 8), B: uint8(hex), A: 0xFF}
}

// AddFonts gives a PDF the house's fonts. fpdf writes into the bytes it is
// given, so each document gets copies of its own.
func AddFonts(pdf *fpdf.Fpdf) {
	pdf.AddUTF8FontFromBytes(Family, "", bytes.Clone(goregular.TTF))
	pdf.AddUTF8FontFromBytes(Family, "B", bytes.Clone(gobold.TTF))
}

// typeface is the house's font, read once for the process: reading takes a
// millisecond, and what it gives is safe for concurrent use.
var typeface = sync.OnceValues(func() (faces, error) {
	regular, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return faces{}, fmt.Errorf("plot: read the Go font: %w", err)
	}
	bold, err := opentype.Parse(gobold.TTF)
	if err != nil {
		return faces{}, fmt.Errorf("plot: read the bold Go font: %w", err)
	}
	return faces{regular, text.Plain{Fonts: font.NewCache(font.Collection{
		{Font: font.Font{Typeface: Family, Weight: xfont.WeightNormal}, Face: regular},
		{Font: font.Font{Typeface: Family, Weight: xfont.WeightBold}, Face: bold},
	})}}, nil
})

type faces struct {
	regular *opentype.Font
	handler text.Plain
}

// styles makes the house's text styles.
type styles struct{ handler text.Handler }

func newStyles() (styles, error) {
	f, err := typeface()
	return styles{f.handler}, err
}

func (s styles) text(size vg.Length, weight xfont.Weight, hex uint32) text.Style {
	return text.Style{
		Font: font.Font{Typeface: Family, Weight: weight, Size: size}, Handler: s.handler, Color: ink(hex),
	}
}

// small is the style of ticks and labels.
func (s styles) small(hex uint32) text.Style { return s.text(8, xfont.WeightNormal, hex) }

func (s styles) axis(a *plot.Axis, title string, want int) {
	a.Label.Text = title
	a.Label.TextStyle = aligned(s.text(8.5, xfont.WeightNormal, inkAxis), a.Label.TextStyle)
	a.Label.Padding = 1
	a.Tick.Label = aligned(s.small(inkAxis), a.Tick.Label)
	a.Tick.Marker = ticks{want}
	a.Color, a.Tick.Color = ink(inkAxis), ink(inkAxis)
	a.Width, a.Tick.Width = 0.6, 0.6
	a.Tick.Length = 3
	a.Padding = 0
}

// aligned keeps from the old style how the text is turned and aligned.
func aligned(s, old text.Style) text.Style {
	s.Rotation, s.XAlign, s.YAlign = old.Rotation, old.XAlign, old.YAlign
	return s
}

// header sets title and note at the top of an area, on one line where both
// fit, and returns the height that they take.
func (s styles) header(area draw.Canvas, title, note string) vg.Length {
	bold, small := s.text(9.5, xfont.WeightBold, inkText), s.small(inkMark)
	width, y := area.Max.X-area.Min.X, area.Max.Y
	if together := bold.Width(title) + headerGap + small.Width(note); title != "" && note != "" && together <= width {
		bold.YAlign, small.YAlign = text.YTop, text.YTop
		area.FillText(bold, vg.Point{X: area.Min.X, Y: y}, title)
		area.FillText(small, vg.Point{X: area.Min.X + bold.Width(title) + headerGap, Y: y - 1.3}, note)
		return 12 + headerFoot
	}
	y -= s.block(area, bold, 12, y, title, 2)
	y -= s.block(area, small, 10, y, note, 4)
	return area.Max.Y - y + headerFoot
}

// The room between title and note, and between them and the data.
const (
	headerGap  = vg.Length(8)
	headerFoot = vg.Length(4)
)

// block sets a wrapped text with its top at y and returns its height. It takes
// a number of lines at most, lest the words leave no room for the curve; what
// is left out is marked by an ellipsis.
func (s styles) block(area draw.Canvas, sty text.Style, lead, y vg.Length, words string, most int) vg.Length {
	sty.YAlign = text.YTop
	width := area.Max.X - area.Min.X
	lines := Wrap(words, width.Points(), func(t string) float64 { return sty.Width(t).Points() })
	if len(lines) > most {
		lines[most-1] = shortened(sty, lines[most-1]+" "+lines[most], width)
		lines = lines[:most]
	}
	for i, line := range lines {
		area.FillText(sty, vg.Point{X: area.Min.X, Y: y - vg.Length(i)*lead}, line)
	}
	return vg.Length(len(lines)) * lead
}
