package bench

import (
	"context"
	"fmt"
	"math"
	"time"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/chip/powermon"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// headroom is what a range must hold beyond the largest value expected: 2 %,
// for the errors of converter and divider. Own choice.
const headroom = 1.02

// point is one conversion in the raw unit of its chip.
type point struct {
	from, at  time.Duration
	raw       float64
	low, high bool // at that end of the range
}

// stream is a channel that is converted again and again.
type stream struct {
	channel  *channel
	budget   *budget
	step     float64
	interval time.Duration
	longest  time.Duration // of a conversion
	rig      *Rig
	meter    *meter // of a current
	// speed is that of single conversions of the shunt alone, where single is set.
	speed  powermon.ConversionTime
	single bool
	due    time.Duration // of the next conversion of a thermometer
}

// next waits for one more conversion.
func (s *stream) next(ctx context.Context) (point, error) {
	switch {
	case s.channel.adc != nil:
		return s.nextVoltage(ctx)
	case s.single:
		return s.nextShunt(ctx)
	case s.meter != nil:
		return s.nextCurrent(ctx)
	}
	return s.nextTemperature(ctx)
}

// value is a point in SI.
func (s *stream) value(p point) float64 { return s.budget.value(p.raw) }

// stats sums up points.
func (s *stream) stats(points []point) stats {
	sum := stats{step: s.step, conversion: s.budget.noise}
	for _, p := range points {
		sum.add(p.raw)
		sum.low, sum.high = sum.low || p.low, sum.high || p.high
	}
	return sum
}

// stream starts converting a channel. expect is the largest value in SI that
// its range must hold, 0 for the channel's highest; interval is the longest
// time between samples, 0 for as short as the chip can.
func (r *Rig) stream(ctx context.Context, c *channel, expect float64, interval time.Duration) (*stream, error) {
	switch {
	case c.adc != nil:
		return r.streamVoltage(ctx, c, expect, interval)
	case len(c.ranges) > 0:
		return r.streamCurrent(c, interval)
	case c.thermo != nil:
		return r.streamTemperature(c, interval), nil
	}
	return nil, refuse("sample the channel", c.spec.Name, "Sample the voltage that it is computed from.",
		fmt.Errorf("a %s channel cannot be sampled in time", c.spec.Kind))
}

func (r *Rig) streamVoltage(ctx context.Context, c *channel, expect float64, interval time.Duration) (*stream, error) {
	rate, err := rateFor(interval)
	if err != nil {
		return nil, refuse("sample the channel", c.spec.Name, "Ask for a longer interval.", err)
	}
	rng := c.rangeFor(expect)
	if err := c.adc.dev.Start(ctx, c.input, rng, rate); err != nil {
		return nil, chipFault("start converting", c.adc.spec.Name, err)
	}
	return &stream{rig: r, channel: c, budget: &c.budget, step: rng.LSB().SI, interval: rate.Period(), longest: rate.Longest()}, nil
}

func (s *stream) nextVoltage(ctx context.Context) (point, error) {
	got, err := s.channel.adc.dev.Next(ctx)
	if err != nil {
		return point{}, chipFault("read a conversion", s.channel.adc.spec.Name, err)
	}
	return adcPoint(got), s.rig.watched(s.channel, s.budget, got.Volts.SI)
}

func adcPoint(s adc16x4.Sample) point {
	return point{s.From, s.At, s.Volts.SI, s.Saturated && s.Code < 0, s.Saturated && s.Code > 0}
}

// stop ends the converting where it is a converter's: from here on it rests, and what
// comes next need not wait for a conversion that nobody asks for. A monitor goes on,
// because it watches.
func (s *stream) stop() error {
	if s.channel.adc == nil {
		return nil
	}
	return s.channel.adc.stop()
}

func (c *converter) stop() error { return chipFault("stop converting", c.spec.Name, c.dev.Stop()) }

// rateFor is the slowest rate that still converts once in an interval.
func rateFor(interval time.Duration) (adc16x4.Rate, error) {
	if interval == 0 {
		return adc16x4.SPS860, nil
	}
	for rate := adc16x4.SPS8; rate <= adc16x4.SPS860; rate++ {
		if rate.Period() <= interval {
			return rate, nil
		}
	}
	return 0, fmt.Errorf("interval %s, the shortest is %s", interval, adc16x4.SPS860.Period())
}

// rangeFor is the narrowest range that surely holds a value in SI; 0 asks for
// the channel's highest.
func (c *channel) rangeFor(value float64) adc16x4.Range {
	if value == 0 {
		value = c.spec.Highest.SI
	}
	raw := math.Abs(c.budget.raw(value))*headroom + c.offset
	for _, rng := range converterRanges {
		if raw < rng.FullScale().SI {
			return rng
		}
	}
	return adc16x4.FS6144
}

// streamCurrent takes the averaged results of the monitor, or unaveraged ones
// of the shunt alone where the interval asks for more speed.
func (r *Rig) streamCurrent(c *channel, interval time.Duration) (*stream, error) {
	g, err := r.rangeNow(c)
	if err != nil {
		return nil, err
	}
	m := g.meter
	s := &stream{rig: r, channel: c, meter: m, budget: &g.budget, step: meterStep,
		interval: time.Duration(meterAverage.Count()) * 2 * meterTime.Period()}
	if interval > 0 && interval < s.interval {
		return s.ofShunt(interval)
	}
	// A new start, so that nothing is averaged that was before it.
	if err := m.dev.Start(); err != nil {
		return nil, chipFault("start converting", m.spec.Name, err)
	}
	return s, nil
}

func (s *stream) nextCurrent(ctx context.Context) (point, error) {
	got, err := s.meter.dev.NextShunt(ctx)
	if err != nil {
		return point{}, chipFault("read a conversion", s.meter.spec.Name, err)
	}
	p := point{got.From, got.At, got.Shunt.SI, got.Saturated && got.Code < 0, got.Saturated && got.Code > 0}
	return p, s.rig.metered(s.channel, s.budget, s.meter, p)
}

// shuntOverhead is what a triggered conversion costs beside itself: five
// transfers of about 100 µs at 400 kHz. Own estimate.
const shuntOverhead = 500 * time.Microsecond

// ofShunt turns a stream of averaged results into one of single conversions.
func (s *stream) ofShunt(interval time.Duration) (*stream, error) {
	speed := powermon.Time140us
	if interval < speed.Period()+shuntOverhead {
		return nil, refuse("sample the channel", s.channel.spec.Name, "Ask for a longer interval.",
			fmt.Errorf("interval %s, the shortest is %s", interval, speed.Period()+shuntOverhead))
	}
	for speed < powermon.Time8244us && (speed+1).Period()+shuntOverhead <= interval {
		speed++
	}
	s.speed, s.single, s.interval = speed, true, speed.Period()+shuntOverhead
	return s, nil
}

func (s *stream) nextShunt(ctx context.Context) (point, error) {
	got, err := s.meter.dev.Shunt(ctx, s.speed)
	if err != nil {
		return point{}, chipFault("convert the shunt", s.meter.spec.Name, err)
	}
	p := point{got.From, got.At, got.Shunt.SI, got.Saturated && got.Code < 0, got.Saturated && got.Code > 0}
	return p, s.rig.metered(s.channel, s.budget, s.meter, p)
}

// thermoInterval is the longest conversion of a sensor: 300 ms (TI TMP75 data
// sheet SBOS288M, from memory).
const thermoInterval = 300 * time.Millisecond

func (r *Rig) streamTemperature(c *channel, interval time.Duration) *stream {
	return &stream{rig: r, channel: c, budget: &c.budget, step: thermoStep, interval: max(interval, thermoInterval), due: r.Now()}
}

func (s *stream) nextTemperature(ctx context.Context) (point, error) {
	if err := s.rig.guard.Sleep(ctx, s.due-s.rig.Now()); err != nil {
		return point{}, err
	}
	s.due += s.interval
	got, err := s.channel.thermo.dev.Read(ctx)
	if err != nil {
		return point{}, chipFault("read the temperature", s.channel.thermo.spec.Name, err)
	}
	p := point{from: got.From, at: got.At, raw: got.Temperature.SI}
	return p, s.rig.watched(s.channel, s.budget, p.raw)
}

// metered is watched, and looks at the alert that the driver met: reading a
// conversion releases the pin. What the pin shows since then the guard sees.
func (r *Rig) metered(c *channel, b *budget, m *meter, p point) error {
	if m.dev.Tripped() && !r.guard.quiet {
		trip := r.alert(&wiring.Line{Chip: m.spec.Name}, line{}).trip
		r.guard.trip(&trip)
		return r.guard.err
	}
	return r.watched(c, b, p.raw)
}

// watched compares a conversion with the ceiling of its channel.
func (r *Rig) watched(c *channel, b *budget, raw float64) error {
	if c.ceiling.SI <= 0 || r.guard.quiet {
		return nil
	}
	if v := b.value(raw); v > c.ceiling.SI {
		r.guard.trip(&Interlock{Kind: c.trips, Thing: c.spec.Name, Value: quantity.Quantity{SI: v, Dim: c.dim}, Limit: c.ceiling,
			Hint: "Take the unit out and look for the cause before the next run."})
		return r.guard.err
	}
	return nil
}

// bound gives a channel the interlock that its readings serve.
func (r *Rig) bound(c *channel) {
	switch {
	case c.onVbus:
		c.trips, c.ceiling = OverVoltage, r.wiring.Guard.OverVoltage
	case c.dim == quantity.Current:
		c.trips, c.ceiling = OverCurrent, r.limits.Current
	case c.dim == quantity.Temperature:
		c.trips, c.ceiling = OverTemperature, r.limits.Temperature
	}
}

// temperatureEvery is how often a powered rig looks at the temperature: cells
// warm up over seconds, not milliseconds. Own choice.
const temperatureEvery = 250 * time.Millisecond

// watchTemperature looks at every temperature channel while something is fed. It
// returns the time.
func (r *Rig) watchTemperature(ctx context.Context, now time.Duration) (time.Duration, error) {
	if r.limits.Temperature.SI <= 0 || len(r.state.Feed) == 0 || r.watching {
		return now, nil
	}
	r.guard.watchAt, r.watching = now+temperatureEvery, true
	defer func() { r.watching = false }()
	for _, c := range r.channels {
		if c.thermo == nil {
			continue
		}
		got, err := c.thermo.dev.Read(ctx)
		if err != nil {
			return now, chipFault("watch the temperature", c.thermo.spec.Name, err)
		}
		if err := r.watched(c, &c.budget, got.Temperature.SI); err != nil {
			return now, err
		}
	}
	return r.Now(), nil
}
