// Package plot draws figures in the one style of the house: sans font, axes
// with ticks at 1, 2 or 5 times a power of ten and SI prefixes, limits as
// dashed lines with their names and values at the edge, nothing clipped and
// nothing drawn over a label.
//
// A Figure is described once, in SI units, and drawn twice: as SVG for a page
// (SVG) and straight into a PDF (Draw). gonum/plot lays out the axes in both.
// Its own PDF writer gives other bytes on every run and its SVG writer spends
// a kilobyte on a tick, so both go through canvas, a vg.Canvas that applies
// the transformations and hands plain outlines to a surface: inkPDF or inkSVG.
//
// Where one curve does not tell it all a figure has Series beside it: bars, lines,
// steps, dots, rings around what matters, named in a key under the title.
//
// A curve is thinned before it is drawn, to what a printer could still show:
// a record may hold 20,000 samples, and a report is kept for years.
package plot
