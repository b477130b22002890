package findings

import (
	"cmp"
	"math"
	"slices"
)

// The codes of what is no value. The values' codes follow in ascending order.
const (
	// neverSeen is the code of what no unit of the dictionary gave.
	neverSeen = 0
	// firstCode is the first code that was seen.
	firstCode = 1
)

// span is an interval of values that share a code, both ends included.
type span struct{ low, high float64 }

// coding turns the observations of one name into codes: first the kinds that
// occur and are no value, in their order, then the spans.
type coding struct {
	kinds []kind
	spans []span
}

// size is the number of codes, neverSeen among them.
func (c coding) size() int { return firstCode + len(c.kinds) + len(c.spans) }

// code returns the code of an observation.
func (c coding) code(o observation) int {
	if o.kind != estimate {
		if i := slices.Index(c.kinds, o.kind); i >= 0 {
			return firstCode + i
		}
		return neverSeen
	}
	i, _ := slices.BinarySearchFunc(c.spans, o.value, func(s span, v float64) int { return cmp.Compare(s.high, v) })
	if i < len(c.spans) && o.value >= c.spans[i].low {
		return firstCode + len(c.kinds) + i
	}
	return neverSeen
}

// sample is an observation of a unit whose class is known.
type sample struct {
	observation
	class int
}

// newCoding cuts the values where the classes part, halving them as often as
// cuts says.
func newCoding(samples []sample, classes, cuts int) coding {
	var c coding
	var values []sample
	for _, s := range samples {
		if s.kind == estimate {
			values = append(values, s)
		} else if !slices.Contains(c.kinds, s.kind) {
			c.kinds = append(c.kinds, s.kind)
		}
	}
	slices.Sort(c.kinds)
	slices.SortFunc(values, func(a, b sample) int {
		return cmp.Or(cmp.Compare(a.value, b.value), cmp.Compare(a.class, b.class))
	})
	c.spans = spansOf(split(values, classes, cuts))
	return c
}

// mostCuts bounds how often the values of one name are halved: 16 spans hold
// every way in which the classes of one board part.
const mostCuts = 4

// split halves sorted samples at the cut that lowers the entropy of the class
// most, again and again, as long as the gain pays for the description of the
// cut (Fayyad and Irani 1993, "Multi-interval discretization of
// continuous-valued attributes", section 4.3: the minimum description length).
func split(values []sample, classes, depth int) [][]sample {
	if len(values) == 0 {
		return nil
	}
	at := bestCut(values, classes)
	if depth == 0 || at == 0 {
		return [][]sample{values}
	}
	return append(split(values[:at], classes, depth-1), split(values[at:], classes, depth-1)...)
}

// bestCut returns the index of the first sample above the best cut, 0 where no
// cut pays.
func bestCut(values []sample, classes int) int {
	below, above := newTally(classes), newTally(classes)
	for _, s := range values {
		above.add(s.class, 1)
	}
	whole := above.entropy()
	kinds := above.kinds
	n := float64(len(values))
	best, gain, delta := 0, 0.0, 0.0
	for i := range len(values) - 1 {
		below.add(values[i].class, 1)
		above.add(values[i].class, -1)
		if values[i].value == values[i+1].value {
			continue
		}
		low, high := below.entropy(), above.entropy()
		if g := whole - (float64(below.n)*low+float64(above.n)*high)/n; g > gain+rounding {
			best, gain = i+1, g
			delta = math.Log2(math.Pow(3, float64(kinds))-2) -
				(float64(kinds)*whole - float64(below.kinds)*low - float64(above.kinds)*high)
		}
	}
	if gain <= (math.Log2(n-1)+delta)/n {
		return 0
	}
	return best
}

// rounding is what a gain may differ by from one order of summing to another.
const rounding = 1e-12

// tally counts samples by class and keeps what their entropy needs.
type tally struct {
	counts   []int
	n, kinds int
	// sum is that of count times its logarithm.
	sum float64
}

func newTally(classes int) *tally { return &tally{counts: make([]int, classes)} }

func (t *tally) add(class, by int) {
	before := t.counts[class]
	after := before + by
	t.counts[class] = after
	t.n += by
	t.sum += information(after) - information(before)
	switch {
	case before == 0:
		t.kinds++
	case after == 0:
		t.kinds--
	}
}

// information is n times its logarithm to the base 2.
func information(n int) float64 {
	if n == 0 {
		return 0
	}
	return float64(n) * math.Log2(float64(n))
}

// entropy is the entropy of the class in bits; 0 for no sample.
func (t *tally) entropy() float64 {
	if t.n == 0 {
		return 0
	}
	return math.Log2(float64(t.n)) - t.sum/float64(t.n)
}

// spansOf are the intervals of sorted parts, drawn out on both sides: the next
// unit may lie a little outside of what was seen. Where two would meet, they
// meet half way between the values that were seen.
func spansOf(parts [][]sample) []span {
	spans := make([]span, len(parts))
	for i, p := range parts {
		spans[i] = drawn(p)
		if i == 0 {
			continue
		}
		below := &spans[i-1]
		if below.high >= spans[i].low {
			last := parts[i-1][len(parts[i-1])-1].value
			middle := last + (p[0].value-last)/2
			below.high, spans[i].low = middle, math.Nextafter(middle, math.Inf(1))
		}
	}
	return spans
}

// drawn is the interval of sorted samples, drawn out by half its width, but
// never past half of its end, and by twice the uncertainty of the readings.
func drawn(values []sample) span {
	low, high := values[0].value, values[len(values)-1].value
	u := 0.0
	for _, s := range values {
		u = max(u, float64(s.u))
	}
	by := func(end float64) float64 { return max(min((high-low)/2, math.Abs(end)/2), 2*u) }
	return span{low - by(low), high + by(high)}
}

// The reach of a unit: how far from it the next unit of its class may lie. It
// is the distance to the near-th unit of its class, so that it follows how
// close the units lie (the nearest-neighbour kernel of Loftsgaarden and
// Quesenberry 1965).
const (
	near = 8
	// leastBeside is the least part that is worth its counts.
	leastBeside = 0.02
)

// beside returns the part of each sample that counts for the span beside its
// own: above it where positive, below where negative.
func (c coding) beside(samples []sample, classes int) []float32 {
	sorted := make([][]float64, classes)
	for _, s := range samples {
		if s.kind == estimate {
			sorted[s.class] = append(sorted[s.class], s.value)
		}
	}
	for _, v := range sorted {
		slices.Sort(v)
	}
	out := make([]float32, len(samples))
	for i, s := range samples {
		if s.kind == estimate {
			out[i] = c.across(s.value, reach(sorted[s.class], s.value))
		}
	}
	return out
}

// reach is the distance from a value to its near-th neighbour.
func reach(sorted []float64, value float64) float64 {
	at, _ := slices.BinarySearch(sorted, value)
	low, high := at-1, at+1
	d := 0.0
	for range near {
		below, above := math.Inf(1), math.Inf(1)
		if low >= 0 {
			below = value - sorted[low]
		}
		if high < len(sorted) {
			above = sorted[high] - value
		}
		switch {
		case below <= above && low >= 0:
			d, low = below, low-1
		case high < len(sorted):
			d, high = above, high+1
		}
	}
	return d
}

// across is the part of a normal distribution around a value, as wide as its
// reach, that lies beyond the nearer end of its span, where another begins.
func (c coding) across(value, reach float64) float32 {
	i := c.code(observation{kind: estimate, value: value}) - firstCode - len(c.kinds)
	if i < 0 || reach <= 0 {
		return 0
	}
	part := func(distance float64) float64 { return math.Erfc(distance/reach/math.Sqrt2) / 2 }
	below, above := 0.0, 0.0
	if i > 0 {
		below = part(value - c.spans[i].low)
	}
	if i+1 < len(c.spans) {
		above = part(c.spans[i].high - value)
	}
	switch {
	case max(below, above) < leastBeside:
		return 0
	case above >= below:
		return float32(above)
	}
	return float32(-below)
}

// rounded keeps four digits: more are of no use to a reader.
func rounded(x float64) float64 {
	if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return x
	}
	scale := math.Pow(10, 3-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*scale) / scale
}
