package plot

import (
	"testing"

	"codeberg.org/go-pdf/fpdf"
)

func BenchmarkFigureSVG(b *testing.B) {
	f := attach(970)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := f.SVG(505, 140); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFigurePDF(b *testing.B) {
	f := attach(970)
	pdf := fpdf.New("P", "pt", "A4", "")
	AddFonts(pdf)
	pdf.AddPage()
	b.ReportAllocs()
	for b.Loop() {
		if err := f.Draw(pdf, 50, 60, 505, 140); err != nil {
			b.Fatal(err)
		}
	}
}
