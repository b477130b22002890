package page

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// The tints of shares, from none to all: one blue, so that it reads in grey
// print and for whoever does not tell red from green.
const (
	heatNone tint = 0xF1F4F7
	heatAll  tint = 0x123F6B
	mark     tint = 0xC2571A // a catch that nothing else made
	barInk   tint = 0x1B5E9E
	roomInk  tint = 0x9DB9D4
)

// whiteFrom is the share from which a cell is so dark that white reads better.
const whiteFrom = 0.55

// mix is the tint between two at a share of the way.
func mix(a, b tint, share float64) tint {
	ar, ag, ab := a.rgb()
	br, bg, bb := b.rgb()
	at := func(x, y int) tint { return tint(math.Round(float64(x) + (float64(y)-float64(x))*share)) }
	return at(ar, br)<<16 | at(ag, bg)<<8 | at(ab, bb)
}

// The measures of the heat map, in points.
const (
	heatLabel = 142.0
	heatRow   = 12.5
	heatHead  = 92.0
	heatFoot  = 20.0
	heatMost  = 26.0 // the widest cell
)

// heatMaps draws the map in pieces of rows that each fit a page.
func heatMaps(h CoverageHeat) []sketch {
	const rows = 40
	var out []sketch
	for from := 0; from < len(h.Rows); from += rows {
		part := CoverageHeat{h.Columns, h.Rows[from:min(from+rows, len(h.Rows))]}
		out = append(out, part.sketch())
	}
	return out
}

func (h CoverageHeat) sketch() sketch {
	cell := min(heatMost, (bodyWidth-heatLabel)/float64(max(1, len(h.Columns))))
	return sketch{
		height: heatHead + heatRow*float64(len(h.Rows)) + heatFoot,
		says:   fmt.Sprintf("Heat map: the share of the units of %d classes that each of %d questions caught", len(h.Rows), len(h.Columns)),
		draw: func(d drawing) {
			for i, c := range h.Columns {
				d.upright(heatLabel+(float64(i)+0.5)*cell+2.3, heatHead-4, 6.8, inkText, shortTo(c, 24))
			}
			for i, r := range h.Rows {
				y := heatHead + float64(i)*heatRow
				d.text(heatLabel-5, y+heatRow-3.7, 7.2, "", inkText, rightSide, shortTo(r.Label, 38))
				for j, x := range r.Cells {
					x.draw(d, heatLabel+float64(j)*cell, y, cell)
				}
			}
			h.legend(d, heatHead+heatRow*float64(len(h.Rows))+heatFoot-5)
		},
	}
}

// draw fills a cell; what nothing else caught has a frame.
func (c CoverageCell) draw(d drawing, x, y, width float64) {
	const gap = 0.8
	d.rect(x, y, width-gap, heatRow-gap, mix(heatNone, heatAll, c.Share))
	if c.Alone {
		d.frame(x+0.7, y+0.7, width-gap-1.4, heatRow-gap-1.4, 1.3, mark)
	}
	if c.Share == 0 {
		return
	}
	ink := inkText
	if c.Share > whiteFrom {
		ink = 0xFFFFFF
	}
	d.text(x+(width-gap)/2, y+heatRow-4.1, 5.6, "", ink, middle, shareText(c.Share))
}

// shareText is a share in percent, never 0 or 100 for what is not.
func shareText(share float64) string {
	percent := math.Round(100 * share)
	if share < 1 {
		percent = min(percent, 99)
	}
	return strconv.Itoa(int(max(percent, 1)))
}

func (h CoverageHeat) legend(d drawing, y float64) {
	x := heatLabel
	for i := range 5 {
		d.rect(x+float64(i)*16, y-7, 16, 8, mix(heatNone, heatAll, float64(i)/4))
	}
	d.text(x-5, y, 6.8, "", quiet, rightSide, "share of units caught, in %")
	d.text(x+84, y, 6.8, "", quiet, leftSide, "none to all")
	d.rect(x+136, y-7.2, 13, 8.5, heatNone)
	d.frame(x+136.7, y-6.5, 11.6, 7.1, 1.3, mark)
	d.text(x+154, y, 6.8, "", quiet, leftSide, "some of these nothing else caught")
}

// The measures of the chart of rates. Its axis is logarithmic, because one in
// ten thousand and one in ten both matter.
const (
	rateLabel   = 150.0
	rateFigures = 172.0
	rateRow     = 12.0
	rateHead    = 24.0
	rateLeast   = 1e-4
)

// rateCharts draws the rates in pieces that each fit a page.
func rateCharts(list []CoverageRate) []sketch {
	const rows = 42
	var out []sketch
	for from := 0; from < len(list); from += rows {
		out = append(out, rateChart(list[from:min(from+rows, len(list))]))
	}
	return out
}

func rateChart(list []CoverageRate) sketch {
	width := bodyWidth - rateLabel - rateFigures
	at := func(share float64) float64 {
		decades := math.Log10(max(share, rateLeast)/rateLeast) / -math.Log10(rateLeast)
		return rateLabel + width*min(decades, 1)
	}
	height := rateHead + rateRow*float64(len(list)) + 4
	return sketch{height: height, says: "Rates of wrong decisions with their intervals; the figures stand beside each", draw: func(d drawing) {
		for share := rateLeast; share < 1.5; share *= 10 {
			x := at(share)
			d.line(x, rateHead-4, x, height-4, 0.5, hair)
			d.text(x, rateHead-8, 7, "", quiet, middle, strconv.FormatFloat(100*share, 'g', 3, 64)+"\u00a0%")
		}
		for i, r := range list {
			r.draw(d, rateHead+float64(i)*rateRow, at)
		}
	}}
}

func (r CoverageRate) draw(d drawing, y float64, at func(float64) float64) {
	base := y + rateRow - 3.4
	ink := r.Tone.tint()
	d.text(rateLabel-8, base, 7.6, "", inkText, rightSide, shortTo(r.Label, 38))
	left, right := at(r.Low), at(r.High)
	middleY := y + rateRow/2
	d.line(left, middleY, right, middleY, 1.6, ink)
	d.line(right, middleY-3, right, middleY+3, 1.2, ink)
	if r.Low > rateLeast {
		d.line(left, middleY-3, left, middleY+3, 1.2, ink)
	}
	if r.Share > 0 {
		d.rect(at(r.Share)-2.4, middleY-2.4, 4.8, 4.8, ink)
	}
	d.text(bodyWidth-rateFigures+8, base, 7.2, "", ink, leftSide, r.Text)
	d.text(bodyWidth, base, 7.2, "", quiet, rightSide, r.CaughtBy)
}

// The measures of the chart of limits.
const (
	limitLabel   = 118.0
	limitFigures = 150.0
	limitRow     = 13.5
	limitHead    = 24.0
	limitReach   = 0.5
)

// limitChart draws how far each limit could move: a bar from where a good unit
// is rejected to where a faulty one escapes.
func limitChart(list []CoverageLimit) sketch {
	width := bodyWidth - limitLabel - limitFigures
	// The room is what matters near zero: the axis follows the square root.
	at := func(share float64) float64 {
		half := math.Copysign(math.Sqrt(math.Abs(share)/limitReach), share)
		return limitLabel + width*(1+half)/2
	}
	height := limitHead + limitRow*float64(len(list)) + 4
	return sketch{height: height, says: "How far the limits of each question could be moved; the figures stand beside each", draw: func(d drawing) {
		for _, share := range []float64{-0.5, -0.2, -0.05, 0, 0.05, 0.2, 0.5} {
			x := at(share)
			thickness := 0.5
			if share == 0 {
				thickness = 1.2
			}
			d.line(x, limitHead-4, x, height-4, thickness, hair)
			d.text(x, limitHead-8, 7, "", quiet, middle, Signed(share))
		}
		for i, l := range list {
			l.draw(d, limitHead+float64(i)*limitRow, at)
		}
	}}
}

// Signed prints a move of a limit in percent.
func Signed(share float64) string {
	if share == 0 {
		return "as written"
	}
	return strings.Replace(fmt.Sprintf("%+.3g\u00a0%%", 100*share), "-", "−", 1)
}

func (l CoverageLimit) draw(d drawing, y float64, at func(float64) float64) {
	base := y + limitRow - 4
	d.text(limitLabel-8, base, 7.4, "", inkText, rightSide, shortTo(l.Label, 26))
	left, right := at(l.In), at(l.Out)
	d.rect(left, y+3, max(right-left, 0.6), limitRow-6, roomInk)
	if !l.InOpen {
		d.line(left, y+1.5, left, y+limitRow-1.5, 1.6, barInk)
	}
	if !l.OutOpen {
		d.line(right, y+1.5, right, y+limitRow-1.5, 1.6, mark)
	}
	x := bodyWidth - limitFigures + 10
	d.text(x, base, 7.2, "", barInk, leftSide, l.InText)
	d.text(x+74, base, 7.2, "", mark, leftSide, l.OutText)
}
