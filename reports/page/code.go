package page

import (
	"fmt"

	"github.com/boombuler/barcode"
	"github.com/boombuler/barcode/datamatrix"
)

// modules is a DataMatrix (ISO/IEC 16022, ECC 200) as dark and light squares,
// row by row.
type modules [][]bool

// matrixOf encodes a text of printable ASCII.
func matrixOf(text string) (modules, error) {
	code, err := datamatrix.Encode(text)
	if err != nil {
		return nil, fmt.Errorf("page: DataMatrix of %q: %w", text, err)
	}
	return squares(code), nil
}

func squares(code barcode.Barcode) modules {
	b := code.Bounds()
	m := make(modules, b.Dy())
	for y := range m {
		m[y] = make([]bool, b.Dx())
		for x := range m[y] {
			r, _, _, _ := code.At(b.Min.X+x, b.Min.Y+y).RGBA()
			m[y][x] = r == 0
		}
	}
	return m
}

// runs calls draw for each horizontal run of dark squares, so that a page
// holds a few hundred rectangles and no hairlines between neighbours.
func (m modules) runs(draw func(x, y, width int)) {
	for y, row := range m {
		for x := 0; x < len(row); x++ {
			if !row[x] {
				continue
			}
			start := x
			for x < len(row) && row[x] {
				x++
			}
			draw(start, y, x-start)
		}
	}
}
