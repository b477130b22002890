package plot

import (
	"bytes"
	"image/color"
	"math"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"
	"pgregory.net/rapid"
)

func lineTo(x, y vg.Length) vg.Path {
	var p vg.Path
	p.Move(vg.Point{})
	p.Line(vg.Point{X: x, Y: y})
	return p
}

func TestCanvasTurnsThePageUpsideDown(t *testing.T) {
	r := &surfaceLog{}
	c := newCanvas(r, 50, 60, 100)
	c.Stroke(lineTo(10, 30))
	require.Equal(t, outline{{Op: 'M', At: spot{50, 160}}, {Op: 'L', At: spot{60, 130}}}, r.strokes[0])
}

func TestCanvasTransforms(t *testing.T) {
	cases := []struct {
		name string
		do   func(c *canvas)
		want spot
	}{
		{"moved", func(c *canvas) { c.Translate(vg.Point{X: 5, Y: 7}) }, spot{15, 63}},
		{"scaled", func(c *canvas) { c.Scale(2, 3) }, spot{20, 10}},
		{"turned", func(c *canvas) { c.Rotate(math.Pi / 2) }, spot{-30, 90}},
		{"moved, then turned about there", func(c *canvas) { c.Translate(vg.Point{X: 50}); c.Rotate(math.Pi / 2) }, spot{20, 90}},
		{"and back", func(c *canvas) { c.Push(); c.Rotate(1); c.Scale(9, 9); c.Pop() }, spot{10, 70}},
	}
	for _, k := range cases {
		t.Run(k.name, func(t *testing.T) {
			r := &surfaceLog{}
			c := newCanvas(r, 0, 0, 100)
			k.do(c)
			c.Stroke(lineTo(10, 30))
			require.InDelta(t, k.want.X, r.strokes[0][1].At.X, 1e-9)
			require.InDelta(t, k.want.Y, r.strokes[0][1].At.Y, 1e-9)
		})
	}
}

func TestArcStaysOnItsCircle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		radius := rapid.Float64Range(0.1, 100).Draw(t, "radius")
		start := rapid.Float64Range(-7, 7).Draw(t, "start")
		angle := rapid.Float64Range(-6.28, 6.28).Draw(t, "angle")
		var p vg.Path
		p.Arc(vg.Point{X: 3, Y: 4}, vg.Length(radius), start, angle)
		r := &surfaceLog{}
		newCanvas(r, 0, 0, 0).Fill(p)
		o := r.fills[0]
		away := func(s spot) float64 { return math.Hypot(s.X-3, s.Y+4) }
		require.Equal(t, byte('M'), o[0].Op)
		require.InDelta(t, radius, away(o[0].At), radius*1e-9)
		for i, s := range o[1:] {
			// The middle of a Bézier curve is the mean of ends and thrice its
			// control points, where the error is largest.
			from := o[i].At
			middle := spot{(from.X + 3*s.C1.X + 3*s.C2.X + s.At.X) / 8, (from.Y + 3*s.C1.Y + 3*s.C2.Y + s.At.Y) / 8}
			require.InDelta(t, radius, away(middle), radius*3e-4)
			require.InDelta(t, radius, away(s.At), radius*1e-9)
		}
		end := o[len(o)-1].At
		require.InDelta(t, 3+radius*math.Cos(start+angle), end.X, radius*1e-9)
		require.InDelta(t, -4-radius*math.Sin(start+angle), end.Y, radius*1e-9)
	})
}

func TestCurvesBecomeCubic(t *testing.T) {
	var p vg.Path
	p.Move(vg.Point{})
	p.QuadTo(vg.Point{X: 3, Y: 0}, vg.Point{X: 6, Y: 0})
	p.CubeTo(vg.Point{X: 7}, vg.Point{X: 8}, vg.Point{X: 9})
	p.Close()
	r := &surfaceLog{}
	newCanvas(r, 0, 0, 0).Fill(p)
	o := r.fills[0]
	require.Equal(t, segment{Op: 'C', C1: spot{2, 0}, C2: spot{4, 0}, At: spot{6, 0}}, o[1])
	require.Equal(t, segment{Op: 'C', C1: spot{7, 0}, C2: spot{8, 0}, At: spot{9, 0}}, o[2])
	require.Equal(t, byte('Z'), o[3].Op)
}

func TestCanvasSkipsWhatIsInvisible(t *testing.T) {
	r := &surfaceLog{}
	c := newCanvas(r, 0, 0, 0)
	c.SetLineWidth(0)
	c.Stroke(lineTo(1, 1))
	c.FillString(font.Face{}, vg.Point{}, "no size")
	c.SetColor(nil)
	c.Fill(lineTo(1, 1))
	require.Empty(t, r.strokes)
	require.Empty(t, r.texts)
	require.Len(t, r.fills, 1)
}

// Every call that gonum/plot makes reaches the surface: the same figure on
// gonum's own recorder has as many strokes, areas and texts.
func TestCanvasDrawsAllThatGonumDraws(t *testing.T) {
	var own recorder.Canvas
	require.NoError(t, attach(60).draw(&own, 505, 140))
	var strokes, fills, texts int
	for _, a := range own.Actions {
		switch a.(type) {
		case *recorder.Stroke:
			strokes++
		case *recorder.Fill:
			fills++
		case *recorder.FillString:
			texts++
		}
	}
	r := drawn(t, attach(60), 505, 140)
	require.Equal(t, strokes, len(r.strokes))
	require.Equal(t, fills, len(r.fills))
	require.Equal(t, texts, len(r.texts))
	require.Greater(t, fills, 0, "60 samples have dots")
}

func TestSVGPathReadsBack(t *testing.T) {
	k := inkSVG{new(bytes.Buffer)}
	k.fill(outline{{Op: 'M', At: spot{1.04, 2}}, {Op: 'L', At: spot{1.06, -3.25}},
		{Op: 'C', C1: spot{2, 2}, C2: spot{3, 3}, At: spot{4, 4}}, {Op: 'Z'}}, color.NRGBA{R: 255, A: 255})
	require.Equal(t, `<path fill="#ff0000" d="M1 2l0.1-5.3c0.9 5.3 1.9 6.3 2.9 7.3z"/>`, k.out.String())
}

// Rounding each point by itself must not let a long path drift away.
func TestSVGPathDoesNotDrift(t *testing.T) {
	k := inkSVG{new(bytes.Buffer)}
	o := outline{{Op: 'M'}}
	for i := range 1000 {
		o = append(o, segment{Op: 'L', At: spot{0.04 * float64(i+1), 0}})
	}
	o = append(o, segment{Op: 'Z'}, segment{Op: 'M', At: spot{40, 0}})
	k.fill(o, color.NRGBA{})
	require.Contains(t, k.out.String(), "zM40 0")
	sum := 0
	for _, b := range bytes.Split(k.out.Bytes(), []byte("l")) {
		if bytes.HasPrefix(b, []byte("0.1 0")) {
			sum++
		}
	}
	require.InDelta(t, 400, sum, 1, "1000 steps of 0.04 are 400 tenths")
}

func TestSVGTextIsEscapedAndKeepsItsWidth(t *testing.T) {
	k := inkSVG{new(bytes.Buffer)}
	k.text(1, 2, 90, face{Size: 8, Bold: true, Width: 33.3}, `<b> & "x"`)
	require.Equal(t, `<text x="1" y="2" font-size="8" fill="#000000" textLength="33.3" lengthAdjust="spacingAndGlyphs"`+
		` font-weight="bold" transform="rotate(-90 1 2)">&lt;b&gt; &amp; &#34;x&#34;</text>`, k.out.String())
}

func TestPDFHoldsTheDrawing(t *testing.T) {
	pdf := fpdf.New("P", "pt", "A4", "")
	pdf.SetCompression(false)
	AddFonts(pdf)
	pdf.AddPage()
	k := inkPDF{pdf}
	k.stroke(outline{{Op: 'M', At: spot{10, 20}}, {Op: 'L', At: spot{30, 40}}}, line{Width: 0.75, Dashes: []float64{5, 3}})
	k.fill(outline{{Op: 'M', At: spot{1, 1}}, {Op: 'C', C1: spot{2, 2}, C2: spot{3, 3}, At: spot{4, 4}}, {Op: 'Z'}}, color.NRGBA{R: 255})
	k.stroke(nil, line{Width: 1})
	k.text(50, 60, 90, face{Size: 8, Bold: true}, "x")
	var out bytes.Buffer
	require.NoError(t, pdf.Output(&out))
	// A4 is 841.89 pt high; PDF counts from the bottom.
	for _, want := range []string{"10.00 821.89 m", "30.00 801.89 l", "0.75 w", "[5.00 3.00] 0.00 d",
		"2.00000 839.89000 3.00000 838.89000 4.00000 837.89000 c", "1.000 0.000 0.000 rg", "\nh\n", "50.00 781.89 Td"} {
		require.Contains(t, out.String(), want)
	}
}
