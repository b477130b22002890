package plot

import "gonum.org/v1/plot/vg"

// The steps of thinning, in points: column is finer than the line is wide,
// deviation is a fifth of a printer's dot at 300 dots per inch.
const (
	column    = 0.5
	deviation = 0.05
)

// thin drops the points of a curve that no reader could see. It first keeps
// of each run of points in one column only the first, the lowest, the highest
// and the last, then of what is left those that lie further than deviation
// from the line without them. First and last point stay, and no extreme moves
// by more than deviation.
func thin(points []vg.Point) []vg.Point { return simplify(columns(points)) }

// columns keeps four points of each run that stays in one column.
func columns(points []vg.Point) []vg.Point {
	var kept []vg.Point
	for from := 0; from < len(points); {
		to, low, high := from+1, from, from
		for to < len(points) && cell(points[to]) == cell(points[from]) {
			if points[to].Y < points[low].Y {
				low = to
			}
			if points[to].Y > points[high].Y {
				high = to
			}
			to++
		}
		last := -1
		for _, i := range []int{from, min(low, high), max(low, high), to - 1} {
			if i > last {
				kept, last = append(kept, points[i]), i
			}
		}
		from = to
	}
	return kept
}

func cell(p vg.Point) int { return int(p.X.Points() / column) }

// simplify is the algorithm of Ramer (1972) and of Douglas and Peucker
// (1973): a stretch is one line where no point is further from it than
// deviation, else it is split at the point that is furthest.
func simplify(points []vg.Point) []vg.Point {
	if len(points) < 3 {
		return points
	}
	keep := make([]bool, len(points))
	keep[0], keep[len(points)-1] = true, true
	open := [][2]int{{0, len(points) - 1}}
	for len(open) > 0 {
		s := open[len(open)-1]
		open = open[:len(open)-1]
		if at, far := furthest(points, s[0], s[1]); far > deviation {
			keep[at] = true
			open = append(open, [2]int{s[0], at}, [2]int{at, s[1]})
		}
	}
	var kept []vg.Point
	for i, k := range keep {
		if k {
			kept = append(kept, points[i])
		}
	}
	return kept
}

// furthest finds the point between two others that lies furthest from the
// line through them, measured along y: time never goes back, so a point is
// compared with the line at its own instant. Where the ends share one
// instant, the distance is that beyond the higher or below the lower end.
func furthest(points []vg.Point, from, to int) (at int, far float64) {
	a, b := points[from], points[to]
	for i := from + 1; i < to; i++ {
		p := points[i]
		var d float64
		if b.X > a.X {
			y := a.Y + (b.Y-a.Y)*(p.X-a.X)/(b.X-a.X)
			d = max(y-p.Y, p.Y-y).Points()
		} else {
			d = max(min(a.Y, b.Y)-p.Y, p.Y-max(a.Y, b.Y)).Points()
		}
		if d > far {
			at, far = i, d
		}
	}
	return at, far
}
