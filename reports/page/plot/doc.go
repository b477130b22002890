// Package plot draws figures in the one style of the house: sans font, axes
// with ticks at 1, 2 or 5 times a power of ten, limits as dashed lines with
// their names at the edge, nothing clipped and nothing drawn over a label.
//
// A Figure is described once and drawn twice: as SVG for a page (SVG) and
// straight into a PDF (Draw). gonum/plot lays it out in both. Its own PDF
// writer gives other bytes on every run, so the PDF goes through canvas, a
// vg.Canvas over fpdf.
package plot
