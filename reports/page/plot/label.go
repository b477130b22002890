package plot

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// The measures of labels, in points.
const (
	labelLead  = vg.Length(9.5) // from line to line of a level's name
	labelGap   = vg.Length(10)  // from the data to a level's name
	labelDip   = vg.Length(12)  // how far a level's name may hang below the data
	labelShare = 0.2            // of the width, the most that names may take
	markLead   = vg.Length(10)  // from row to row of marks' names
	markRows   = 4
	flagGap    = vg.Length(2.5)
)

// label is the name of a level, wrapped, with its value.
type label struct {
	y     float64
	lines []string
}

// levelLabels wraps the names of the levels, lowest first.
func (l *layers) levelLabels(width vg.Length) []label {
	sty := l.styles.small(inkLimit)
	measure := func(s string) float64 { return sty.Width(s).Points() }
	var list []label
	for _, v := range l.f.Levels {
		list = append(list, label{v.Y, Wrap(v.Label+" "+l.level(v.Y), width.Points(), measure)})
	}
	slices.SortStableFunc(list, func(a, b label) int { return cmp.Compare(a.y, b.y) })
	return list
}

// level prints a level's value. On an axis that need not show zero the digits
// follow the range that is shown: 74.0012 and 74.0143 are not both 74.
func (l *layers) level(v float64) string {
	_, _, y0, y1 := l.f.extent()
	if !l.f.Y.Floating || v == 0 {
		return l.f.Y.value(v)
	}
	const parts, most = 1000, 9
	want := int(math.Ceil(math.Log10(math.Abs(v) / (y1 - y0) * parts)))
	if want <= 4 {
		return l.f.Y.value(v)
	}
	text := fixed(v, min(want, most))
	if l.f.Y.Unit == "" || l.f.Y.Unit == "1" {
		return text
	}
	return text + "\u00a0" + l.f.Y.Unit
}

// margin is the room that names need at the right of the data.
func (l *layers) margin(width vg.Length) vg.Length {
	var room vg.Length = 6
	sty := l.styles.small(inkLimit)
	for _, a := range l.labels {
		for _, line := range a.lines {
			room = max(room, sty.Width(line)+labelGap)
		}
	}
	x0, x1, _, _ := l.f.extent()
	for _, m := range l.f.Marks {
		// The data take at least half of the width.
		behind := vg.Length((x1-m.X)/(x1-x0)) * width / 2
		room = max(room, l.flagWidth(m.Label, width)-behind)
	}
	return room
}

// slot is a label in its place.
type slot struct {
	label
	// want is where its level is, at where its middle stands.
	want, at vg.Length
	lead     bool
}

func (s slot) height() vg.Length { return vg.Length(len(s.lines)) * labelLead }

// spread places labels, which are sorted from low to high, as near to their
// levels as they go without overlapping, between low and high. What does not
// fit is counted in a last label.
func spread(labels []label, ty func(float64) vg.Length, low, high vg.Length) []slot {
	slots := fitting(labels, ty, high-low)
	floor := low
	for i := range slots {
		s := &slots[i]
		s.at = max(s.want, floor+s.height()/2)
		floor = s.at + s.height()/2
	}
	ceiling := high
	for i := len(slots) - 1; i >= 0; i-- {
		s := &slots[i]
		s.at = min(s.at, ceiling-s.height()/2)
		ceiling = s.at - s.height()/2
	}
	for i := range slots {
		off := slots[i].at - slots[i].want
		slots[i].lead = off > 2 || off < -2
	}
	return slots
}

// fitting makes slots of the labels that have room one above the other.
func fitting(labels []label, ty func(float64) vg.Length, room vg.Length) []slot {
	var slots []slot
	for i, a := range labels {
		s := slot{label: a, want: ty(a.y)}
		rest := labelLead
		if i == len(labels)-1 {
			rest = 0
		}
		if s.height()+rest > room {
			s.lines = []string{fmt.Sprintf("and %d more", len(labels)-i)}
			return append(slots, s)
		}
		room -= s.height()
		slots = append(slots, s)
	}
	return slots
}

// flag is a mark with the row of its name; the name is empty where there was
// no row for it.
type flag struct {
	x    float64
	row  int
	name string
}

// flag gives each mark's name a row above the data, from right to left: a
// name stands right of its line, so that it can only meet lines and names of
// later marks, and goes above those that it would meet. It returns the marks
// whose names found no row, in time.
func (l *layers) flag(p *plot.Plot, c draw.Canvas) (unnamed []Mark) {
	tx, _ := p.Transforms(&c)
	marks := slices.Clone(l.f.Marks)
	slices.SortStableFunc(marks, func(a, b Mark) int { return cmp.Compare(b.X, a.X) })
	type taken struct {
		x   vg.Length
		row int
	}
	var placed []taken
	for _, m := range marks {
		x, row := tx(m.X), 0
		end := x + l.flagWidth(m.Label, c.Max.X-c.Min.X)
		for _, t := range placed {
			if t.x < end+flagGap {
				row = max(row, t.row+1)
			}
		}
		if row >= markRows {
			unnamed = append(unnamed, m)
			l.flags = append(l.flags, flag{x: m.X})
			continue
		}
		placed = append(placed, taken{x, row})
		l.rows = max(l.rows, row+1)
		l.flags = append(l.flags, flag{m.X, row, l.flagName(m.Label, c.Max.X-c.Min.X)})
	}
	slices.Reverse(unnamed)
	return unnamed
}

// flagName shortens a name that is wider than half of the figure.
func (l *layers) flagName(name string, width vg.Length) string {
	return shortened(l.styles.small(inkMark), name, width/2)
}

// shortened cuts a text to a width, visibly.
func shortened(sty text.Style, s string, width vg.Length) string {
	if sty.Width(s) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 1 && sty.Width(string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

func (l *layers) flagWidth(name string, width vg.Length) vg.Length {
	return min(l.styles.small(inkMark).Width(name), width/2) + flagGap
}
