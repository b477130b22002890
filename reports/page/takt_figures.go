package page

import (
	"math"
	"strconv"
)

// taktInks are the tints of the causes, in the order of Takt.Causes: what
// belongs together is of one hue. Every figure says its causes in words, too.
var taktInks = [...]tint{
	0x1B5E9E, // a supply comes
	0x86ADD4, // a supply goes
	0x2E7D62, // holds
	0xC79A1E, // mains periods
	0xE9D48E, // settling
	0x7A4E9E, // the probe
	0x8A3B2E, // relays
	0xD9957C, // VBUS is emptied
	0x9AA3AB, // conversions
	0x2F3A44, // bus
	0xDCE1E5, // hands
}

func taktInk(cause int) tint { return taktInks[cause%len(taktInks)] }

// The measures of the charts.
const (
	taktLabel  = 118.0
	taktText   = 74.0
	taktRow    = 15.0
	taktHead   = 20.0
	taktLegend = 12.0
	taktFloor  = 2.4 // thickness of the floor's line
)

// taktAxis draws seconds from 0 to a span and returns where an instant stands.
func taktAxis(d drawing, span, bottom float64) func(float64) float64 {
	width := bodyWidth - taktLabel - taktText
	at := func(seconds float64) float64 { return taktLabel + width*seconds/math.Max(span, 1e-9) }
	step := taktStep(span)
	for i := 0; float64(i)*step <= span*1.0001; i++ {
		x := at(float64(i) * step)
		d.line(x, taktHead-5, x, bottom, 0.5, hair)
		d.text(x, taktHead-8, 6.8, "", quiet, middle, strconv.FormatFloat(float64(i)*step, 'g', 4, 64)+"\u00a0s")
	}
	return at
}

// taktStep is the distance of the marks of an axis: 1, 2 or 5 of a decade, at
// most ten of them.
func taktStep(span float64) float64 {
	decade := math.Pow(10, math.Floor(math.Log10(math.Max(span, 1e-3)/10)))
	for _, m := range []float64{1, 2, 5} {
		if span/(decade*m) <= 10 {
			return decade * m
		}
	}
	return decade * 10
}

// legend draws the causes in lines of four and returns its height.
func (t Takt) legend() sketch {
	const perLine = 4
	lines := (len(t.Causes) + perLine - 1) / perLine
	return sketch{height: float64(lines)*taktLegend + 6, says: "Which colour is which cause", draw: func(d drawing) {
		width := bodyWidth / perLine
		for i, c := range t.Causes {
			x, y := float64(i%perLine)*width, float64(i/perLine)*taktLegend+3
			d.rect(x, y, 9, 7, taktInk(i))
			d.text(x+13, y+6.3, 7.2, "", inkText, leftSide, c.Name)
		}
	}}
}

// bars draws the sums of the runs above each other, at one scale.
func (t Takt) bars() sketch {
	span := 0.0
	for _, r := range t.Runs {
		sum := 0.0
		for _, p := range r.Parts {
			sum += p
		}
		span = math.Max(span, sum)
	}
	height := taktHead + 18*float64(len(t.Runs)) + 4
	return sketch{height: height, says: "What the runs take, by cause; the figures stand in the table below", draw: func(d drawing) {
		at := taktAxis(d, span, height-4)
		for i, r := range t.Runs {
			y := taktHead + 18*float64(i)
			d.text(taktLabel-6, y+10, 7.6, "", inkText, rightSide, shortTo(r.Label, 32))
			from, sum := 0.0, 0.0
			for c, p := range r.Parts {
				d.rect(at(from), y+1, at(from+p)-at(from), 12, taktInk(c))
				from += p
				sum += p
			}
			d.text(at(sum)+4, y+10, 7.6, "B", inkText, leftSide, r.Text)
		}
	}}
}

// mostTaktRows is how many rounds fit a sheet with the legend above them.
const mostTaktRows = 38

// pieces cuts the chart so that each piece fits a sheet.
func (c TaktChart) pieces() []sketch {
	var out []sketch
	for from := 0; from < len(c.Rows); from += mostTaktRows {
		part := c
		part.Rows = c.Rows[from:min(from+mostTaktRows, len(c.Rows))]
		out = append(out, part.sketch())
	}
	return out
}

// sketch draws a run in time: each round in its row, with its floor below.
func (c TaktChart) sketch() sketch {
	height := taktHead + taktRow*float64(len(c.Rows)) + 6
	return sketch{height: height, says: c.Title + ": each round in its row; the figures stand at the right", draw: func(d drawing) {
		at := taktAxis(d, c.Span, height-4)
		for i, r := range c.Rows {
			r.draw(d, taktHead+taktRow*float64(i), c.Aligned, at)
		}
	}}
}

func (r TaktRow) draw(d drawing, y float64, aligned bool, at func(float64) float64) {
	d.text(taktLabel-6, y+8, 7, "", inkText, rightSide, shortTo(r.Label, 30))
	d.text(bodyWidth, y+8, 6.8, "", quiet, rightSide, r.Text)
	if len(r.Bars) == 0 {
		return
	}
	begin := r.Bars[0].From
	for _, b := range r.Bars {
		from, to := b.From, b.To
		if aligned {
			from, to = from-begin, to-begin
		}
		d.rect(at(from), y+1.5, at(to)-at(from), 8, taktInk(b.Cause))
	}
	if aligned {
		begin = 0
	}
	for _, b := range r.Floor {
		ink := inkText
		if aligned {
			ink = taktInk(b.Cause)
		}
		d.rect(at(begin+b.From), y+10, at(begin+b.To)-at(begin+b.From), taktFloor, ink)
	}
}
