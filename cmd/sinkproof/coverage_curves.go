package main

import (
	"cmp"
	"math"
	"slices"

	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/scenarios/coverage"
)

// coverageCurves draws what other guard factors decide, and the limits with
// the least room.
func coverageCurves(r coverage.Result) []plot.Figure {
	var rejects, escapes, open []plot.Point
	for _, g := range r.Guard {
		rejects = append(rejects, plot.Point{X: g.Factor, Y: 100 * g.FalseRejects.Share})
		escapes = append(escapes, plot.Point{X: g.Factor, Y: 100 * g.Escapes.Share})
		open = append(open, plot.Point{X: g.Factor, Y: 100 * g.Open.Share})
	}
	factor := plot.Axis{Name: "guard factor r"}
	here := []plot.Mark{{Label: "this scenario", X: r.Decision.Guard}}
	curve := func(title, y string, points []plot.Point, of coverage.Rate) plot.Figure {
		return plot.Figure{
			Title: title, X: factor, Y: plot.Axis{Name: y, Unit: "%"}, Curve: points, Marks: here,
			Levels: []plot.Level{{Label: "95 % bound", Y: 100 * of.High}},
		}
	}
	out := []plot.Figure{
		curve("Good units rejected", "of the good units", rejects, r.FalseRejects),
		curve("Faulty units that pass", "of the faulty units", escapes, r.Escapes),
	}
	if r.Guard[len(r.Guard)-1].Open.Count > 0 {
		out = append(out, curve("Units without a verdict", "of all units", open, r.NoVerdict))
	}
	return append(out, limitCurves(r)...)
}

// limitCurves draws the wrong decisions over the move of a limit, for the
// checks whose limits have the least room.
func limitCurves(r coverage.Result) []plot.Figure {
	type room struct {
		check coverage.Check
		width float64
	}
	var rooms []room
	for _, c := range r.Checks {
		if l, ok := limitRow(c); ok && !(l.InOpen && l.OutOpen) {
			rooms = append(rooms, room{c, min(-l.In, l.Out)})
		}
	}
	slices.SortStableFunc(rooms, func(a, b room) int { return cmp.Compare(a.width, b.width) })
	var out []plot.Figure
	for _, x := range rooms[:min(4, len(rooms))] {
		f := plot.Figure{
			Title: x.check.Name, Note: x.check.Title, X: plot.Axis{Name: "limits moved outwards in %", Floating: true}, Y: plot.Axis{Name: "% judged wrongly"},
			Marks: []plot.Mark{{Label: "as written", X: 0}},
		}
		for _, p := range x.check.Limits {
			if math.Abs(p.Move) <= 0.25 {
				f.Curve = append(f.Curve, plot.Point{X: 100 * p.Move, Y: 100 * float64(p.FalseRejects+p.Escapes) / float64(max(1, r.Units))})
			}
		}
		out = append(out, f)
	}
	return out
}

// limitRow finds how far the limits of a check could move. A check that has
// none, or that no unit came near, has no row.
func limitRow(c coverage.Check) (page.CoverageLimit, bool) {
	now := slices.IndexFunc(c.Limits, func(p coverage.LimitPoint) bool { return p.Move == 0 })
	if now < 0 {
		return page.CoverageLimit{}, false
	}
	l := page.CoverageLimit{Label: c.Name, InOpen: true, OutOpen: true, In: c.Limits[0].Move, Out: c.Limits[len(c.Limits)-1].Move}
	for i := now - 1; i >= 0; i-- {
		if c.Limits[i].FalseRejects > c.Limits[now].FalseRejects {
			l.In, l.InOpen = c.Limits[i].Move, false
			break
		}
	}
	for _, p := range c.Limits[now+1:] {
		if p.Escapes > c.Limits[now].Escapes {
			l.Out, l.OutOpen = p.Move, false
			break
		}
	}
	l.InText, l.OutText = "nothing rejected", "nothing escapes"
	if !l.InOpen {
		l.InText = "rejects at " + page.Signed(l.In)
	}
	if !l.OutOpen {
		l.OutText = "escapes at " + page.Signed(l.Out)
	}
	return l, !(l.InOpen && l.OutOpen)
}
