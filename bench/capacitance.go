package bench

import (
	"context"
	"math"
	"slices"
	"time"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// How the slopes are taken: from at least three samples, up to nine tenths of
// the source's compliance, below which it is a current source. Own choices.
const (
	fewest     = 3
	closest    = 5 // of a curve with too few samples where its slope is asked for
	compliance = 0.9
)

// catchUp is how many samples of a rise are dropped: while VBUS stands still
// the converter repeats its code, a repeated code is found late, and the first
// few that follow still catch up.
const catchUp = 4

// The rise is a line over all of its samples where less than a fiftieth of the
// current flows into a load, which would bend it; else a parabola within 0.9 V
// of the level, or closer where a quarter of the current or more does, down to
// 0.05 V where all of it does and the rise ends in a plateau. Own choices.
const (
	straight  = 0.02
	bending   = 0.25
	wideBand  = 0.9  // volts
	slopeBand = 0.3  // volts
	narrowest = 0.05 // volts
)

// curve is a stretch of a waveform: seconds, whose standard uncertainty is the
// jitter, and volts.
type curve struct {
	t, v   []float64
	jitter float64
	// origin is the half-width of the span that the instant lies in which the
	// seconds count from; zero where they count from one and the same.
	origin float64
}

// newCurve returns an empty curve with room for n points.
func newCurve(n int) curve {
	both := make([]float64, 2*n)
	return curve{t: both[:0:n], v: both[n:n]}
}

func (c *curve) add(t, v float64) { c.t, c.v = append(c.t, t), append(c.v, v) }

// between returns the points whose voltage lies between two levels, each at the
// middle of the span in which its conversion ended. How wide these are is what
// the looks at the converter have left open: several milliseconds where a
// transfer takes long.
func (s *stream) between(points []point, low, high float64) curve {
	c := newCurve(len(points))
	c.jitter = pollJitter
	sum := 0.0
	for _, p := range points {
		if v := s.value(p); v >= low && v <= high {
			ended := span{min(p.from+s.longest, p.at), p.at}
			c.add(ended.middle().Seconds(), v)
			sum += ended.half() * ended.half()
		}
	}
	if n := float64(len(c.t)); n > 0 {
		c.jitter = max(pollJitter, math.Sqrt(sum/n/3)) // uniform, JCGM 100:2008, 4.3.7
	}
	return c
}

// near keeps the points within a band around a level, or the closest ones where
// these are too few.
func (c curve) near(level, band float64) curve {
	off := make([]float64, len(c.t))
	for i, v := range c.v {
		off[i] = math.Abs(v - level)
	}
	sorted := slices.Clone(off)
	slices.Sort(sorted)
	if len(sorted) < fewest || sorted[fewest-1] > band {
		band = sorted[min(len(sorted), closest)-1]
	}
	out := newCurve(len(c.t))
	out.jitter = c.jitter
	for i := range c.t {
		if off[i] <= band {
			out.add(c.t[i], c.v[i])
		}
	}
	return out
}

// capacitance forms I / (rise + fall), or a bound.
func (r *Rig) capacitance(ctx context.Context, a *rise, fall []point, values []wiring.State) (Reading, error) {
	out := Reading{Channel: r.vbus.spec.Name, At: a.points[len(a.points)-1].at}
	supply, _ := r.wiring.SupplyOf(wiring.Probe)
	down := after(fall, r.still)
	releasing := fall[:len(fall)-len(down)]
	up := append([]point(nil), a.points...)
	up = append(up, releasing[:highest(a.stream, releasing)]...)
	lower := lowerLevel
	if !a.reached {
		lower = 0 // a slow rise is measured where it got to
	}
	rising := a.stream.between(up, lower, supply.Compliance.SI*compliance)
	falling := a.stream.between(down, 0, supply.Compliance.SI*headroom)
	var err error
	switch {
	case a.settled:
		out.Value = quantity.Known(quantity.Farads(0)).WithBound(quantity.AtLeast)
	case len(rising.within(lower, upperLevel).t) >= catchUp+fewest && len(falling.t) >= fewest:
		rising.t, rising.v = rising.t[catchUp:], rising.v[catchUp:]
		out.Value = r.farads(a.current.SI, supply, rising, falling)
	case a.index == 0:
		out.Value, err = r.fastRise(ctx, a, supply, values, falling)
	default:
		// A load takes its part of the current; more than all of it cannot
		// have charged the capacitor in the time that the rise took.
		took := (a.points[len(a.points)-1].at - a.points[0].from).Seconds()
		out.Value = quantity.Known(quantity.Farads(a.current.SI * took / upperLevel)).WithBound(quantity.AtMost)
	}
	out.Saturated = out.Value.Bound != quantity.Exact
	return out, err
}

// slopes finds both slopes at one level. Where the fall was not seen at a level
// of the rise, its slope is taken in proportion to the level, as that of a
// resistance; how far the load may not be one is the doubt.
func slopes(up, down curve) (rising, falling slope, doubt float64) {
	reach := math.Min(math.Max(mean(up.v), least(down.v)), mean(down.v))
	level := math.Max(math.Min(reach, most(up.v)), least(up.v))
	falling = slopeAt(down.near(reach, slopeBand), reach)
	whole := lineAt(up)
	switch load := -falling.perSecond / (whole.perSecond - falling.perSecond); {
	case load < straight:
		rising, level = whole, mean(up.v)
	case load < bending:
		rising = slopeAt(up.near(level, wideBand), level)
	default:
		rising = slopeAt(up.near(level, slopeBand*(1-load)+narrowest), level)
	}
	if reach != level {
		doubt = math.Abs(falling.perSecond * (1 - level/reach))
		falling.perSecond *= level / reach
		falling.std *= level / reach
	}
	return rising, falling, doubt
}

// farads forms the value with its contributions, and takes the rig's own
// capacitors off.
func (r *Rig) farads(current float64, supply *wiring.Supply, up, down curve) quantity.Measured {
	rising, falling, doubt := slopes(up, down)
	total := rising.perSecond - falling.perSecond
	c := current / total
	tag := r.tag(r.vbus)
	parts := []quantity.Contribution{
		quantity.Uniform(supply.Name+" tolerance", supply.LevelTolerance.SI, c),
		quantity.Normal(tag.cause("slope of the rise"), rising.std, -c/total, rising.dof),
		quantity.Normal(tag.cause("slope of the fall"), falling.std, c/total, falling.dof),
		quantity.Uniform(tag.cause("load at another level"), doubt, c/total),
	}
	for _, cause := range r.vbus.budget.relatives {
		parts = append(parts, quantity.Uniform(cause.source, cause.half, -c*cause.sens))
	}
	net := r.vbus.spec.Net
	for i := range r.wiring.Parts {
		p := &r.wiring.Parts[i]
		if p.Kind == wiring.Capacitor && (p.A == net && p.B == wiring.Ground || p.B == net && p.A == wiring.Ground) {
			c -= p.Value.Nominal.SI
			parts = append(parts, quantity.Uniform(tolerance(p), p.Value.Relative(), -p.Value.Nominal.SI))
		}
	}
	return quantity.NewMeasured(quantity.Farads(c), parts...)
}

// highest is the index of the highest of the points, 0 for none.
func highest(s *stream, points []point) int {
	best := 0
	for i := range points {
		if s.value(points[i]) > s.value(points[best]) {
			best = i
		}
	}
	return best
}

// after drops the points that were integrated before an instant, or in part.
func after(points []point, t time.Duration) []point {
	for i := range points {
		if points[i].from >= t {
			return points[i:]
		}
	}
	return nil
}

func least(x []float64) float64 {
	low := x[0]
	for _, v := range x {
		low = math.Min(low, v)
	}
	return low
}

func most(x []float64) float64 {
	high := x[0]
	for _, v := range x {
		high = math.Max(high, v)
	}
	return high
}
