package statistics

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality"
	"sinkproof/reports/quality/moments"
)

// wide and half place a figure on a page.
func wide(f plot.Figure) page.StudyFigure { return page.StudyFigure{Figure: f} }

func half(f plot.Figure) page.StudyFigure { return page.StudyFigure{Figure: f, Half: true} }

// axis is the axis of the values.
func (o origin) axis() plot.Axis { return plot.Axis{Name: o.column, Unit: o.unit, Floating: true} }

// The most and the fewest bars of a histogram.
const (
	mostBars   = 60
	fewestBars = 5
)

// histogram counts values in bars whose width is 1, 2 or 5 times a power of
// ten, near what Freedman and Diaconis (Zeitschrift für Wahrscheinlichkeits-
// theorie 57 (1981) 453) advise. The values must be sorted and not all alike.
func histogram(sorted []float64) (bars []plot.Point, width float64) {
	n := len(sorted)
	low, high := sorted[0], sorted[n-1]
	iqr := moments.Quantile(sorted, 0.75, moments.Inclusive) - moments.Quantile(sorted, 0.25, moments.Inclusive)
	width = 2 * iqr / math.Cbrt(float64(n))
	width = min(max(width, (high-low)/mostBars), (high-low)/fewestBars)
	width = roundWidth(width)
	first := math.Floor(low / width)
	counts := make([]int, int(math.Floor(high/width)-first)+1)
	for _, v := range sorted {
		at := int(math.Floor(v/width) - first)
		counts[min(max(at, 0), len(counts)-1)]++
	}
	for i, c := range counts {
		bars = append(bars, plot.Point{X: (first + float64(i) + 0.5) * width, Y: float64(c)})
	}
	return bars, width
}

// roundWidth is the nearest of 1, 2 or 5 times a power of ten, as a ratio.
func roundWidth(width float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(width)))
	best := power
	for _, m := range []float64{2, 5, 10} {
		if math.Abs(math.Log(m*power/width)) < math.Abs(math.Log(best/width)) {
			best = m * power
		}
	}
	return best
}

// bell is a normal law over a histogram.
func bell(name string, shape plot.Shape, ink plot.Ink, mean, sd, area, from, to float64) plot.Series {
	s := plot.Series{Name: name, Shape: shape, Ink: ink}
	const points = 200
	law := distuv.Normal{Mu: mean, Sigma: sd}
	for i := range points + 1 {
		x := from + (to-from)*float64(i)/points
		s.Points = append(s.Points, plot.Point{X: x, Y: area * law.Prob(x)})
	}
	return s
}

// farOut is how many widths of the data a limit may lie away and still be
// drawn; beyond it the data would be a stroke.
const farOut = 2.0

// span is the range of a histogram with those of the limits that are near;
// note tells of the others.
func span(sorted []float64, limits map[string]float64) (from, to float64, note string) {
	low, high := sorted[0], sorted[len(sorted)-1]
	width := high - low
	from, to = low-width*0.1, high+width*0.1
	var far []string
	for _, name := range slices.Sorted(keys(limits)) {
		v := limits[name]
		switch {
		case math.IsNaN(v) || math.IsInf(v, 0):
		case v < low-farOut*width || v > high+farOut*width:
			far = append(far, name+" "+show(v)+" is far outside")
		default:
			from, to = min(from, v-width*0.04), max(to, v+width*0.04)
		}
	}
	return from, to, strings.Join(far, "; ")
}

func keys[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// spreadPicture is the histogram with its limits and fitted laws.
func spreadPicture(o origin, sorted []float64, limits map[string]float64, laws func(area, from, to float64) []plot.Series) plot.Figure {
	bars, width := histogram(sorted)
	from, to, note := span(sorted, limits)
	f := plot.Figure{Title: "Histogram", Note: note, X: o.axis(), Y: plot.Axis{Name: "values"},
		Series: []plot.Series{{Shape: plot.Bars, Ink: plot.Pale, Points: bars, Width: width}}}
	f.Series = append(f.Series, laws(width*float64(len(sorted)), from, to)...)
	for _, name := range slices.Sorted(keys(limits)) {
		if v := limits[name]; v >= from && v <= to {
			f.Marks = append(f.Marks, plot.Mark{Label: name + " " + show(v), X: v})
		}
	}
	return f
}

// mostDots is how many points a probability plot shows; of more, those at both
// ends, where it matters, and some in between.
const mostDots = 400

// probability is the probability plot: sorted values over the quantiles of the
// normal law, on which normal values lie on a line.
func probability(o origin, sorted []float64, mean, sd float64) plot.Figure {
	n := len(sorted)
	dots := plot.Series{Shape: plot.Dots, Ink: plot.Blue}
	for _, i := range shownOf(n) {
		// Blom's plotting positions.
		p := (float64(i) + 0.625) / (float64(n) + 0.25)
		dots.Points = append(dots.Points, plot.Point{X: sorted[i], Y: distuv.UnitNormal.Quantile(p)})
	}
	line := plot.Series{Name: "normal with this mean and spread", Shape: plot.Line, Ink: plot.Orange}
	// The line goes as high as the dots: one value far out would take it to shares
	// that no sample has, and press all that there is into a corner.
	high := distuv.UnitNormal.Quantile((float64(n-1)+0.625)/(float64(n)+0.25)) + 0.5
	for _, x := range []float64{max(sorted[0], mean-high*sd), min(sorted[n-1], mean+high*sd)} {
		line.Points = append(line.Points, plot.Point{X: x, Y: (x - mean) / sd})
	}
	return plot.Figure{Title: "Probability plot", X: o.axis(), Y: plot.Axis{Name: "share below in %", Floating: true},
		Series: []plot.Series{line, dots}, YTicks: shareTicks()}
}

// shownOf picks the places that are drawn of n.
func shownOf(n int) []int {
	var out []int
	const end = mostDots / 5
	step := max(1, (n-2*end)/(mostDots-2*end))
	for i := 0; i < n; i++ {
		if n <= mostDots || i < end || i >= n-end || i%step == 0 {
			out = append(out, i)
		}
	}
	return out
}

// shareTicks name the quantiles of the normal law by their shares.
func shareTicks() []plot.Tick {
	var out []plot.Tick
	for _, percent := range []float64{0.0001, 0.01, 0.1, 1, 5, 20, 50, 80, 95, 99, 99.9, 99.99, 99.9999} {
		out = append(out, plot.Tick{At: distuv.UnitNormal.Quantile(percent / 100), Label: show(percent)})
	}
	return out
}

// ranged is an interval with the name of what it is of.
type ranged struct {
	name  string
	value float64
	quality.Interval
}

// intervalsPicture draws intervals below each other, the first at the top, with
// room for the abscissas that have to be seen.
func intervalsPicture(title string, x plot.Axis, list []ranged, seen ...float64) plot.Figure {
	f := plot.Figure{Title: title, X: x, Y: plot.Axis{Floating: true}}
	ends := plot.Series{Shape: plot.Dots, Ink: plot.Blue}
	values := plot.Series{Shape: plot.Ring, Ink: plot.Blue}
	for i, r := range list {
		y := float64(len(list) - i)
		f.YTicks = append(f.YTicks, plot.Tick{At: y, Label: shorten(r.name, 22)})
		if r.Defined() && !math.IsInf(r.Low, 0) && !math.IsInf(r.High, 0) {
			line := []plot.Point{{X: r.Low, Y: y}, {X: r.High, Y: y}}
			f.Series = append(f.Series, plot.Series{Shape: plot.Line, Ink: plot.Blue, Points: line})
			ends.Points = append(ends.Points, line...)
		}
		if !math.IsNaN(r.value) {
			values.Points = append(values.Points, plot.Point{X: r.value, Y: y})
			seen = append(seen, r.value)
		}
	}
	room := plot.Series{Shape: plot.Room}
	for _, v := range seen {
		room.Points = append(room.Points, plot.Point{X: v, Y: 0.4}, plot.Point{X: v, Y: float64(len(list)) + 0.6})
	}
	f.Series = append(f.Series, ends, values, room)
	return f
}

func shorten(text string, most int) string {
	if r := []rune(text); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return text
}

// part of a whole, for a Pareto.
type share struct {
	name  string
	count float64
}

// mostShares is how many bars a Pareto has; the rest stands together.
const mostShares = 12

// pareto orders parts by their size, with what they make up together.
func pareto(title, what string, parts []share) plot.Figure {
	parts = slices.DeleteFunc(slices.Clone(parts), func(s share) bool { return !(s.count > 0) })
	slices.SortStableFunc(parts, func(a, b share) int {
		switch {
		case a.count > b.count:
			return -1
		case a.count < b.count:
			return 1
		}
		return strings.Compare(a.name, b.name)
	})
	if len(parts) > mostShares {
		rest := share{name: "all others"}
		for _, p := range parts[mostShares-1:] {
			rest.count += p.count
		}
		parts = append(parts[:mostShares-1], rest)
	}
	total := 0.0
	for _, p := range parts {
		total += p.count
	}
	f := plot.Figure{Title: title, X: plot.Axis{}, Y: plot.Axis{Name: "share", Unit: "%"}}
	bars := plot.Series{Name: what, Shape: plot.Bars, Ink: plot.Pale, Width: 0.8}
	sum := plot.Series{Name: "cumulated", Shape: plot.Line, Ink: plot.Orange}
	so := 0.0
	for i, p := range parts {
		so += p.count
		x := float64(i + 1)
		bars.Points = append(bars.Points, plot.Point{X: x, Y: 100 * p.count / total})
		sum.Points = append(sum.Points, plot.Point{X: x, Y: 100 * so / total})
		f.XTicks = append(f.XTicks, plot.Tick{At: x, Label: shorten(p.name, 14)})
	}
	f.Series = []plot.Series{bars, sum, {Shape: plot.Dots, Ink: plot.Orange, Points: sum.Points}}
	return f
}
