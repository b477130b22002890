package bench

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// The levels between which the probe current shows the capacitance. They stay
// below the lock-out of any charger, so that nothing in the unit starts.
const (
	lowerLevel = 0.3 // volts
	upperLevel = 2.0 // volts
)

// The names that every wiring file gives to the axis of probe-vbus and to the
// value at which its source is released.
const (
	probeAxis = "current"
	probeOff  = "off"
)

// How long VBUS may take to rise: 1 s, which shows 2500 µF at 5 mA. A current
// that has not brought it half way in 300 ms makes room for the next one. A level that moves by less than a
// hundredth, or by 5 mV, in 50 ms has settled. Own choices.
const (
	firstPatience = 300 * time.Millisecond
	lastPatience  = time.Second
	settling      = 50 * time.Millisecond
	settledBand   = 0.01
	settledFloor  = 5e-3 // volts
)

// The fall is watched for 40 ms, or until VBUS has passed 1 V (half of where it
// stood, if that is less) and five samples are there. Own choices.
const (
	fallTime    = 40 * time.Millisecond
	fallLevel   = 1.0 // volts
	fallSamples = 5
)

// quickProbe is how many samples a rise and a fall of a good unit have at most; a
// slower one makes itself more room.
const quickProbe = 64

// What settled levels mean. A clamp of one diode stands between 0.1 V and 1.2 V
// and moves by less than three times for fifty times the current. Below 0.4 V
// at 5 mA less than 80 Ω are on VBUS: no unit takes 60 mA before it is asked
// to. Own choices.
const (
	clampFloor = 0.1 // volts
	clampLevel = 1.2 // volts
	clampRatio = 3.0
	shortLevel = 0.4  // volts
	loadLevel  = 0.02 // volts: 200 Ω at 0.1 mA
)

// ErrOccupied is the cause when a nest that must be empty shows a unit.
var ErrOccupied = errors.New("something is seated in the nest")

// ErrUnproved is the cause when nothing shows in a nest that must be empty, and it
// cannot be seen well enough.
var ErrUnproved = errors.New("nothing shows in the nest, which does not prove it empty")

// Presence is what the probe current on VBUS saw.
type Presence struct {
	// Present says that there is a unit: more capacitance than the empty
	// nest, or a short, a clamp or a load.
	Present bool
	// Shorted: VBUS stayed near zero at the largest probe current, as with less
	// than 80 Ω at 5 mA.
	Shorted bool
	// Reversed: VBUS was clamped at about a diode's forward voltage at every
	// probe current, or below ground: what a unit with swapped polarity or a
	// reversed protection diode does.
	Reversed bool
	// Loaded: at some probe current VBUS settled below the level that the
	// capacitance is measured at, and it was neither short nor clamp.
	Loaded bool
	// Capacitance between VBUS and ground, that of the rig itself taken off.
	// A bound where too few samples lay between the levels (at most, the
	// rig's own included) or VBUS did not rise (at least).
	Capacitance Reading
	// Level is VBUS as it stood at the end of the rise.
	Level Reading
	// Current is the probe current that the answer was found with.
	Current quantity.Quantity
	// Waves are the rise at each probe current and the fall after the last.
	Waves []Waveform
}

// Probe enters probe-vbus with each probe current that it needs and leaves the
// rig there with the source off. It passes no judgement: the caller marks the
// condition as passed.
//
// The capacitance is I / (rise + fall), both slopes at one level: whatever
// loads VBUS shortens the rise by what it adds to the fall.
func (r *Rig) Probe(ctx context.Context) (Presence, error) {
	if err := r.begin(ctx); err != nil {
		return Presence{}, err
	}
	got, err := r.probe(ctx)
	if err = r.end(err); err != nil {
		return Presence{}, err
	}
	return got, nil
}

// Empty proves that nothing is seated, and forgets what the last unit passed.
// A nest that is not measured empty is refused with a *Fault that wraps ErrOccupied,
// or ErrUnproved. The rig ends in isolated.
func (r *Rig) Empty(ctx context.Context) (Presence, error) {
	if err := r.begin(ctx); err != nil {
		return Presence{}, err
	}
	clear(r.passed)
	got, err := r.probe(ctx)
	if err == nil && !got.Present && !r.vacant(got) {
		// Nobody answers, and the bound is not tight enough: one look in some thousands
		// spreads that far. A second one decides.
		got, err = r.probe(ctx)
	}
	if err == nil {
		err = r.enter(ctx, wiring.Setting{Condition: Isolated}, nil)
	}
	if err == nil && !r.vacant(got) {
		err = r.notEmpty(got)
	}
	return got, r.end(err)
}

// notEmpty is what a nest that is not vacant is refused with. A bound has no digits
// beyond the third.
func (r *Rig) notEmpty(got Presence) error {
	c, cause, hint := got.Capacitance.Value, ErrOccupied, "Take the unit out of the nest."
	if !got.Present && c.Bound == quantity.AtMost {
		cause, hint = ErrUnproved, "State in the wiring file what this bus can prove, or use a faster one; look for a long cable at the plug."
	}
	shown := c.String()
	switch c.Bound {
	case quantity.AtMost:
		shown = "at most " + c.Quantity.Text(3)
	case quantity.AtLeast:
		shown = "at least " + c.Quantity.Text(3)
	}
	return refuse("prove the nest empty", r.wiring.Nest.Name, hint,
		fmt.Errorf("%w: VBUS shows %s, empty means at most %s", cause, shown, r.wiring.Nest.Empty))
}

// vacant tells whether what was seen is a nest without a unit.
func (r *Rig) vacant(got Presence) bool {
	c := got.Capacitance.Value
	return !got.Present && c.Bound == quantity.AtMost && c.SI <= r.wiring.Nest.Empty.SI
}

// rise is one rise of VBUS under a probe current.
type rise struct {
	index   int // of the probe current
	current quantity.Quantity
	stream  *stream
	points  []point
	// reached: it passed the upper level. settled: it stood still below.
	reached, settled bool
}

// top is the last of some points in volts.
func (a *rise) top(points []point) float64 { return a.stream.value(points[len(points)-1]) }

func (r *Rig) probe(ctx context.Context) (Presence, error) {
	values, err := r.probeValues()
	if err != nil {
		return Presence{}, refuse("probe", ProbeVbus, "Check the condition in the wiring file.", err)
	}
	var out Presence
	var rises []*rise
	for i := range values {
		a, err := r.rise(ctx, values, i)
		if err != nil {
			return Presence{}, err
		}
		rises = append(rises, a)
		out.Waves = append(out.Waves, a.stream.wave(a.points))
		if a.reached {
			break
		}
	}
	last := rises[len(rises)-1]
	out.Current = last.current
	end := len(last.points) - 1
	if last.settled {
		end = lastOf(last.points, settling)
	}
	out.Level = r.reading(last.stream, last.points[end:])
	fall, err := r.fall(ctx, last)
	if err != nil {
		return Presence{}, err
	}
	if err := last.stream.stop(); err != nil {
		return Presence{}, err
	}
	out.Waves = append(out.Waves, last.stream.wave(fall))
	out.classify(rises)
	if out.Capacitance, err = r.capacitance(ctx, last, fall, values); err != nil {
		return Presence{}, err
	}
	// An empty nest rises at the first current.
	empty := r.wiring.Nest.Empty
	out.Present = last.index > 0 || out.seen(empty) || last.took() > empty.SI
	return out, nil
}

// took is the least that went into the nest between the levels, charge per
// volt: capacitance and load together. It is less than one sample interval short
// of what the source gave, so that it never exceeds what is there.
func (a *rise) took() float64 {
	c := a.stream.between(a.points, lowerLevel, upperLevel)
	n := len(c.t)
	if n < 3 {
		return 0
	}
	return a.current.SI * (c.t[n-1] - c.t[1]) / (c.v[n-1] - c.v[0])
}

// probeValues are the settings of probe-vbus that drive a current, the
// smallest first as the wiring lists them, then the one that releases it.
func (r *Rig) probeValues() ([]wiring.State, error) {
	c, ok := r.wiring.Condition(ProbeVbus)
	if !ok {
		return nil, wiring.ErrUnknown
	}
	axis, ok := c.Axis(probeAxis)
	if !ok {
		return nil, fmt.Errorf("axis %s: %w", probeAxis, wiring.ErrUnknown)
	}
	if _, ok := axis.Value(probeOff); !ok {
		return nil, fmt.Errorf("value %s of axis %s: %w", probeOff, probeAxis, wiring.ErrUnknown)
	}
	if _, ok := r.wiring.SupplyOf(wiring.Probe); !ok {
		return nil, fmt.Errorf("a supply of kind %s: %w", wiring.Probe, wiring.ErrUnknown)
	}
	var out []wiring.State
	for _, v := range axis.Values {
		if v.Name == probeOff {
			continue
		}
		to, err := r.resolve(probeSetting(v.Name))
		if err != nil {
			return nil, err
		}
		out = append(out, to.state)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("axis %s drives no current", probeAxis)
	}
	return out, nil
}

func probeSetting(value string) wiring.Setting {
	return wiring.Setting{Condition: ProbeVbus, Axes: []wiring.AxisChoice{{Axis: probeAxis, Value: value}}}
}

// rise empties VBUS, drives the i-th current and samples from before the write
// that lets VBUS rise. The first current is always driven before a larger one,
// which would lift VBUS while it still bleeds.
func (r *Rig) rise(ctx context.Context, values []wiring.State, i int) (*rise, error) {
	supply, _ := r.wiring.SupplyOf(wiring.Probe)
	level, ok := supply.LevelFor(values[i].On)
	if !ok {
		return nil, refuse("probe", supply.Name, "Check the supply's levels in the wiring file.",
			fmt.Errorf("no level for %v", values[i].On))
	}
	a := &rise{index: i, current: level.Value}
	if err := r.enter(ctx, wiring.Setting{Condition: Isolated}, nil); err != nil {
		return nil, err
	}
	if i > 0 {
		if err := r.enter(ctx, values[0].Setting, nil); err != nil {
			return nil, err
		}
	}
	start := func() (err error) {
		a.stream, err = r.stream(ctx, r.vbus, supply.Compliance.SI*headroom, 0)
		return err
	}
	if err := r.enter(ctx, values[i].Setting, start); err != nil {
		return nil, err
	}
	points, err := r.until(ctx, a.stream, make([]point, 0, quickProbe), r.entered.hi+lastPatience, func(points []point) bool {
		v := a.top(points)
		a.reached = v >= upperLevel
		a.settled = !a.reached && a.stands(points, r.still)
		slow := i < len(values)-1 && r.Now() >= r.entered.hi+firstPatience && v < upperLevel/2
		return a.reached || a.settled || slow
	})
	a.points = points
	return a, err
}

// stands tells whether the points of the settling time since an instant lie
// close together.
func (a *rise) stands(points []point, since time.Duration) bool {
	now := points[len(points)-1]
	if now.at < since+settling {
		return false
	}
	before := points[lastOf(points, settling)]
	v, was := a.stream.value(now), a.stream.value(before)
	return math.Abs(v-was) < math.Max(settledFloor, settledBand*math.Abs(v))
}

// lastOf is the index of the first point of the last span d.
func lastOf(points []point, d time.Duration) int {
	i := len(points) - 1
	for end := points[i].at; i > 0 && end-points[i-1].at <= d; {
		i--
	}
	return i
}

// fall releases the source and goes on sampling. The points begin with the
// release: for as long as its contacts take to open VBUS may still rise.
func (r *Rig) fall(ctx context.Context, a *rise) ([]point, error) {
	if err := r.enter(ctx, probeSetting(probeOff), nil); err != nil {
		return nil, err
	}
	open, bottom := r.still, math.Min(fallLevel, a.top(a.points)/2)
	return r.until(ctx, a.stream, make([]point, 0, quickProbe), open+fallTime, func(points []point) bool {
		return a.top(points) < bottom && len(after(points, open)) >= fallSamples
	})
}

// classify says what the levels mean.
func (p *Presence) classify(rises []*rise) {
	first, last := rises[0], rises[len(rises)-1]
	low, high := first.top(first.points), last.top(last.points)
	switch {
	case last.reached:
	case high < -clampFloor/2:
		p.Reversed = true
	case last.settled && len(rises) > 1 && low > clampFloor && high < clampLevel && high < clampRatio*low:
		p.Reversed = true
	case last.settled && high < shortLevel:
		p.Shorted = true
	case last.settled:
		p.Loaded = true
	}
	if first.settled && last.reached && low >= loadLevel {
		p.Loaded = true
	}
}

// seen tells whether there is a unit.
func (p *Presence) seen(empty quantity.Quantity) bool {
	c := p.Capacitance.Value
	switch {
	case p.Shorted || p.Reversed || p.Loaded || c.Bound == quantity.AtLeast:
		return true
	case c.Bound == quantity.AtMost:
		return false
	}
	return c.SI-c.U().SI > empty.SI
}
