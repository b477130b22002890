package plot

import (
	"math"
	"strconv"

	"gonum.org/v1/plot"
)

// ticks places labelled ticks at 1, 2 or 5 times a power of ten, at most want
// of them and one more, and labels them with as many digits as the step needs.
type ticks struct{ want int }

// longLabel is the number of letters from which on labels would touch if all
// ticks were there.
const longLabel = 7

// Ticks returns the ticks between low and high, half as many where their
// labels are long and there are many, as along a time axis.
func (t ticks) Ticks(low, high float64) []plot.Tick {
	list := t.all(low, high)
	for _, tick := range list {
		if len(tick.Label) >= longLabel && t.want > yTicks {
			return ticks{t.want / 2}.all(low, high)
		}
	}
	return list
}

func (t ticks) all(low, high float64) []plot.Tick {
	step := niceStep((high - low) / float64(t.want))
	if step == 0 {
		return []plot.Tick{{Value: low, Label: tickLabel(low, 1)}}
	}
	var list []plot.Tick
	// Counting in whole steps keeps 0.3 from becoming 0.30000000000000004,
	// and a counted loop ends where a step is lost in rounding.
	first := math.Ceil(low/step - 1e-9)
	for n := range t.want + 1 {
		v := (first + float64(n)) * step
		if v > high+step*1e-9 {
			break
		}
		list = append(list, plot.Tick{Value: v, Label: tickLabel(v, step)})
	}
	return list
}

// niceStep returns the smallest of 1, 2, 5 times a power of ten that is not
// below the given one; 0 where there is none.
func niceStep(least float64) float64 {
	if !(least > 0) || math.IsInf(least, 0) {
		return 0
	}
	power := math.Pow(10, math.Floor(math.Log10(least)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= least*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// tickLabel prints a tick with the digits of its step, with an exponent only
// where a plain number would be too long to read.
func tickLabel(v, step float64) string {
	if v == 0 {
		return "0"
	}
	if place := math.Log10(step); place < -6.5 || math.Abs(v) >= 1e7 {
		return strconv.FormatFloat(v, 'g', 6, 64)
	}
	digits := max(0, int(-math.Floor(math.Log10(step)+1e-9)))
	return strconv.FormatFloat(v, 'f', digits, 64)
}
