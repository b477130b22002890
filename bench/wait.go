package bench

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"sinkproof/bench/quantity"
)

// Relation compares a channel with a level.
type Relation string

// The relations that a wait knows.
const (
	AtLeast Relation = "at least"
	AtMost  Relation = "at most"
	// Steady holds when the channel stays within a relative band around its
	// mean over the whole hold.
	Steady Relation = "steady"
)

// Comparison is what a channel can be at an instant.
type Comparison struct {
	Relation Relation // AtLeast or AtMost
	Level    quantity.Quantity
}

// holds tells whether a value compares as asked.
func (c Comparison) holds(v float64) bool {
	if c.Relation == AtLeast {
		return v >= c.Level.SI
	}
	return v <= c.Level.SI
}

// check refuses what cannot be compared with a channel.
func (c Comparison) check(dim quantity.Dim) error {
	if c.Relation != AtLeast && c.Relation != AtMost {
		return fmt.Errorf("relation %q, known are %q and %q", c.Relation, AtLeast, AtMost)
	}
	if c.Level.Dim != dim {
		return fmt.Errorf("level %s is no %s: %w", c.Level, dim, quantity.ErrDim)
	}
	return nil
}

// Origin is the instant that a wait counts from.
type Origin string

// The origins. A mark is a comparison on the channel that is waited for.
const (
	// FromEntry counts from the last coil write of Enter. It came somewhere
	// within its transfer.
	FromEntry Origin = ""
	// FromMark counts from the first instant since that write at which the
	// mark was true: "from VBUS below 0.8 V".
	FromMark Origin = "mark"
	// FromLastMark counts from the last instant at which the mark was true
	// before what was waited for: a rise time.
	FromLastMark Origin = "last mark"
)

// Until is what Wait waits for: a comparison on one channel that holds for a
// time, within a time.
type Until struct {
	Channel string
	// Relation and Level are what must be true. With Steady the level is
	// not used and Band is the half-width of the band, relative to the mean.
	Relation Relation
	Level    quantity.Quantity
	Band     float64
	// Hold is how long it must stay true. With Steady zero means five mains
	// periods; otherwise zero asks for a single sample.
	Hold time.Duration
	// Within is the longest time from the origin to the instant at which the
	// hold begins. It must be above zero.
	Within time.Duration
	Origin Origin
	Mark   Comparison
	// Expect is the largest value expected, as in ReadOptions; zero takes the
	// channel's highest value. A wait cannot change its range midway.
	Expect quantity.Quantity
	// Interval is the longest time between two samples. Zero takes 1/75 of
	// Within, but no less than the chip can and no more than 8 ms.
	Interval time.Duration
	// Keep keeps the waveform.
	Keep bool
}

// Waited is how a wait ended. That the unit did not do what was waited for is
// an answer and no error.
type Waited struct {
	Met bool
	// Since is the time from the origin to the beginning of the hold, with
	// the uncertainty of the sample spacing that it was found between. When
	// it was not met, Since is a lower bound.
	Since quantity.Measured
	// At is the beginning of the hold, or the end of the wait.
	At time.Duration
	// Reading is the mean of the channel over the hold. When the wait was not
	// met it is the mean over the last five mains periods. With Steady its
	// uncertainty contains what the channel may still move.
	Reading Reading
	// Wave is what was sampled; empty unless Keep was set.
	Wave Waveform
}

// The interval that Wait chooses by itself: 1/75 of the time allowed, at most one
// conversion at 128 per second. Whoever allows 600 ms for an answer does not judge
// it by 4 ms, and a bus of 100 kHz has room for other nests. Own choice.
const (
	intervalsPerWait = 75
	longestInterval  = 8 * time.Millisecond
)

// Wait samples one channel until what is asked for is true, and ends as soon
// as it is. Not met within the time is an answer (Met is false), not an error.
func (r *Rig) Wait(ctx context.Context, u Until) (Waited, error) {
	if err := r.begin(ctx); err != nil {
		return Waited{}, err
	}
	got, err := r.wait(ctx, u)
	if err = r.end(err); err != nil {
		return Waited{}, err
	}
	return got, nil
}

func (r *Rig) wait(ctx context.Context, u Until) (Waited, error) {
	c, err := r.channel(u.Channel)
	if err != nil {
		return Waited{}, err
	}
	if u.Relation == Steady && u.Hold == 0 && r.wiring.Mains.SI > 0 {
		u.Hold = seconds(5 / r.wiring.Mains.SI)
	}
	if err := u.check(c.dim); err != nil {
		return Waited{}, refuse("wait", u.Channel, "Correct what is waited for.", err)
	}
	if u.Interval == 0 {
		u.Interval = min(max(u.Within/intervalsPerWait, fastest(c)), longestInterval)
	}
	if c.adc == nil {
		u.Interval = 0 // the chip's own averaging
	}
	s, err := r.stream(ctx, c, u.Expect.SI, u.Interval)
	if err != nil {
		return Waited{}, err
	}
	w := waiter{Until: u, stream: s, entry: r.entered, points: r.points[:0], begun: -1, latest: -1}
	for !w.over {
		p, err := s.next(ctx)
		if err != nil {
			return Waited{}, err
		}
		w.take(p)
	}
	r.points = w.points
	return r.waited(&w), s.stop()
}

// check refuses a wait that cannot be meant.
func (u *Until) check(dim quantity.Dim) error {
	var times, what, mark error
	if u.Within <= 0 || u.Hold < 0 {
		times = fmt.Errorf("hold %s within %s: both must be possible times", u.Hold, u.Within)
	}
	switch {
	case u.Relation != Steady:
		what = Comparison{u.Relation, u.Level}.check(dim)
	case !(u.Band > 0):
		what = fmt.Errorf("band %g: must be above 0", u.Band)
	}
	if u.Origin != FromEntry {
		mark = u.Mark.check(dim)
	}
	return errors.Join(times, what, mark)
}

// waiter follows the samples of one wait. An instant is kept as the span that
// it surely lies in.
type waiter struct {
	Until
	stream *stream
	entry  span
	points []point

	origin    span
	originSet bool
	marked    bool // the mark held at the last sample
	hold      span // when the hold began
	begun     int  // index of its first sample, -1 for none
	latest    int  // where the newest hold to be steady begins, -1 before there is one
	met, over bool
}

// span is where an instant lies: anywhere between two others.
type span struct{ lo, hi time.Duration }

func (s span) middle() time.Duration { return s.lo + (s.hi-s.lo)/2 }

// half is the half-width in seconds.
func (s span) half() float64 { return (s.hi - s.lo).Seconds() / 2 }

// take follows one more sample.
func (w *waiter) take(p point) {
	w.points = append(w.points, p)
	i := len(w.points) - 1
	since := w.entry.lo
	if i > 0 {
		since = w.points[i-1].from
	}
	v := w.stream.value(p)
	w.follow(v, span{since, p.at})
	if w.Relation == Steady {
		w.steady(i)
	} else {
		w.compare(i, v, since)
	}
	deadline := w.start().middle() + w.Within
	switch {
	case w.met:
		w.met = w.hold.middle() <= deadline
		w.over = true
	case w.Relation == Steady:
		// A hold that begins in time may end after it.
		w.over = w.latest >= 0 && w.points[w.latest].from > deadline
	case w.begun < 0 || w.hold.middle() > deadline:
		w.over = p.at > deadline
	}
}

// follow finds the origin.
func (w *waiter) follow(v float64, between span) {
	if w.Origin == FromEntry {
		return
	}
	now := w.Mark.holds(v)
	switch {
	case w.Origin == FromMark && now && !w.originSet:
		w.origin, w.originSet = between, true
	case w.Origin == FromLastMark && !now && w.marked:
		w.origin, w.originSet = between, true
	}
	w.marked = now
}

// start is the origin, or the entry while no mark was seen.
func (w *waiter) start() span {
	if w.originSet {
		return w.origin
	}
	return w.entry
}

// compare follows a comparison that must hold.
func (w *waiter) compare(i int, v float64, since time.Duration) {
	early := w.Origin == FromMark && !w.originSet
	if early || !(Comparison{w.Relation, w.Level}).holds(v) {
		w.begun = -1
		return
	}
	if w.begun < 0 {
		w.begun, w.hold = i, span{since, w.points[i].at}
	}
	w.met = w.points[i].at-w.hold.hi >= w.Hold
}

// fewestSteady is the least number of samples that a channel is called steady
// by: a slope, and one more that can gainsay it. Own choice; a slow bus has no
// more in five mains periods.
const fewestSteady = 3

// steady looks at the samples of the last hold: as many as surely span it, each
// taken for no longer than one interval before its end. Below its floor a channel
// cannot be told from one that stands still.
func (w *waiter) steady(i int) {
	first, end := i-fewestSteady+1, w.points[i].at
	for first >= 0 && end-w.points[first].at+w.stream.interval < w.Hold {
		first--
	}
	w.begun, w.latest = -1, first
	if first < 0 {
		return
	}
	window := w.points[first:]
	sum := w.stream.stats(window)
	mean := w.stream.budget.value(sum.mean)
	band := math.Max(w.Band*math.Abs(mean), w.stream.budget.floor(w.stream.step))
	for _, p := range window {
		if math.Abs(w.stream.value(p)-mean) > band {
			return
		}
	}
	w.begun, w.met = first, true
	w.hold = span{window[0].from, window[0].at}
}

// waited forms the answer.
func (r *Rig) waited(w *waiter) Waited {
	last := w.points[len(w.points)-1]
	out := Waited{Met: w.met, At: last.at}
	first := w.begun
	if w.met {
		out.At = w.hold.middle()
	} else {
		first = w.within(seconds(5 / math.Max(r.wiring.Mains.SI, 1)))
	}
	tag := r.tag(w.stream.channel)
	start := w.start()
	out.Since = quantity.Known(quantity.Seconds((out.At - start.middle()).Seconds()))
	if w.met {
		origin := "transfer of the coil write"
		if w.originSet {
			origin = "sample spacing at the origin"
		}
		end, origin := tag.causes("sample spacing", origin)
		out.Since.Parts = []quantity.Contribution{
			quantity.Uniform(end, w.hold.half(), 1), quantity.Uniform(origin, start.half(), -1)}
	} else {
		out.Since.Bound = quantity.AtLeast
	}
	if points := w.points[first:]; w.Relation == Steady {
		out.Reading = r.reading(w.stream, points, quantity.Uniform(tag.cause("still moving"), w.stream.drift(points), 1))
	} else {
		out.Reading = r.reading(w.stream, points)
	}
	if w.Keep {
		out.Wave = w.stream.wave(w.points)
	}
	return out
}

// drift is how far a value moved over some points, along the line through them
// all. A value that settles exponentially with a time constant of τ moves within
// the time T by T/τ times the distance of its mean from its end: where τ is at
// most T the mean is off by no more than it moved.
func (s *stream) drift(points []point) float64 {
	c := newCurve(len(points))
	for _, p := range points {
		// From the first on, so that what stands still gives zero on every
		// processor and not what is left of rounding.
		c.add((p.at - points[0].at).Seconds(), s.value(p)-s.value(points[0]))
	}
	if n := len(points); n > 1 {
		return math.Abs(lineAt(c).perSecond) * (c.t[n-1] - c.t[0])
	}
	return 0
}

// within is the index of the first sample of the last span d.
func (w *waiter) within(d time.Duration) int {
	i := len(w.points) - 1
	for end := w.points[i].at; i > 0 && end-w.points[i-1].from <= d; {
		i--
	}
	return i
}
