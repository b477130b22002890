package bench

import (
	"context"
	"math"
	"strconv"
	"time"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/quantity"
)

// Read measures one channel in the state that the rig stands in.
func (r *Rig) Read(ctx context.Context, channel string, o ReadOptions) (Reading, error) {
	if err := r.begin(ctx); err != nil {
		return Reading{}, err
	}
	got, err := r.read(ctx, channel, o)
	if err = r.end(err); err != nil {
		return Reading{}, err
	}
	return got, nil
}

func (r *Rig) read(ctx context.Context, name string, o ReadOptions) (Reading, error) {
	c, err := r.channel(name)
	if err != nil {
		return Reading{}, err
	}
	if err := r.guard.Sleep(ctx, r.still-r.Now()); err != nil {
		return Reading{}, err
	}
	switch {
	case c.volts != nil:
		return r.readTermination(ctx, c, o)
	case c.adc != nil:
		return r.readVoltage(ctx, c, o)
	}
	s, err := r.stream(ctx, c, 0, 0)
	if err != nil {
		return Reading{}, err
	}
	points, err := r.take(ctx, s, max(1, o.Periods))
	if err != nil {
		return Reading{}, err
	}
	return r.reading(s, points), nil
}

// take samples n points into the rig's own buffer.
func (r *Rig) take(ctx context.Context, s *stream, n int) ([]point, error) {
	r.points = r.points[:0]
	for range n {
		p, err := s.next(ctx)
		if err != nil {
			return nil, err
		}
		r.points = append(r.points, p)
	}
	return r.points, nil
}

// reading is the mean of points, which must not be empty. more are causes of error
// beside those of the mean.
func (r *Rig) reading(s *stream, points []point, more ...quantity.Contribution) Reading {
	sum := s.stats(points)
	first, last := points[0], points[len(points)-1]
	m := r.mean(s.channel, s.budget, &sum, more...)
	return Reading{Channel: s.channel.spec.Name, Value: m, At: first.from + (last.at-first.from)/2,
		Saturated: m.Bound != quantity.Exact}
}

// mean forms the value of a reading from its conversions.
func (r *Rig) mean(c *channel, b *budget, s *stats, more ...quantity.Contribution) quantity.Measured {
	step, spread := r.tag(c).causes("step", "repeatability")
	return b.mean(nil, s, step, spread, more...)
}

// tag tells one reading from every other one.
type tag struct {
	channel string
	number  int
}

func (r *Rig) tag(c *channel) tag {
	r.readings++
	return tag{c.spec.Name, r.readings}
}

// cause names what belongs to this reading only, such as "vbus #12 step".
func (t tag) cause(what string) string {
	var room [80]byte
	return string(t.appendCause(room[:0], what))
}

// causes names two, in one text that is cut in two.
func (t tag) causes(first, second string) (string, string) {
	var room [160]byte
	text := t.appendCause(room[:0], first)
	n := len(text)
	both := string(t.appendCause(text, second))
	return both[:n], both[n:]
}

func (t tag) appendCause(text []byte, what string) []byte {
	text = append(append(text, t.channel...), " #"...)
	text = append(strconv.AppendInt(text, int64(t.number), 10), ' ')
	return append(text, what...)
}

// readVoltage starts on the narrowest range that should hold the value.
func (r *Rig) readVoltage(ctx context.Context, c *channel, o ReadOptions) (Reading, error) {
	rng, err := r.firstRange(ctx, c, o)
	if err != nil {
		return Reading{}, err
	}
	got, _, err := r.readIn(ctx, c, rng, o)
	return got, err
}

// readIn reads in a range and widens it where it does not hold the value. It
// returns the range that did.
func (r *Rig) readIn(ctx context.Context, c *channel, rng adc16x4.Range, o ReadOptions) (Reading, adc16x4.Range, error) {
	window := r.window(c, o)
	for {
		sum, from, at, err := r.average(ctx, c, rng, window)
		if err != nil {
			return Reading{}, rng, err
		}
		if (sum.high || sum.low) && rng > c.rangeFor(0) {
			rng--
			continue
		}
		m := r.mean(c, &c.budget, &sum)
		c.last, c.lastIn, c.known = sum.mean, r.entered, true
		return Reading{Channel: c.spec.Name, Value: m, At: from + (at-from)/2, Saturated: m.Bound != quantity.Exact}, rng, nil
	}
}

// firstRange chooses by what is expected, by the last reading in this state,
// or by a look on the widest range.
func (r *Rig) firstRange(ctx context.Context, c *channel, o ReadOptions) (adc16x4.Range, error) {
	if o.Expect.SI != 0 {
		return c.rangeFor(o.Expect.SI), nil
	}
	if !c.known || c.lastIn != r.entered {
		if _, err := r.quick(ctx, c); err != nil {
			return 0, err
		}
	}
	// A tenth more: the value may ripple around what was seen.
	return c.rangeFor(math.Max(math.Abs(c.budget.value(c.last))*1.1, smallest)), nil
}

// smallest keeps rangeFor from taking a zero as "the highest": 1 mV.
const smallest = 1e-3

// window is the time that a reading averages over: the mains periods asked for.
func (r *Rig) window(c *channel, o ReadOptions) time.Duration {
	periods := o.Periods
	if periods == 0 && c.spec.MainsAverage {
		periods = 1
	}
	if periods <= 0 || r.wiring.Mains.SI <= 0 {
		return 0
	}
	return seconds(float64(periods) / r.wiring.Mains.SI)
}

// averaging is the rate of conversions that are averaged over mains periods. A
// converter of this kind integrates all the time, so that faster ones would not
// see more: nine fill a period of 50 Hz to within a twentieth of it, tell their own
// spread, and leave half of the bus to others. Own choice.
const averaging = adc16x4.SPS475

// average converts in one range until a window is full. A window of zero is a single conversion. Counting conversions would
// not do: one that repeats the code before it is found late.
func (r *Rig) average(ctx context.Context, c *channel, rng adc16x4.Range, window time.Duration) (sum stats, from, at time.Duration, err error) {
	sum = stats{step: rng.LSB().SI, conversion: c.budget.noise}
	next := func() (adc16x4.Sample, error) { return c.adc.dev.ConvertAt(ctx, c.input, rng, adc16x4.SPS860) }
	if window > 0 {
		err = c.adc.dev.Start(ctx, c.input, rng, averaging)
		next = func() (adc16x4.Sample, error) { return c.adc.dev.Next(ctx) }
	}
	for full := false; err == nil && !full; {
		var s adc16x4.Sample
		if s, err = next(); err != nil {
			break
		}
		p := adcPoint(s)
		if sum.n == 0 {
			from = p.from
		}
		at = p.at
		sum.add(p.raw)
		sum.low, sum.high = sum.low || p.low, sum.high || p.high
		err = r.watched(c, &c.budget, p.raw)
		full = window == 0 || sum.n > 1 && at-from >= window-averaging.Period()/2
	}
	if err == nil {
		err = c.adc.dev.Stop()
	}
	return sum, from, at, chipFault("convert", c.adc.spec.Name, err)
}

// quick is one conversion of a voltage channel on the range that holds its
// highest value. It counts as a reading, and nobody keeps what it is uncertain by.
func (r *Rig) quick(ctx context.Context, c *channel) (stats, error) {
	sum, _, _, err := r.average(ctx, c, c.rangeFor(0), 0)
	if err != nil {
		return stats{}, err
	}
	c.last, c.lastIn, c.known = sum.mean, r.entered, true
	r.readings++
	return sum, nil
}
