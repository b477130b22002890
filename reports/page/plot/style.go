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
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"

	xfont "golang.org/x/image/font"
)

// Family is the name under which a PDF has to hold the house's sans font, in
// the styles "" and "B"; see AddFonts.
const Family = "Go"

// The inks of a figure. The line is a blue and the limit a red-brown that
// stay apart for readers who do not tell red from green, and in grey print by
// their dashes; contrast against white is above 4.5:1 (WCAG 2.2, 1.4.3).
const (
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

// handler lays out text with the Go fonts. Parsing them takes a millisecond,
// and a cache is safe for concurrent use, so there is one for the process.
var handler = sync.OnceValues(func() (text.Handler, error) {
	var faces font.Collection
	for _, f := range []struct {
		ttf    []byte
		weight xfont.Weight
	}{{goregular.TTF, xfont.WeightNormal}, {gobold.TTF, xfont.WeightBold}} {
		parsed, err := opentype.Parse(f.ttf)
		if err != nil {
			return nil, fmt.Errorf("plot: read the Go font: %w", err)
		}
		faces = append(faces, font.Face{Font: font.Font{Typeface: Family, Weight: f.weight}, Face: parsed})
	}
	return text.Plain{Fonts: font.NewCache(faces)}, nil
})
