package statistics

import (
	"slices"

	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality/gauge"
)

// draw are the readings about their reference, and the bias with its interval.
func (f *biasFlags) draw(t *table, o gauge.Offset) (figures, error) {
	sorted := slices.Sorted(slices.Values(t.values))
	laws := func(area, from, to float64) []plot.Series {
		return []plot.Series{bell("normal with this mean and spread", plot.Line, plot.Orange, f.reference.value+o.Bias, o.SD, area, from, to)}
	}
	x := t.axis()
	x.Name = "bias"
	seen, marks := []float64{0}, []plot.Mark{{Label: "none", X: 0}}
	if f.accept.set {
		most := f.accept.value / 100 * f.tolerance.value
		seen = append(seen, -most, most)
		marks = append(marks, plot.Mark{Label: "least accepted", X: -most}, plot.Mark{Label: "most accepted", X: most})
	}
	d := intervalsPicture("Bias", x, []ranged{{"bias", o.Bias, o.Interval}}, seen...)
	d.Marks = marks
	order := inOrder(t.origin, t.values, f.reference.value+o.Bias)
	order.Levels = append(order.Levels, plot.Level{Label: "reference", Y: f.reference.value})
	return figures{wide(spreadPicture(t.origin, sorted, map[string]float64{"reference": f.reference.value}, laws)), half(d), half(order)}, nil
}

// bandPicture draws a line with its band through points.
func bandPicture(title string, x, y plot.Axis, dots []plot.Point, l gauge.Line) plot.Figure {
	low, high := dots[0].X, dots[0].X
	for _, p := range dots {
		low, high = min(low, p.X), max(high, p.X)
	}
	line := plot.Series{Name: "line", Shape: plot.Line, Ink: plot.Orange}
	below := plot.Series{Name: "its band", Shape: plot.Dashed, Ink: plot.Green}
	above := plot.Series{Shape: plot.Dashed, Ink: plot.Green}
	const points = 60
	for i := range points + 1 {
		at := low + (high-low)*float64(i)/points
		v, band := l.At(at)
		line.Points = append(line.Points, plot.Point{X: at, Y: v})
		below.Points = append(below.Points, plot.Point{X: at, Y: band.Low})
		above.Points = append(above.Points, plot.Point{X: at, Y: band.High})
	}
	return plot.Figure{Title: title, X: x, Y: y, Series: []plot.Series{below, above, line, {Name: "reading", Shape: plot.Dots, Ink: plot.Blue, Points: dots}}}
}

// draw is the bias over the references.
func (f *linearityFlags) draw(t *table, l linear) (figures, error) {
	y := t.axis()
	y.Name = "bias"
	var dots []plot.Point
	for i, at := range l.references {
		for _, v := range l.readings[i] {
			dots = append(dots, plot.Point{X: at, Y: v - at})
		}
	}
	p := bandPicture("Bias over the reference", plot.Axis{Name: f.reference, Unit: t.unit, Floating: true}, y, dots, l.Line)
	p.Levels = []plot.Level{{Label: "none", Y: 0}}
	if f.accept.set {
		most := f.accept.value / 100 * f.tolerance.value
		p.Levels = append(p.Levels, plot.Level{Label: "most accepted", Y: most}, plot.Level{Label: "least accepted", Y: -most})
	}
	return figures{wide(p)}, nil
}
