package page

import (
	"image"
	"image/color"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// raster draws the squares as a page does: run by run, with the quiet zone.
func raster(m modules, size int) image.Image {
	img := image.NewGray(image.Rect(0, 0, (len(m[0])+2)*size, (len(m)+2)*size))
	for i := range img.Pix {
		img.Pix[i] = 0xFF
	}
	m.runs(func(x, y, width int) {
		for px := (x + 1) * size; px < (x+1+width)*size; px++ {
			for py := (y + 1) * size; py < (y+2)*size; py++ {
				img.SetGray(px, py, color.Gray{})
			}
		}
	})
	return img
}

func read(t require.TestingT, img image.Image) string {
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	result, err := datamatrix.NewDataMatrixReader().Decode(bitmap, nil)
	require.NoError(t, err)
	return result.GetText()
}

// The code on the page reads back with an independent decoder.
func TestCodeReadsBack(t *testing.T) {
	code := NewReport(richRun(), proof()).Code
	require.Equal(t, "sinkproof LMP-000017 "+proof().Hash, code)
	m, err := matrixOf(code)
	require.NoError(t, err)
	require.Equal(t, code, read(t, raster(m, 4)))
}

func TestAnySerialReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		serial := rapid.StringMatching(`[!-~]([ -~]{0,62}[!-~])?`).Draw(t, "serial")
		text := "sinkproof " + serial + " " + strings.Repeat("0f", 32)
		m, err := matrixOf(text)
		require.NoError(t, err)
		require.Equal(t, text, readGrid(t, raster(m, 3)))
	})
}

// readGrid decodes a picture that holds nothing but the code. The decoder's
// search for a code in a picture misjudges the corners of some (a serial of
// "!   3!# ! !#! !! \"! # .    \"~  !! !" is taken for half as wide), and is not
// what is tested here.
func readGrid(t require.TestingT, img image.Image) string {
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	hints := map[gozxing.DecodeHintType]interface{}{gozxing.DecodeHintType_PURE_BARCODE: true}
	result, err := datamatrix.NewDataMatrixReader().Decode(bitmap, hints)
	require.NoError(t, err)
	return result.GetText()
}

func TestCodeThatIsTooLongIsAnError(t *testing.T) {
	_, err := matrixOf(strings.Repeat("x", 4000))
	require.ErrorContains(t, err, "DataMatrix")
	r := NewReport(richRun(), proof())
	r.Code = strings.Repeat("x", 4000)
	_, err = r.HTML()
	require.ErrorContains(t, err, "DataMatrix")
	_, err = r.PDF()
	require.ErrorContains(t, err, "DataMatrix")
}

func TestRunsCoverTheDarkSquaresOnce(t *testing.T) {
	m, err := matrixOf("sinkproof")
	require.NoError(t, err)
	again := make(modules, len(m))
	for y := range m {
		again[y] = make([]bool, len(m[y]))
	}
	m.runs(func(x, y, width int) {
		for i := range width {
			require.False(t, again[y][x+i], "drawn twice")
			again[y][x+i] = true
		}
	})
	require.Equal(t, m, again)
}
