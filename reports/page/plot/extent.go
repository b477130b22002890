package plot

import (
	"math"
	"strconv"
	"strings"
)

// scaled returns the figure in units with the prefix that suits its largest
// value: 0.4 A becomes 400 mA.
func (f Figure) scaled() Figure {
	x0, x1, y0, y1 := f.near().span()
	var x, y float64
	f.X, x = f.X.prefixed(max(math.Abs(x0), math.Abs(x1)))
	f.Y, y = f.Y.prefixed(max(math.Abs(y0), math.Abs(y1)))
	curve, levels, marks, series := f.Curve, f.Levels, f.Marks, f.Series
	f.Curve, f.Levels, f.Marks = make([]Point, len(curve)), make([]Level, len(levels)), make([]Mark, len(marks))
	for i, p := range curve {
		f.Curve[i] = Point{p.X / x, p.Y / y}
	}
	for i, l := range levels {
		f.Levels[i] = Level{l.Label, l.Y / y}
	}
	for i, m := range marks {
		f.Marks[i] = Mark{m.Label, m.X / x}
	}
	f.Series = make([]Series, len(series))
	for i, s := range series {
		s.Width /= x
		points := s.Points
		s.Points = make([]Point, len(points))
		for j, p := range points {
			s.Points[j] = Point{p.X / x, p.Y / y}
		}
		f.Series[i] = s
	}
	f.XTicks, f.YTicks = dividedTicks(f.XTicks, x), dividedTicks(f.YTicks, y)
	return f
}

func dividedTicks(list []Tick, by float64) []Tick {
	var out []Tick
	for _, t := range list {
		out = append(out, Tick{t.At / by, t.Label})
	}
	return out
}

// prefixed returns the axis with the SI prefix that leaves one to three
// digits before the point of the largest value, and what to divide by.
func (a Axis) prefixed(largest float64) (Axis, float64) {
	if a.Unit == "" || a.Unit == "1" || a.Unit == "°C" || a.Unit == "%" {
		return a, 1
	}
	const least, most = -12, 9
	power := 0
	if largest > 0 {
		power = 3 * int(math.Floor(math.Log10(largest)/3+1e-9))
	}
	highest := most
	if a.Unit == "s" {
		highest = 0 // nobody reads kiloseconds
	}
	power = min(max(power, least), highest)
	a.Unit = strings.TrimSpace(string([]rune("pnµm kMG")[(power-least)/3])) + a.Unit
	return a, math.Pow(10, float64(power))
}

// title names the axis with its unit: "VBUS in V".
func (a Axis) title() string {
	if a.Unit == "" || a.Unit == "1" {
		return a.Name
	}
	return a.Name + " in " + a.Unit
}

// value prints a value of the axis with its unit.
func (a Axis) value(v float64) string {
	if a.Unit == "" || a.Unit == "1" {
		return digits(v)
	}
	return digits(v) + "\u00a0" + a.Unit
}

// digits prints a number with two to four significant digits, as many as it
// needs: "0.80", "4.75", "500".
func digits(v float64) string {
	if v == 0 {
		return "0"
	}
	want := strconv.FormatFloat(v, 'g', 4, 64)
	rounded, _ := strconv.ParseFloat(want, 64) // strconv wrote it
	for n := 2; n < 4; n++ {
		if again, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', n, 64), 64); again == rounded {
			return fixed(rounded, n)
		}
	}
	return fixed(rounded, 4)
}

// fixed prints n significant digits without an exponent where a person would.
func fixed(v float64, n int) string {
	place := int(math.Floor(math.Log10(math.Abs(v)) + 1e-9))
	if place < -4 || place > 6 {
		return strconv.FormatFloat(v, 'g', n, 64)
	}
	return strconv.FormatFloat(v, 'f', max(0, n-1-place), 64)
}

// reach is how far outside the curve a mark may lie and still be drawn, as a
// share of the curve's length.
const reach = 0.25

// near returns the figure without the marks that are far outside the curve.
func (f Figure) near() Figure {
	first, last := f.across()
	room := (last - first) * reach
	var marks []Mark
	for _, m := range f.Marks {
		if m.X >= first-room && m.X <= last+room {
			marks = append(marks, m)
		}
	}
	f.Marks = marks
	return f
}

// note is the figure's note with the marks that are far outside, and those
// whose names found no place.
func (f Figure) note(unnamed []Mark) string {
	var parts []string
	if f.Note != "" {
		parts = append(parts, f.Note)
	}
	first, last := f.across()
	room := (last - first) * reach
	for _, m := range f.Marks {
		switch {
		case m.X < first-room:
			parts = append(parts, m.Label+": "+f.X.value(first-m.X)+" before the first sample")
		case m.X > last+room:
			parts = append(parts, m.Label+": "+f.X.value(m.X-last)+" after the last sample")
		}
	}
	for _, m := range unnamed {
		parts = append(parts, m.Label+": at "+f.X.value(m.X))
	}
	return strings.Join(parts, "; ")
}

// span is the range of everything that is drawn.
func (f Figure) span() (x0, x1, y0, y1 float64) {
	x0, x1 = f.across()
	y0, y1 = f.upright()
	for _, l := range f.Levels {
		y0, y1 = min(y0, l.Y), max(y1, l.Y)
	}
	for _, m := range f.Marks {
		x0, x1 = min(x0, m.X), max(x1, m.X)
	}
	if !f.Y.Floating {
		y0, y1 = min(y0, 0), max(y1, 0)
	}
	return x0, x1, y0, y1
}

// extent is the range of both axes: everything is inside, with room at the
// edges.
func (f Figure) extent() (x0, x1, y0, y1 float64) {
	x0, x1, y0, y1 = f.span()
	x0, x1 = widen(x0, x1, 0.01)
	y0, y1 = widen(y0, y1, 0.06)
	return x0, x1, y0, y1
}

// resolution is the smallest range that is drawn, relative to its values:
// below it the axis would show rounding, and its ticks could not be told
// apart.
const resolution = 1e-9

// widen adds room on both sides, and makes a range of a single value.
func widen(low, high, share float64) (float64, float64) {
	size := max(math.Abs(low), math.Abs(high))
	if least := size * resolution; high-low <= least {
		// One value: show a tenth of it around, or from -1 to 1 around zero.
		half := size / 20
		if half == 0 {
			half = 1
		}
		return low - half, high + half
	}
	room := (high - low) * share
	return low - room, high + room
}
