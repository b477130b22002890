package bench

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// ErrSlow is the cause when a bus or a computer is too slow to see what is
// measured.
var ErrSlow = errors.New("too slow to see a rise")

// A rise that is too fast for the converter is repeated, each time at another
// phase of the conversion. Eight phases stand 0.15 ms apart. Own choice.
const sweeps = 8

// bleeding is how long VBUS is emptied between sweeps beside the switch's own
// time: 5 ms, for 1 µF at 470 Ω ten time constants. sweepTime is how long one
// may take: 0.6 µF rises to 2 V in it. Own choices.
const (
	bleeding  = 5 * time.Millisecond
	sweepTime = 12 * time.Millisecond
)

// A bound is taken between a tenth and nine tenths of the rise. Single
// conversions begin at a known instant, alike from sweep to sweep, and so does
// the bleeder's switch open; 0.1 ms is allowed for both. A coil write takes
// 0.12 ms at 400 kHz; what it takes beyond that comes on top, because nobody
// knows when within it the coil moved. Own choices.
const (
	tenth     = 0.1
	instants  = 0.1e-3  // seconds
	coilWrite = 0.12e-3 // seconds
)

// startJitter is the standard uncertainty of the instant of a single conversion,
// in seconds: it begins with its own transfer. Own estimate, for an operating
// system between the clock and the bus; a bus on which a coil write takes longer
// has more.
const startJitter = 20e-6

// fastRise measures a capacitance that charges within a few conversions: it
// lets VBUS rise again and again and puts the samples together by their time
// since the coil write. The bleeder alone repeats the rise, so that no contact
// wears. Where even these show too little, the value is bounded. A bound that
// tells no unit from an empty nest, only because samples came too far apart, is
// ErrSlow.
func (r *Rig) fastRise(ctx context.Context, a *rise, supply *wiring.Supply, values []wiring.State, falling curve) (quantity.Measured, error) {
	for _, s := range []wiring.Setting{{Condition: Isolated}, values[0].Setting} {
		if err := r.enter(ctx, s, nil); err != nil {
			return quantity.Measured{}, err
		}
	}
	var all curve
	for i := range sweeps {
		if err := r.sweep(ctx, i, supply, &all); err != nil {
			return quantity.Measured{}, err
		}
	}
	if err := r.enter(ctx, probeSetting(probeOff), nil); err != nil {
		return quantity.Measured{}, err
	}
	all.jitter = math.Max(startJitter, all.origin/math.Sqrt(3))
	rising := all.inside(upperLevel)
	if len(rising.t) >= 2*fewest && len(falling.t) >= fewest && most(rising.t) > least(rising.t) {
		// On a slow bus all samples may stand at about the same instant: a value
		// that its own uncertainty hides is none.
		if c := r.farads(a.current.SI, supply, rising, falling); c.SI > c.U().SI {
			return c, nil
		}
	}
	limit := all.bound(a.current.SI)
	if math.IsInf(limit, 1) || limit > r.wiring.Nest.Empty.SI && !all.met() {
		told := "nothing"
		if !math.IsInf(limit, 1) {
			told = "at most " + quantity.Farads(limit).Text(2)
		}
		return quantity.Measured{}, &Fault{What: "see VBUS rise", Thing: r.vbus.spec.Name,
			Hint: "Look at the speed of the bus and at the load of the computer: samples came too late.",
			Err:  fmt.Errorf("%w: %d samples in %d rises tell %s", ErrSlow, len(all.t), sweeps, told)}
	}
	return quantity.Known(quantity.Farads(limit)).WithBound(quantity.AtMost), nil
}

// sweep bleeds VBUS, lets it rise and samples it at the i-th phase.
func (r *Rig) sweep(ctx context.Context, i int, supply *wiring.Supply, all *curve) error {
	rising := r.bank.now
	if err := r.write(ctx, rising.without(r.bank.solid), (*bank).open); err != nil {
		return err
	}
	if err := r.guard.Sleep(ctx, bleeding); err != nil {
		return err
	}
	// VBUS is let go while the first conversion runs, so that it is seen down
	// as late as can be.
	r.guard.due = r.Now() + time.Duration(i)*adc16x4.SPS860.Period()/sweeps
	r.guard.act = func() error { return r.last(ctx, rising) }
	defer func() { r.guard.act = nil }()
	c, rng := r.vbus, r.vbus.rangeFor(supply.Compliance.SI*headroom)
	first := len(all.t)
	// On a slow computer the time is over before the rise has been looked at:
	// one conversion always begins behind the write.
	for v, behind := 0.0, 0; v < supply.Compliance.SI*compliance && (behind == 0 || r.Now() < r.still+sweepTime); {
		if r.guard.act == nil {
			behind++
		}
		got, err := c.adc.dev.ConvertAt(ctx, c.input, rng, adc16x4.SPS860)
		if err != nil {
			return chipFault("convert", c.adc.spec.Name, err)
		}
		v = c.budget.value(got.Volts.SI)
		all.add(got.From.Seconds(), v)
	}
	for k := first; k < len(all.t); k++ {
		all.t[k] -= r.Entered().Seconds()
	}
	all.origin = math.Max(all.origin, r.entered.half())
	return nil
}

// inside keeps the samples of a rise that were integrated on its slope: whole
// conversions between the lower level and a top, half a conversion away from
// both ends.
func (c curve) inside(top float64) curve {
	out := c.within(lowerLevel, top)
	if len(out.t) < fewest {
		return curve{}
	}
	margin := math.Abs(lineAt(out).perSecond) * adc16x4.SPS860.Longest().Seconds() / 2
	return out.within(margin, top-margin)
}

func (c curve) within(low, high float64) curve {
	out := newCurve(len(c.t))
	out.jitter = c.jitter
	for i := range c.t {
		if c.v[i] >= low && c.v[i] <= high {
			out.add(c.t[i], c.v[i])
		}
	}
	return out
}

// met tells whether a sample met the rise: one between a tenth and nine tenths.
// Without one a bound says how far apart samples were, and no more.
func (c curve) met() bool {
	low, high := least(c.v), most(c.v)
	span := high - low
	return len(c.within(low+tenth*span, high-tenth*span).t) > 0
}

// bound is the largest capacitance that a current can have charged between the
// last sample that was down, or the coil write before which none flows, and the
// first that was up. A conversion averages, so these stand farther apart than the
// ends of the rise, never closer; each rise began anywhere within its coil write.
// Infinite where there was no rise.
func (c curve) bound(current float64) float64 {
	low, high := least(c.v), most(c.v)
	span := high - low
	if high < upperLevel || low > lowerLevel {
		return math.Inf(1)
	}
	down, up := math.Inf(-1), math.Inf(1)
	for i, at := range c.t {
		switch v := c.v[i]; {
		case v < low+tenth*span:
			down = math.Max(down, at)
		case v > high-tenth*span:
			up = math.Min(up, at)
		}
	}
	// From sample to sample, or from the earliest write to the end of a conversion
	// that its own write may have begun late.
	between := math.Max(up-down, 0) + math.Max(2*c.origin-coilWrite, 0)
	behind := up + 3*c.origin + adc16x4.SPS860.Longest().Seconds()
	return current * (math.Min(between, behind) + instants) / ((1 - 2*tenth) * span)
}
