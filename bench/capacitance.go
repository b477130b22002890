package bench

import (
	"context"
	"math"
	"time"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// How the slopes are taken: from at least three samples, within 0.3 V of the
// level where there are enough, up to nine tenths of the source's compliance,
// below which it is a current source. Own choices.
const (
	fewest     = 3
	slopeBand  = 0.3 // volts
	compliance = 0.9
)

// sweeps is how often a rise that is too fast for the converter is repeated,
// each time a quarter of a conversion later, until it is small enough. The
// bleeder alone repeats it, so that no contact wears.
const sweeps = 4

// capacitance forms I / (rise + fall), or a bound.
func (r *Rig) capacitance(ctx context.Context, a *rise, fall []point, values []wiring.State) (Reading, error) {
	supply, _ := r.wiring.SupplyOf(wiring.Probe)
	out := Reading{Channel: r.vbus.spec.Name, At: a.points[len(a.points)-1].at}
	if a.settled {
		out.Value = quantity.Known(quantity.Farads(0)).WithBound(quantity.AtLeast)
		out.Saturated = true
		return out, nil
	}
	peak := highest(a.stream, fall)
	up := append(append([]point(nil), a.points...), fall[:peak]...)
	down := after(fall[peak:], r.still)
	lower := lowerLevel
	if !a.reached {
		lower = 0 // a slow rise is measured where it got to
	}
	upT, upV := a.stream.between(up, lower, supply.Compliance.SI*compliance)
	downT, downV := a.stream.between(down, 0, supply.Compliance.SI)
	if len(upT) < fewest || len(downT) < fewest {
		most, err := r.fastRise(ctx, a, values)
		out.Value = quantity.Known(quantity.Farads(most)).WithBound(quantity.AtMost)
		out.Saturated = true
		return out, err
	}
	level := math.Min(math.Max(mean(upV), least(downV)), mean(downV))
	rising := slopeAt(near(upT, upV, level))
	falling := slopeAt(near(downT, downV, level))
	out.Value = r.farads(a, supply, rising, falling)
	return out, nil
}

// farads forms the value with its contributions, and takes the rig's own
// capacitors off.
func (r *Rig) farads(a *rise, supply *wiring.Supply, rising, falling slope) quantity.Measured {
	total := rising.perSecond - falling.perSecond
	c := a.current.SI / total
	tag := r.tag(r.vbus)
	parts := []quantity.Contribution{
		quantity.Uniform(supply.Name+" tolerance", supply.LevelTolerance.SI, c),
		quantity.Normal(tag+" slope of the rise", rising.std, -c/total, rising.dof),
		quantity.Normal(tag+" slope of the fall", falling.std, c/total, falling.dof),
	}
	for _, cause := range a.stream.budget.relatives {
		parts = append(parts, quantity.Uniform(cause.source, cause.half, -c*cause.sens))
	}
	for i := range r.wiring.Parts {
		p := &r.wiring.Parts[i]
		net := r.vbus.spec.Net
		if p.Kind == wiring.Capacitor && (p.A == net && p.B == wiring.Ground || p.B == net && p.A == wiring.Ground) {
			c -= p.Value.Nominal.SI
			parts = append(parts, quantity.Uniform(tolerance(p), p.Value.Relative(), -p.Value.Nominal.SI))
		}
	}
	return quantity.NewMeasured(quantity.Farads(c), parts...)
}

// highest is the index of the highest of the points.
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

// between returns instants in seconds and volts of the points whose voltage
// lies between two levels.
func (s *stream) between(points []point, low, high float64) (ts, vs []float64) {
	for _, p := range points {
		if v := s.value(p); v >= low && v <= high {
			ts, vs = append(ts, p.at.Seconds()), append(vs, v)
		}
	}
	return ts, vs
}

// near keeps the points close to a level, or all where these are too few.
func near(ts, vs []float64, level float64) ([]float64, []float64, float64) {
	var t, v []float64
	for i := range ts {
		if math.Abs(vs[i]-level) <= slopeBand {
			t, v = append(t, ts[i]), append(v, vs[i])
		}
	}
	if len(t) < fewest {
		return ts, vs, level
	}
	return t, v, level
}

func least(x []float64) float64 {
	low := x[0]
	for _, v := range x {
		low = math.Min(low, v)
	}
	return low
}

// fastRise bounds a capacitance that charges within two or three conversions.
// It lets VBUS rise again a few times, each at another phase of the conversion,
// and keeps the smallest bound.
func (r *Rig) fastRise(ctx context.Context, a *rise, values []wiring.State) (float64, error) {
	most := bound(a.stream, a.points, a.current.SI)
	supply, _ := r.wiring.SupplyOf(wiring.Probe)
	period := adc16x4.SPS860.Period()
	for i := 0; i < sweeps && most > r.wiring.Nest.Empty.SI; i++ {
		if err := r.enter(ctx, wiring.Setting{Condition: Isolated}, nil); err != nil {
			return 0, err
		}
		var s *stream
		err := r.enter(ctx, values[0].Setting, func() (err error) {
			if s, err = r.stream(ctx, r.vbus, supply.Compliance.SI*headroom, 0); err != nil {
				return err
			}
			return r.guard.Sleep(ctx, time.Duration(i)*period/sweeps)
		})
		if err != nil {
			return 0, err
		}
		points, err := r.until(ctx, s, nil, r.still+4*period, nil)
		if err != nil {
			return 0, err
		}
		most = math.Min(most, bound(s, points, values0(supply, values)))
	}
	return most, r.enter(ctx, probeSetting(probeOff), nil)
}

// values0 is the current of the first setting.
func values0(supply *wiring.Supply, values []wiring.State) float64 {
	if l, ok := supply.LevelFor(values[0].On); ok {
		return l.Value.SI
	}
	return 0
}

// bound is the largest capacitance that a rise to the level L can have had. A
// current I that charges C to L leaves below L the area
//
//	D = L²C / 2I
//
// and whatever else bounds the current makes it larger. The area is summed over
// the conversions, which follow one another without a gap, from the first one
// that shows the rise; what the rise may have begun before it (its square shows
// in the conversion before) is added. Without a rise it is infinite.
func bound(s *stream, points []point, current float64) float64 {
	if len(points) == 0 {
		return math.Inf(1)
	}
	period := adc16x4.SPS860.Longest().Seconds()
	top := highest(s, points)
	start, level := s.value(points[0]), s.value(points[top])
	floor := s.budget.floor(s.step)
	first := 0
	for first < top && s.value(points[first]) < start+lowerLevel/2 {
		first++
	}
	if level < upperLevel || first == 0 && start > lowerLevel/2 {
		return math.Inf(1)
	}
	area := 0.0
	for _, p := range points[first : top+1] {
		area += math.Max(level-s.value(p), 0) * period
	}
	excess := floor
	if first > 0 {
		excess = math.Max(s.value(points[first-1])-start, floor)
	}
	c := 2 * current * area / (level * level)
	for range 8 {
		early := math.Sqrt(2 * excess * period * c / current)
		c = 2 * current * (area + level*math.Min(early, period)) / (level * level)
	}
	return c
}
