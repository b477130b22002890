package page

import (
	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

// figure turns a waveform into a figure: time from its first sample in
// milliseconds, or seconds where it lasts longer than ten.
func figure(w record.Waveform) plot.Figure {
	last := w.Instant(len(w.Samples) - 1)
	scale, unit := 1e-3, "ms"
	if last-w.Instant(0) > 10_000_000 {
		scale, unit = 1e-6, "s"
	}
	start := w.Instant(0)
	for _, m := range w.Marks {
		start = min(start, m.AtUS)
	}
	f := plot.Figure{
		Title: w.Title, X: "time in " + unit, Y: w.Channel + " in " + w.Unit,
		Dots: len(w.Samples) <= dotsUpTo,
	}
	for i, v := range w.Samples {
		f.Curve = append(f.Curve, plot.Point{X: float64(w.Instant(i)-start) * scale, Y: v})
	}
	for _, t := range w.Thresholds {
		f.Levels = append(f.Levels, plot.Level{Label: t.Label, Y: t.Value})
	}
	for _, m := range w.Marks {
		f.Marks = append(f.Marks, plot.Mark{Label: m.Label, X: float64(m.AtUS-start) * scale})
	}
	return f
}

// dotsUpTo is the number of samples up to which each gets a dot; more would
// run into one thick line.
const dotsUpTo = 400
