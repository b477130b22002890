package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality"
	"sinkproof/reports/quality/qualification"
)

// mostRows is how many checks stand in a picture: those nearest to a limit.
const mostRows = 9

// pictures are those of the first page, which they fill.
func (d qualified) pictures() []page.StudyFigure {
	list := []page.StudyFigure{{Figure: d.apartPicture()}}
	if len(d.Defects.Kinds) > 0 {
		list = append(list, page.StudyFigure{Figure: d.kindsPicture(), Half: true})
	} else {
		list = append(list, page.StudyFigure{Figure: d.badPicture(), Half: true})
	}
	return append(list, page.StudyFigure{Figure: d.driftPicture(), Half: true})
}

// further are the pictures beside the tables of bad boards and of the rig.
func (d qualified) further() (bad, rig []page.StudyFigure) {
	if len(d.Defects.Kinds) > 0 {
		bad = []page.StudyFigure{{Figure: d.badPicture(), Half: true}}
	}
	if len(d.Rig.Gauges) > 0 {
		rig = []page.StudyFigure{{Figure: d.rigPicture()}}
	}
	return bad, rig
}

// ranked are the indices of checks with the largest measure first.
func (d qualified) ranked(measure func(i int) float64) []int {
	order := make([]int, len(d.Comparisons))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(measure(b), measure(a)) })
	return order[:min(len(order), mostRows)]
}

// rows draws intervals below each other with their values.
func rows(f *plot.Figure, names []string, values []float64, spans []quality.Interval, seen ...float64) {
	ends := plot.Series{Shape: plot.Dots, Ink: plot.Blue}
	rings := plot.Series{Shape: plot.Ring, Ink: plot.Blue}
	for i, name := range names {
		y := float64(len(names) - i)
		f.YTicks = append(f.YTicks, plot.Tick{At: y, Label: clipped(name, 30)})
		if s := spans[i]; s.Defined() && !math.IsInf(s.Low, 0) && !math.IsInf(s.High, 0) {
			line := []plot.Point{{X: s.Low, Y: y}, {X: s.High, Y: y}}
			f.Series = append(f.Series, plot.Series{Shape: plot.Line, Ink: plot.Blue, Points: line})
			ends.Points = append(ends.Points, line...)
		}
		if !math.IsNaN(values[i]) {
			rings.Points = append(rings.Points, plot.Point{X: values[i], Y: y})
			seen = append(seen, values[i])
		}
	}
	room := plot.Series{Shape: plot.Room}
	for _, x := range seen {
		room.Points = append(room.Points, plot.Point{X: x, Y: 0.4}, plot.Point{X: x, Y: float64(len(names)) + 0.6})
	}
	f.Series = append(f.Series, ends, rings, room)
}

// apartPicture shows the differences of means in units of their margins.
func (d qualified) apartPicture() plot.Figure {
	f := plot.Figure{
		Title: "Means: candidate minus incumbent, in units of the margin", X: plot.Axis{Name: "difference", Unit: "margin"}, Y: plot.Axis{Floating: true},
		Note: "alike where an interval lies between -1 and 1; the checks farthest out",
	}
	reach := func(i int) float64 {
		c := d.Comparisons[i]
		r := max(math.Abs(c.Low), math.Abs(c.High)) / c.Margin
		if math.IsNaN(r) {
			return -1
		}
		return r
	}
	var names []string
	var values []float64
	var spans []quality.Interval
	for _, i := range d.ranked(reach) {
		c := d.Comparisons[i]
		names = append(names, c.Name)
		values = append(values, c.Difference/c.Margin)
		spans = append(spans, quality.Interval{Low: c.Low / c.Margin, High: c.High / c.Margin})
	}
	rows(&f, names, values, spans, -1.2, 1.2)
	f.X.Unit = ""
	f.Marks = []plot.Mark{{Label: "margin", X: -1}, {Label: "margin", X: 1}}
	return f
}

// badPicture shows the shares of bad boards.
func (d qualified) badPicture() plot.Figure {
	f := plot.Figure{Title: "Bad boards", X: plot.Axis{Name: "share", Unit: "%"}, Y: plot.Axis{Floating: true}}
	var values []float64
	var spans []quality.Interval
	for _, p := range d.Defects.Sides {
		values = append(values, 100*p.Estimate)
		spans = append(spans, quality.Interval{Low: 100 * p.ClopperPearson.Low, High: 100 * p.ClopperPearson.High})
	}
	rows(&f, []string{"candidate", "incumbent"}, values, spans)
	return f
}

// kindsPicture shows the faults by kind of both sides.
func (d qualified) kindsPicture() plot.Figure {
	f := plot.Figure{Title: "Faults by kind", X: plot.Axis{}, Y: plot.Axis{Name: "boards"}}
	series := [2]plot.Series{
		{Name: "candidate", Shape: plot.Bars, Ink: plot.Blue, Width: 0.36},
		{Name: "incumbent", Shape: plot.Bars, Ink: plot.Pale, Width: 0.36},
	}
	for i, k := range d.Defects.Kinds[:min(len(d.Defects.Kinds), 4)] {
		at := float64(i + 1)
		for side := range series {
			series[side].Points = append(series[side].Points, plot.Point{X: at - 0.2 + 0.4*float64(side), Y: float64(k.Count[side])})
		}
		f.XTicks = append(f.XTicks, plot.Tick{At: at, Label: k.Name})
	}
	f.Series = append(series[:], plot.Series{Shape: plot.Room, Points: []plot.Point{{X: 0.4, Y: 0}, {X: float64(min(len(d.Defects.Kinds), 4)) + 0.6, Y: 0}}})
	return f
}

// groupsOfDrift is how many points a side has in the picture of a drift.
const groupsOfDrift = 30

// driftPicture shows the check that drifts most, by groups of boards in the
// order of their serials.
func (d qualified) driftPicture() plot.Figure {
	i := d.ranked(func(i int) float64 {
		c := d.Comparisons[i]
		x := c.Drifts[0]
		if math.IsNaN(x.Difference) {
			return -1
		}
		return math.Max(math.Abs(x.Low), math.Abs(x.High)) / c.Margin
	})[0]
	c := d.Comparisons[i]
	f := plot.Figure{
		Title: "Largest drift: " + c.Name, Note: "means of neighbours in the order of serials",
		X: plot.Axis{Name: "share of the boards made", Unit: "%"}, Y: plot.Axis{Name: "", Unit: c.Unit, Floating: true},
	}
	for side, s := range []plot.Series{
		{Name: "candidate", Shape: plot.Line, Ink: plot.Blue}, {Name: "incumbent", Shape: plot.Dashed, Ink: plot.Orange},
	} {
		list := qualification.BySerial(d.Boards, qualification.Side(side))
		list = slices.DeleteFunc(list, func(b *qualification.Board) bool { return !b.Good || math.IsNaN(b.Values[i]) })
		size := max(1, len(list)/groupsOfDrift)
		for at := 0; at+size <= len(list); at += size {
			sum := 0.0
			for _, b := range list[at : at+size] {
				sum += b.Values[i]
			}
			s.Points = append(s.Points, plot.Point{X: 100 * (float64(at) + float64(size)/2) / float64(len(list)), Y: sum / float64(size)})
		}
		f.Series = append(f.Series, s)
	}
	return f
}

// rigPicture shows how much of the room the rig takes itself.
func (d qualified) rigPicture() plot.Figure {
	f := plot.Figure{Title: "The rig's own spread", X: plot.Axis{Name: "of the room between limits", Unit: "%"}, Y: plot.Axis{Floating: true},
		Note: fmt.Sprintf("at most %g %%; the checks that leave least", d.Terms.GRR)}
	percent := func(i int) float64 {
		if p := d.Rig.Gauges[i].Percent; !math.IsNaN(p) {
			return p
		}
		return -1
	}
	var names []string
	var values []float64
	var spans []quality.Interval
	for _, i := range d.ranked(percent) {
		names = append(names, d.Comparisons[i].Name)
		values = append(values, d.Rig.Gauges[i].Percent)
		spans = append(spans, quality.Interval{Low: 0, High: d.Rig.Gauges[i].Percent})
	}
	rows(&f, names, values, spans, 0, d.Terms.GRR*1.05)
	f.Marks = []plot.Mark{{Label: "limit", X: d.Terms.GRR}}
	return f
}
