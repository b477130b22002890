package plot

import (
	"fmt"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
)

// surfaceLog is a surface that keeps what was drawn.
type surfaceLog struct {
	strokes []outline
	lines   []line
	fills   []outline
	texts   []written
}

type written struct {
	s             string
	x, y, degrees float64
	size, wide    float64
}

func (r *surfaceLog) stroke(o outline, l line) {
	r.strokes, r.lines = append(r.strokes, o), append(r.lines, l)
}

func (r *surfaceLog) fill(o outline, _ color.NRGBA) { r.fills = append(r.fills, o) }

func (r *surfaceLog) text(x, y, degrees float64, f face, s string) {
	r.texts = append(r.texts, written{s: s, x: x, y: y, degrees: degrees, size: f.Size, wide: f.Width})
}

// box is the place that a text takes: x0, y0, x1, y1 with y downwards. The
// letters of the Go font rise 0.73 and fall 0.21 of its size (measured on
// "Á" and "g").
func (w written) box() [4]float64 {
	up, down := 0.73*w.size, 0.21*w.size
	if math.Abs(w.degrees-90) < 1 {
		return [4]float64{w.x - up, w.y - w.wide, w.x + down, w.y}
	}
	return [4]float64{w.x, w.y - up, w.x + w.wide, w.y + down}
}

// drawn draws a figure on a recorder.
func drawn(t testing.TB, f Figure, width, height float64) *surfaceLog {
	t.Helper()
	r := &surfaceLog{}
	require.NoError(t, f.draw(newCanvas(r, 0, 0, height), vg.Length(width), vg.Length(height)))
	return r
}

// requireTidy demands what makes a figure readable: everything inside its
// edges, no text over another one.
func (r *surfaceLog) requireTidy(t testing.TB, width, height float64) {
	t.Helper()
	inside := func(what string, x, y float64) {
		const slack = 0.6 // half the width of a line
		require.True(t, x >= -slack && x <= width+slack && y >= -slack && y <= height+slack,
			"%s at (%.1f, %.1f) is outside of %g × %g", what, x, y, width, height)
	}
	for _, o := range append(r.strokes, r.fills...) {
		for _, s := range o {
			if s.Op != 'Z' {
				inside("a line", s.At.X, s.At.Y)
			}
		}
	}
	for i, a := range r.texts {
		ba := a.box()
		inside(fmt.Sprintf("text %q", a.s), ba[0], ba[1])
		inside(fmt.Sprintf("text %q", a.s), ba[2], ba[3])
		for _, b := range r.texts[:i] {
			bb := b.box()
			apart := ba[0] >= bb[2]-0.5 || bb[0] >= ba[2]-0.5 || ba[1] >= bb[3]-0.5 || bb[1] >= ba[3]-0.5
			require.True(t, apart, "text %q at %.1f lies over %q at %.1f", a.s, ba, b.s, bb)
		}
	}
}

func (r *surfaceLog) said() []string {
	var list []string
	for _, w := range r.texts {
		list = append(list, w.s)
	}
	return list
}
