package plot

import (
	"bytes"
	"fmt"
	"html"
	"image/color"
	"math"
	"strconv"
)

// inkSVG is the surface of an SVG element. Coordinates are rounded to a tenth
// of a point, a third of what a printer of 300 dots per inch can place.
type inkSVG struct{ out *bytes.Buffer }

// fonts names the house's font and, for machines that lack it, ones of
// similar width.
const fonts = "Go,'DejaVu Sans',Verdana,Arial,sans-serif"

func (k inkSVG) open(width, height float64, label string) {
	fmt.Fprintf(k.out, `<svg viewBox="0 0 %s %s" role="img" aria-label="%s" font-family="%s">`,
		tenths(width), tenths(height), html.EscapeString(label), fonts)
}

func (k inkSVG) close() { k.out.WriteString("</svg>") }

func (k inkSVG) stroke(o outline, l line) {
	k.out.WriteString(`<path fill="none" stroke="` + hexOf(l.Ink) + `" stroke-width="` + tenths(l.Width) + `"`)
	if len(l.Dashes) > 0 {
		k.out.WriteString(` stroke-dasharray="`)
		for i, d := range l.Dashes {
			if i > 0 {
				k.out.WriteByte(' ')
			}
			k.out.WriteString(tenths(d))
		}
		k.out.WriteByte('"')
	}
	k.path(o)
}

func (k inkSVG) fill(o outline, ink color.NRGBA) {
	k.out.WriteString(`<path fill="` + hexOf(ink) + `"`)
	k.path(o)
}

// path writes an outline in coordinates relative to the point before, which
// are half as long. Differences are taken between rounded places, so that
// rounding does not add up.
func (k inkSVG) path(o outline) {
	k.out.WriteString(` d="`)
	var x, y int
	pair := func(p spot) {
		k.number(tenth(p.X) - x)
		k.number(tenth(p.Y) - y)
	}
	for _, s := range o {
		switch s.Op {
		case 'M':
			// Absolute, so that a path may have several parts.
			x, y = 0, 0
			k.out.WriteByte('M')
			pair(s.At)
		case 'L':
			k.out.WriteByte('l')
			pair(s.At)
		case 'C':
			k.out.WriteByte('c')
			pair(s.C1)
			pair(s.C2)
			pair(s.At)
		case 'Z':
			k.out.WriteByte('z')
			continue
		}
		x, y = tenth(s.At.X), tenth(s.At.Y)
	}
	k.out.WriteString(`"/>`)
}

// number writes a count of tenths, after a space unless what stands before
// already separates it.
func (k inkSVG) number(n int) {
	b := k.out.Bytes()
	if last := b[len(b)-1]; last >= '0' && last <= '9' && n >= 0 {
		k.out.WriteByte(' ')
	}
	k.out.WriteString(ofTenths(n))
}

// text states the width that the layout reckoned with, so that a text keeps
// its place in a font of another width too.
func (k inkSVG) text(x, y, degrees float64, f face, s string) {
	fmt.Fprintf(k.out, `<text x="%s" y="%s" font-size="%s" fill="%s"`, tenths(x), tenths(y), tenths(f.Size), hexOf(f.Ink))
	if f.Width > 0 {
		fmt.Fprintf(k.out, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, tenths(f.Width))
	}
	if f.Bold {
		k.out.WriteString(` font-weight="bold"`)
	}
	if math.Abs(degrees) > 0.01 {
		fmt.Fprintf(k.out, ` transform="rotate(%s %s %s)"`, tenths(-degrees), tenths(x), tenths(y))
	}
	k.out.WriteString(">" + html.EscapeString(s) + "</text>")
}

func tenth(v float64) int { return int(math.Round(v * 10)) }

func tenths(v float64) string { return ofTenths(tenth(v)) }

// ofTenths prints a count of tenths as a decimal number.
func ofTenths(n int) string {
	if n%10 == 0 {
		return strconv.Itoa(n / 10)
	}
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	return sign + strconv.Itoa(n/10) + "." + strconv.Itoa(n%10)
}

func hexOf(ink color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", ink.R, ink.G, ink.B) }
