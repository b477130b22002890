package qualification

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/compare"
	"sinkproof/reports/quality/gauge"
)

// pointers are boards to be put into another order, of which there may be hundreds of
// thousands.
func pointers(boards []Board) []*Board {
	list := make([]*Board, len(boards))
	for i := range boards {
		list[i] = &boards[i]
	}
	return list
}

// ordered are the boards of a side in an order.
func ordered(boards []*Board, side Side, order func(a, b *Board) int) []*Board {
	list := slices.DeleteFunc(slices.Clone(boards), func(b *Board) bool { return b.Side != side })
	slices.SortStableFunc(list, order)
	return list
}

func byTime(a, b *Board) int { return cmp.Compare(a.Tested, b.Tested) }

// bySerial orders as a person would count: a run of digits as a number.
func bySerial(a, b *Board) int {
	x, y := a.Serial, b.Serial
	for x != "" && y != "" {
		m, n := leading(x), leading(y)
		p, q := x[:m], y[:n]
		if digit(p[0]) && digit(q[0]) {
			p, q = strings.TrimLeft(p, "0"), strings.TrimLeft(q, "0")
			if c := cmp.Compare(len(p), len(q)); c != 0 {
				return c
			}
		}
		if c := strings.Compare(p, q); c != 0 {
			return c
		}
		x, y = x[m:], y[n:]
	}
	return cmp.Compare(len(x), len(y))
}

func digit(b byte) bool { return b >= '0' && b <= '9' }

// leading is how many bytes stand together that are digits, or are none.
func leading(s string) int {
	n := 1
	for n < len(s) && digit(s[n]) == digit(s[0]) {
		n++
	}
	return n
}

// session is how many boards in a row make a point of the line.
const session = 2

// newDrift fits a line over boards in their order, from 0 at the first to 1 at
// the last: its slope is the drift from first to last. Where lots scatter around
// the line by more than their boards explain, its error grows by as much and has
// the degrees of freedom of lots.
func newDrift(list []*Board, value func(*Board) float64, margin, alpha float64) Drift {
	none := Drift{Means: compare.Means{Difference: math.NaN(), SE: math.NaN(), P: math.NaN(), Interval: quality.Undefined()},
		BeyondP: math.NaN(), DifferentP: math.NaN(), inside: math.NaN(), beyond: math.NaN()}
	n := len(list)
	if n < 4*session {
		return none
	}
	var times []float64
	var sessions [][]float64
	for i := 0; i < n; i += session {
		var values []float64
		last := min(i+session, n)
		for _, b := range list[i:last] {
			values = append(values, value(b))
		}
		times = append(times, float64(i+last-1)/2/float64(n-1))
		sessions = append(sessions, values)
	}
	fit, err := gauge.Stability(times, sessions, 1-alpha)
	if err != nil || !(fit.Drift.Slope.SE > 0) {
		return none
	}
	se, df := fit.Drift.Slope.SE, fit.Drift.DF
	at := map[string]int{}
	var residuals [][]float64
	for i, b := range list {
		k, known := at[b.Lot]
		if !known {
			k = len(residuals)
			at[b.Lot] = k
			residuals = append(residuals, nil)
		}
		mean, _ := fit.Drift.At(float64(i) / float64(n-1))
		residuals[k] = append(residuals[k], value(b)-mean)
	}
	if test, err := compare.OneWay(residuals); err == nil && test.P < gauge.Pooling && len(residuals) > 2 {
		se *= math.Sqrt(max(1, test.Statistic))
		df = float64(len(residuals) - 2)
	}
	return none.of(fit.Drift.Slope.Value, se, df, margin, alpha)
}

// of is the drift with its tests.
func (d Drift) of(slope, se, df, margin, alpha float64) Drift {
	d.Means = meansOf(slope, se, df, alpha)
	e := d.Means.Equivalent(margin, alpha)
	d.inside, d.beyond = e.P, 1-e.P
	return d
}

// meansOf is a difference with its standard error as a comparison of means.
func meansOf(difference, se, df, alpha float64) compare.Means {
	// Two samples of which one has no spread give exactly this error and these
	// degrees of freedom.
	n := df + 1
	return compare.Welch(
		compare.Sample{N: int(math.Round(n)), Mean: difference, SD: se * math.Sqrt(math.Round(n))},
		compare.Sample{N: math.MaxInt32, Mean: 0, SD: 0}, 1-alpha)
}

// BySerial returns the boards of a side in the order of their serials.
func BySerial(boards []Board, side Side) []*Board {
	return ordered(pointers(boards), side, bySerial)
}
