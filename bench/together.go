package bench

import (
	"context"
	"math"
	"slices"
	"time"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/quantity"
)

// Ask is one of several readings that are taken together.
type Ask struct {
	Channel string
	ReadOptions
	// Band, if above zero, asks for a reading that is steady, as Wait with
	// Steady does: the channel stays within it for five mains periods, which
	// begin within Within of the last entry.
	Band   float64
	Within time.Duration
}

// Answer is the reading of one Ask. Met is false where it was to be steady and
// was not; the reading is then the mean of the last five mains periods.
type Answer struct {
	Reading Reading
	Met     bool
}

// ReadTogether takes several readings in the time of the longest: different
// chips convert side by side, the inputs of one converter one after the other.
// The answers come in the order of the asks.
//
// Where a reading is to be steady, the others end with its five periods, as far
// as that can be foreseen: what takes a moment to follow has had it. One that was
// begun before the first of these periods was over is taken again.
func (r *Rig) ReadTogether(ctx context.Context, asks []Ask) ([]Answer, error) {
	if err := r.begin(ctx); err != nil {
		return nil, err
	}
	got, err := r.readTogether(ctx, asks)
	if err = r.end(err); err != nil {
		return nil, err
	}
	return got, nil
}

func (r *Rig) readTogether(ctx context.Context, asks []Ask) ([]Answer, error) {
	all := make([]task, len(asks))
	side := make([]*task, 0, len(asks)) // by side
	for i, a := range asks {
		c, err := r.channel(a.Channel)
		if err != nil {
			return nil, err
		}
		all[i] = task{ask: a, channel: c, rig: r}
		if all[i].sharable() {
			all[i].chip = r.chipOf(c)
			side = append(side, &all[i])
		}
	}
	if err := r.guard.Sleep(ctx, r.still-r.Now()); err != nil {
		return nil, err
	}
	if err := sideBySide(ctx, side); err != nil {
		return nil, err
	}
	if err := sideBySide(ctx, tooEarly(side)); err != nil {
		return nil, err
	}
	out := make([]Answer, len(all))
	for i := range all {
		t := &all[i]
		if !t.sharable() {
			var err error
			if t.answer.Reading, err = r.read(ctx, t.ask.Channel, t.ask.ReadOptions); err != nil {
				return nil, err
			}
			t.answer.Met = true
		}
		out[i] = t.answer
	}
	return out, nil
}

// sideBySide takes the steps of tasks until all are done. The chips convert by
// themselves; the one that is due first is looked at first, the earlier task
// where two are due together.
func sideBySide(ctx context.Context, tasks []*task) error {
	for {
		var next *task
		for i, t := range tasks {
			if t.done || t.behind(tasks[:i]) {
				continue
			}
			if !t.begun() && patience(tasks) > ahead(tasks, t.chip) {
				continue
			}
			if next == nil || t.due < next.due {
				next = t
			}
		}
		if next == nil {
			return nil
		}
		if err := next.step(ctx); err != nil {
			return err
		}
	}
}

// behind tells whether the chip of a task is busy with one of those before it.
func (t *task) behind(earlier []*task) bool {
	return slices.ContainsFunc(earlier, func(e *task) bool { return !e.done && e.chip == t.chip })
}

// aside is what one reading costs beside its window: choosing the range and
// starting the converter. Own estimate, at 400 kHz.
const aside = 4 * time.Millisecond

// ahead is how long a chip will be busy with what is still to be read on it.
func ahead(tasks []*task, chip any) time.Duration {
	var sum time.Duration
	for _, t := range tasks {
		if t.ask.Band == 0 && !t.done && t.chip == chip {
			sum += t.rig.window(t.channel, t.ask.ReadOptions) + aside
		}
	}
	return sum
}

// patience is how long it takes at least until everything has been steady for
// long enough, less one interval in which nothing more will be known; zero
// where nothing has to be steady any more.
func patience(tasks []*task) time.Duration {
	var longest time.Duration
	for _, t := range tasks {
		if t.ask.Band > 0 && !t.done {
			longest = max(longest, t.remaining())
		}
	}
	return longest
}

// begun tells whether a task has to go on because its chip is under way, or
// waits for nothing because it is what has to be steady.
func (t *task) begun() bool { return t.ask.Band > 0 || t.started || t.stream != nil }

// fewIntervals is in how many samples a hold must fit at most to be followed
// sample by sample; a faster channel is not looked at until it was steady.
const fewIntervals = 32

// remaining is how long a steady reading takes at least from its last sample
// on, less one interval.
func (t *task) remaining() time.Duration {
	w := t.waiter
	if w == nil {
		return time.Hour
	}
	left := w.Hold - w.stream.interval
	if len(w.points) == 0 || w.Hold > fewIntervals*w.stream.interval {
		return max(left, time.Millisecond)
	}
	i := len(w.points) - 1
	for first := i; first >= 0 && w.level(first, i); first-- {
		left = w.Hold - (w.points[i].at - w.points[first].from) - w.stream.interval
	}
	return left
}

// tooEarly makes those tasks ready to be taken again that began before what
// had to be steady was.
func tooEarly(tasks []*task) []*task {
	var steady time.Duration
	for _, t := range tasks {
		if t.ask.Band > 0 {
			steady = max(steady, t.first)
		}
	}
	var again []*task
	for _, t := range tasks {
		if t.ask.Band == 0 && t.from < steady {
			*t = task{ask: t.ask, channel: t.channel, chip: t.chip, rig: t.rig}
			again = append(again, t)
		}
	}
	return again
}

// task is one reading while it is being taken.
type task struct {
	ask     Ask
	channel *channel
	chip    any // what a sharable channel occupies
	rig     *Rig

	waiter  *waiter // of a steady reading
	stream  *stream // of a current
	points  []point
	started bool // of a voltage over mains periods
	rng     adc16x4.Range
	window  time.Duration
	sum     stats

	due      time.Duration
	from, at time.Duration // what the reading was integrated over
	first    time.Duration // of a steady reading: when its first sample was there
	done     bool
	answer   Answer
}

// sharable tells whether the chip of a channel can convert beside others. A
// termination needs its converter for two inputs in one range, and a thermometer
// is slow.
func (t *task) sharable() bool { return t.channel.adc != nil || len(t.channel.ranges) > 0 }

// chipOf is what a channel occupies in the state that the rig stands in.
func (r *Rig) chipOf(c *channel) any {
	if c.adc != nil {
		return c.adc
	}
	if g, err := r.rangeNow(c); err == nil {
		return g.meter
	}
	return c // its first step says what is wrong
}

// step does the next conversion, or starts the first one.
func (t *task) step(ctx context.Context) error {
	switch {
	case t.ask.Band > 0:
		return t.stepSteady(ctx)
	case t.channel.adc != nil:
		return t.stepVoltage(ctx)
	}
	return t.stepCurrent(ctx)
}

// later says when the chip will have something new: not before nine tenths of
// its interval (chip.Wait).
func (t *task) later(interval time.Duration) { t.due = t.rig.Now() + interval*9/10 }

func (t *task) stepSteady(ctx context.Context) error {
	r := t.rig
	if t.waiter == nil {
		u := Until{Channel: t.ask.Channel, Relation: Steady, Band: t.ask.Band, Within: t.ask.Within, Expect: t.ask.Expect}
		if r.wiring.Mains.SI > 0 {
			u.Hold = seconds(5 / r.wiring.Mains.SI)
		}
		if err := u.check(t.channel.dim); err != nil {
			return refuse("read together", t.ask.Channel, "Correct what is asked for.", err)
		}
		if t.channel.adc != nil {
			u.Interval = min(max(u.Within/intervalsPerWait, fastest(t.channel)), longestInterval)
		}
		s, err := r.stream(ctx, t.channel, u.Expect.SI, u.Interval)
		if err != nil {
			return err
		}
		t.waiter = &waiter{Until: u, stream: s, entry: r.entered, points: make([]point, 0, u.Hold/s.interval+fewestSteady), begun: -1}
		t.later(s.interval)
		return nil
	}
	w := t.waiter
	p, err := w.stream.next(ctx)
	if err != nil {
		return err
	}
	w.take(p)
	t.later(w.stream.interval)
	if !w.over {
		return nil
	}
	got := r.waited(w)
	first := w.begun
	if !w.met {
		first = w.within(seconds(5 / max(r.wiring.Mains.SI, 1)))
	}
	t.from, t.at, t.first = w.points[first].from, p.at, w.points[first].at
	t.answer, t.done = Answer{Reading: got.Reading, Met: got.Met}, true
	return w.stream.stop()
}

func (t *task) stepCurrent(ctx context.Context) error {
	if t.stream == nil {
		s, err := t.rig.stream(ctx, t.channel, 0, 0)
		if err != nil {
			return err
		}
		t.stream = s
		t.later(s.interval)
		return nil
	}
	p, err := t.stream.next(ctx)
	if err != nil {
		return err
	}
	t.later(t.stream.interval)
	if t.points = append(t.points, p); len(t.points) < max(1, t.ask.Periods) {
		return nil
	}
	t.from, t.at = t.points[0].from, p.at
	t.answer, t.done = Answer{Reading: t.rig.reading(t.stream, t.points), Met: true}, true
	return nil
}

// stepVoltage is readVoltage in steps.
func (t *task) stepVoltage(ctx context.Context) error {
	r, c := t.rig, t.channel
	if t.started {
		return t.convert(ctx)
	}
	rng, err := r.firstRange(ctx, c, t.ask.ReadOptions)
	if err != nil {
		return err
	}
	if t.window = r.window(c, t.ask.ReadOptions); t.window > 0 {
		t.rng = rng
		return t.start(ctx)
	}
	t.from = r.Now()
	got, _, err := r.readIn(ctx, c, rng, t.ask.ReadOptions)
	t.at = r.Now()
	t.answer, t.done = Answer{Reading: got, Met: true}, true
	return err
}

func (t *task) start(ctx context.Context) error {
	t.started, t.sum = true, stats{step: t.rng.LSB().SI, conversion: t.channel.budget.noise}
	if err := t.channel.adc.dev.Start(ctx, t.channel.input, t.rng, averaging); err != nil {
		return chipFault("start converting", t.channel.adc.spec.Name, err)
	}
	t.later(averaging.Period())
	return nil
}

// convert takes one conversion of a window; a range that does not hold the
// value is widened and the window begins anew.
func (t *task) convert(ctx context.Context) error {
	c := t.channel
	got, err := c.adc.dev.Next(ctx)
	if err != nil {
		return chipFault("read a conversion", c.adc.spec.Name, err)
	}
	p := adcPoint(got)
	t.later(averaging.Period())
	if err := t.rig.watched(c, &c.budget, p.raw); err != nil {
		return err
	}
	if t.sum.n == 0 {
		t.from = p.from
	}
	t.at = p.at
	t.sum.add(p.raw)
	t.sum.low, t.sum.high = t.sum.low || p.low, t.sum.high || p.high
	if (t.sum.low || t.sum.high) && t.rng > c.rangeFor(0) {
		t.rng--
		return t.start(ctx)
	}
	if t.sum.n < 2 || t.at-t.from < t.window-averaging.Period()/2 {
		return nil
	}
	m := t.rig.mean(c, &c.budget, &t.sum)
	c.last, c.lastIn, c.known = t.sum.mean, t.rig.entered, true
	t.answer = Answer{Met: true, Reading: Reading{
		Channel: c.spec.Name, Value: m, At: t.from + (t.at-t.from)/2, Saturated: m.Bound != quantity.Exact,
	}}
	t.done = true
	return c.adc.stop()
}

// level tells whether the samples from one to another stay within the band.
func (w *waiter) level(first, last int) bool {
	window := w.points[first : last+1]
	sum := w.stream.stats(window)
	mean := w.stream.budget.value(sum.mean)
	band := max(w.Band*math.Abs(mean), w.stream.budget.floor(w.stream.step))
	for _, p := range window {
		if math.Abs(w.stream.value(p)-mean) > band {
			return false
		}
	}
	return true
}
