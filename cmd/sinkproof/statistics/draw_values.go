package statistics

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality"
	"sinkproof/reports/quality/chart"
	"sinkproof/reports/quality/gauge"
	"sinkproof/reports/quality/law"
	"sinkproof/reports/quality/moments"
)

// draw are the pictures of a capability study.
func (c capable) draw() (figures, error) {
	r := c.report
	limits := map[string]float64{"lower": c.limits.Lower, "upper": c.limits.Upper, "target": c.limits.Target}
	laws := func(area, from, to float64) []plot.Series {
		list := []plot.Series{bell("normal, overall spread", plot.Line, plot.Orange, r.Mean, r.SDOverall, area, from, to)}
		// A spread far below the other would be a needle over the picture.
		if r.SDWithin > r.SDOverall/3 && math.Abs(r.SDWithin-r.SDOverall) > 0.02*r.SDOverall {
			list = append(list, bell("spread within", plot.Dashed, plot.Green, r.Mean, r.SDWithin, area, from, to))
		}
		return list
	}
	return figures{
		wide(spreadPicture(c.t.origin, c.sorted, limits, laws)),
		half(probability(c.t.origin, c.sorted, r.Mean, r.SDOverall)),
		half(c.inOrder()),
	}, nil
}

// inOrder shows values in the order of the source: an index of a process that
// moves means little.
func inOrder(o origin, values []float64, mean float64) plot.Figure {
	f := plot.Figure{Title: "In their order", X: plot.Axis{Name: "number"}, Y: o.axis()}
	for i, v := range values {
		f.Curve = append(f.Curve, plot.Point{X: float64(i + 1), Y: v})
	}
	f.Levels = []plot.Level{{Label: "mean", Y: mean}}
	return f
}

func (c capable) inOrder() plot.Figure {
	f := inOrder(c.t.origin, c.t.values, c.report.Mean)
	low, high := c.sorted[0], c.sorted[len(c.sorted)-1]
	for _, l := range []plot.Level{{Label: "lower", Y: c.limits.Lower}, {Label: "upper", Y: c.limits.Upper}} {
		if l.Y > low-farOut*(high-low) && l.Y < high+farOut*(high-low) {
			f.Levels = append(f.Levels, l)
		}
	}
	return f
}

// drawBadByGroup is the Pareto of values beyond the limits; none where there
// are no groups, or nothing is beyond.
func drawBadByGroup(s study) func() (figures, error) {
	var parts []share
	bad := 0.0
	for i, f := range s.findings {
		if s.by == "" {
			return nil
		}
		n, observed := f.fields.get("n"), f.fields.get("nonconforming_observed")
		parts = append(parts, share{s.groups[i], math.Round(n * observed)})
		bad += parts[i].count
	}
	if bad == 0 {
		return nil
	}
	return func() (figures, error) {
		return figures{wide(pareto("Beyond the limits, by "+s.by, "of all values beyond the limits", parts))}, nil
	}
}

// drawPareto is the Pareto of counts by group.
func drawPareto(s study, t *table, column int) func() (figures, error) {
	parts := make([]share, len(s.groups))
	total := 0.0
	for i, v := range t.values {
		at := t.codes[column][i]
		parts[at].name = s.groups[at]
		parts[at].count += v
		total += v
	}
	if total == 0 {
		return nil
	}
	return func() (figures, error) {
		return figures{wide(pareto("By "+s.by, "of all counted", parts))}, nil
	}
}

// drawMoments are the values in their order and their histogram; a sample
// without spread has none.
func drawMoments(o origin, values []float64, m moments.Moments) (figures, error) {
	series := figures{wide(inOrder(o, values, m.Mean))}
	if m.Min == m.Max {
		return series, nil
	}
	sorted := slices.Sorted(slices.Values(values))
	laws := func(area, from, to float64) []plot.Series {
		return []plot.Series{bell("normal with this mean and spread", plot.Line, plot.Orange, m.Mean, m.SD, area, from, to)}
	}
	return append(figures{wide(spreadPicture(o, sorted, nil, laws))}, series...), nil
}

func drawTolerance(t *table, m moments.Moments, limits quality.Interval) (figures, error) {
	sorted := slices.Sorted(slices.Values(t.values))
	laws := func(area, from, to float64) []plot.Series {
		return []plot.Series{bell("normal with this mean and spread", plot.Line, plot.Orange, m.Mean, m.SD, area, from, to)}
	}
	return figures{
		wide(spreadPicture(t.origin, sorted, map[string]float64{"lower limit": limits.Low, "upper limit": limits.High}, laws)),
		wide(probability(t.origin, sorted, m.Mean, m.SD)),
	}, nil
}

// mostRings is how many broken points are ringed.
const mostRings = 500

// drawChart is the chart, with the one of the spread below it.
func drawChart(t *table, c charted) (figures, error) {
	main := c.picture(t, c.main, c.mainName, 0)
	main.Levels = append(main.Levels, c.asymptotes()...)
	out := figures{wide(main)}
	if c.spread != nil && len(c.spread.Points) > 0 {
		out = append(out, wide(c.picture(t, *c.spread, c.spreadName, c.skipped())))
	}
	return out, nil
}

// skipped is how many points later a moving range begins.
func (c charted) skipped() int {
	if c.spreadName == "moving range" {
		return 1
	}
	return 0
}

// asymptotes are the limits that an ewma tends to.
func (c charted) asymptotes() []plot.Level {
	if !math.IsNaN(c.main.Lower) || math.IsNaN(c.lower) {
		return nil
	}
	return []plot.Level{{Label: "lower, in the end", Y: c.lower}, {Label: "upper, in the end", Y: c.upper}}
}

func (c charted) picture(t *table, ch chart.Chart, name string, skip int) plot.Figure {
	y := t.axis()
	y.Name = name
	x := "point"
	if len(c.labels) > 0 {
		x = "subgroup"
	}
	f := plot.Figure{Title: capitalized(name), X: plot.Axis{Name: x}, Y: y}
	if name == "fraction bad" || name == "number bad" || name == "faults" || name == "faults per unit" {
		f.Y.Unit = ""
	}
	rings := plot.Series{Name: "a rule is broken", Shape: plot.Ring, Ink: plot.Brown}
	lower := plot.Series{Name: "limits", Shape: plot.Steps, Ink: plot.Brown}
	upper := plot.Series{Shape: plot.Steps, Ink: plot.Brown}
	for _, p := range ch.Points {
		at := float64(p.Index + skip)
		f.Curve = append(f.Curve, plot.Point{X: at, Y: p.Value})
		lower.Points = append(lower.Points, plot.Point{X: at, Y: p.Lower})
		upper.Points = append(upper.Points, plot.Point{X: at, Y: p.Upper})
		if p.Out() && len(rings.Points) < mostRings {
			rings.Points = append(rings.Points, plot.Point{X: at, Y: p.Value})
		}
		if skip == 0 && p.Index <= len(c.labels) {
			f.XTicks = append(f.XTicks, plot.Tick{At: at, Label: shorten(c.labels[p.Index-1], 16)})
		}
	}
	if !math.IsNaN(ch.Centre) {
		f.Levels = append(f.Levels, plot.Level{Label: "centre", Y: ch.Centre})
	}
	if math.IsNaN(ch.Lower) {
		f.Series = append(f.Series, lower, upper)
	} else {
		f.Levels = append(f.Levels, plot.Level{Label: "lower", Y: ch.Lower}, plot.Level{Label: "upper", Y: ch.Upper})
	}
	if len(rings.Points) > 0 {
		f.Series = append(f.Series, rings)
	}
	return f
}

func capitalized(text string) string {
	r := []rune(text)
	if len(r) > 0 && r[0] >= 'a' && r[0] <= 'z' {
		r[0] += 'A' - 'a'
	}
	return string(r)
}

// drawGauge are the panels of a gauge study.
func drawGauge(t *table, s gauge.Study, c gauge.Components, width float64, anova bool) (figures, error) {
	return figures{
		half(componentsPicture(c, width, len(s.Appraisers), anova)),
		half(rangesPicture(t, s)),
		half(partsPicture(t, s)),
		half(interactionPicture(t, s)),
	}, nil
}

func componentsPicture(c gauge.Components, width float64, appraisers int, anova bool) plot.Figure {
	f := plot.Figure{Title: "Components", X: plot.Axis{}, Y: plot.Axis{Name: "share", Unit: "%"}}
	of := []struct {
		name   string
		ink    plot.Ink
		offset float64
		gauge.Components
	}{{"of the total spread", plot.Blue, 0, c.Scaled(c.TV)}}
	barWidth := 0.7
	if width > 0 {
		barWidth, of[0].offset = 0.38, -0.2
		of = append(of, struct {
			name   string
			ink    plot.Ink
			offset float64
			gauge.Components
		}{"of the tolerance", plot.Pale, 0.2, c.Scaled(width / 6)})
	}
	for n, o := range of {
		s := plot.Series{Name: o.name, Shape: plot.Bars, Ink: o.ink, Width: barWidth}
		i := 0
		for _, x := range components(o.Components, gauge.Intervals{}, appraisers, anova) {
			if x.name == "tv" {
				continue
			}
			i++
			s.Points = append(s.Points, plot.Point{X: float64(i) + o.offset, Y: x.value})
			if n == 0 {
				f.XTicks = append(f.XTicks, plot.Tick{At: float64(i), Label: map[string]string{"ev": "EV", "av": "AV", "interaction": "Interact.", "grr": "GRR", "pv": "Parts"}[x.name]})
			}
		}
		f.Series = append(f.Series, s)
	}
	return f
}

// rangesPicture charts the ranges of trials, appraiser by appraiser.
func rangesPicture(t *table, s gauge.Study) plot.Figure {
	y := t.axis()
	y.Name, y.Floating = "range of trials", false
	f := plot.Figure{Title: "Ranges", X: plot.Axis{}, Y: y}
	spread := law.Range{N: len(s.Values[0][0])}
	sum, at := 0.0, 0
	rings := plot.Series{Name: "out of control", Shape: plot.Ring, Ink: plot.Brown}
	for i, parts := range s.Values {
		line := plot.Series{Shape: plot.Line, Ink: plot.Ink(i % 3)}
		f.XTicks = append(f.XTicks, plot.Tick{At: float64(at) + float64(len(parts)+1)/2, Label: shorten(s.Appraisers[i], 12)})
		for _, trials := range parts {
			at++
			r := slices.Max(trials) - slices.Min(trials)
			sum += r
			line.Points = append(line.Points, plot.Point{X: float64(at), Y: r})
		}
		f.Series = append(f.Series, line, plot.Series{Shape: plot.Dots, Ink: line.Ink, Points: line.Points})
	}
	mean := sum / float64(at)
	upper := mean * (1 + 3*spread.SD()/spread.Mean())
	for _, x := range f.Series {
		for _, p := range x.Points {
			if x.Shape == plot.Dots && p.Y > upper {
				rings.Points = append(rings.Points, p)
			}
		}
	}
	if len(rings.Points) > 0 {
		f.Series = append(f.Series, rings)
	}
	f.Levels = []plot.Level{{Label: "mean", Y: mean}, {Label: "upper", Y: upper}}
	return f
}

// partTicks name the parts.
func partTicks(s gauge.Study) []plot.Tick {
	var out []plot.Tick
	for i, p := range s.Parts {
		out = append(out, plot.Tick{At: float64(i + 1), Label: shorten(p, 10)})
	}
	return out
}

// partsPicture shows every reading by part.
func partsPicture(t *table, s gauge.Study) plot.Figure {
	f := plot.Figure{Title: "By part", X: plot.Axis{Name: "part"}, Y: t.axis(), XTicks: partTicks(s)}
	means := plot.Series{Name: "mean", Shape: plot.Line, Ink: plot.Orange}
	dots := plot.Series{Name: "reading", Shape: plot.Dots, Ink: plot.Blue}
	for j := range s.Parts {
		sum, n := 0.0, 0
		for i := range s.Appraisers {
			for _, v := range s.Values[i][j] {
				dots.Points = append(dots.Points, plot.Point{X: float64(j + 1), Y: v})
				sum += v
				n++
			}
		}
		means.Points = append(means.Points, plot.Point{X: float64(j + 1), Y: sum / float64(n)})
	}
	f.Series = []plot.Series{means, dots}
	return f
}

// interactionPicture draws the means of each appraiser: lines that are not
// parallel are an interaction.
func interactionPicture(t *table, s gauge.Study) plot.Figure {
	f := plot.Figure{Title: "By appraiser", X: plot.Axis{Name: "part"}, Y: t.axis(), XTicks: partTicks(s)}
	shapes := []plot.Shape{plot.Line, plot.Dashed}
	for i, name := range s.Appraisers {
		line := plot.Series{Name: name, Shape: shapes[i/3%2], Ink: plot.Ink(i % 3)}
		for j := range s.Parts {
			line.Points = append(line.Points, plot.Point{X: float64(j + 1), Y: moments.Of(s.Values[i][j]).Mean()})
		}
		f.Series = append(f.Series, line, plot.Series{Shape: plot.Dots, Ink: line.Ink, Points: line.Points})
	}
	return f
}

// drawCompare are the pictures of a comparison.
func drawCompare(c comparison, labels [2]string, margin number) (figures, error) {
	f := plot.Figure{Title: "Distributions", X: c.a.axis(), Y: plot.Axis{Name: "share below", Unit: "%"}}
	for i, t := range []*table{c.a, c.b} {
		f.Series = append(f.Series, plot.Series{Name: labels[i], Shape: []plot.Shape{plot.Line, plot.Dashed}[i], Ink: []plot.Ink{plot.Blue, plot.Orange}[i], Points: below(t.values)})
	}
	intervals := []ranged{{"means", c.welch.Difference, c.welch.Interval}, {"ranks (shift)", c.ranks.Shift, c.ranks.Interval}}
	if margin.set {
		intervals = append(intervals, ranged{"equivalence", c.welch.Difference, c.equal.Interval})
	}
	x := c.a.axis()
	x.Name = "difference"
	seen := []float64{0}
	if margin.set {
		seen = append(seen, -margin.value, margin.value)
	}
	d := intervalsPicture("Difference", x, intervals, seen...)
	d.Marks = []plot.Mark{{Label: "none", X: 0}}
	if margin.set {
		d.Marks = append(d.Marks, plot.Mark{Label: "-margin", X: -margin.value}, plot.Mark{Label: "margin", X: margin.value})
	}
	return figures{half(f), half(d)}, nil
}

// below is the distribution function of a sample, as steps.
func below(values []float64) []plot.Point {
	sorted := slices.Sorted(slices.Values(values))
	var out []plot.Point
	n := float64(len(sorted))
	for i, v := range sorted {
		if i+1 < len(sorted) && sorted[i+1] == v {
			continue
		}
		before := 0.0
		if len(out) > 0 {
			before = out[len(out)-1].Y
		}
		out = append(out, plot.Point{X: v, Y: before}, plot.Point{X: v, Y: 100 * float64(i+1) / n})
	}
	return out
}

// mostGroups is how many groups stand in one picture.
const mostGroups = 30

// drawEffects compares all groups by their effect sizes, which have no unit.
func drawEffects(by string, groups []string, all []comparison) func() (figures, error) {
	return func() (figures, error) {
		var list []ranged
		for i, c := range all {
			if i < mostGroups && !math.IsNaN(c.effect.G) {
				list = append(list, ranged{groups[i], c.effect.G, c.effect.Interval})
			}
		}
		if len(list) == 0 {
			return nil, nil
		}
		f := intervalsPicture("Effect sizes, by "+by, plot.Axis{Name: "difference in standard deviations"}, list, 0)
		f.Marks = []plot.Mark{{Label: "none", X: 0}}
		if len(all) > len(list) {
			f.Note = fmt.Sprintf("%d of %d groups", len(list), len(all))
		}
		return []page.StudyFigure{wide(f)}, nil
	}
}
