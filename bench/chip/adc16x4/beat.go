package adc16x4

import (
	"math"
	"time"
)

// oscillator is what is known of a chip's oscillator: for each rate, between
// which lengths one conversion lies. It starts at the data sheet's ±10 % and is
// learned from the instants at which codes changed.
type oscillator [SPS860 + 1]span

// span is an interval of time, ends included.
type span struct{ least, most time.Duration }

// width is how much is not known.
func (s span) width() time.Duration { return s.most - s.least }

// bounds are those of the data sheet (SBASAV5: the rate varies by ±10 %).
func (r Rate) bounds() span { return span{r.Period() * 10 / 11, r.Longest()} }

// wander is how far the oscillator may move from one conversion to another, and
// while no stream runs: 0.2 %. The data sheet is silent; common practice for
// RC oscillators on a chip, some 0.01 % a kelvin, times 20 K.
const wander = 500

// of returns the length of a conversion at a rate.
func (o *oscillator) of(r Rate) span {
	if p, ok := o.known(r); ok {
		return p
	}
	return r.bounds()
}

// known returns the length of a conversion at a rate where it was learned, with
// room for what the oscillator may have wandered since.
func (o *oscillator) known(r Rate) (span, bool) {
	p := o[r]
	if p.most == 0 {
		return span{}, false
	}
	all, room := r.bounds(), r.Period()/wander
	return span{max(p.least-room, all.least), min(p.most+room, all.most)}, true
}

// beat follows the ends of the conversions of one stream. Every bound in it is
// proved by what was seen before, none is a guess.
type beat struct {
	rate   Rate
	period span
	// end is that of the conversion delivered last; before the first, the
	// start of the first.
	end span
	// anchor is the end so many conversions earlier.
	anchor span
	after  int64
	// reading is how long the last reading took.
	reading time.Duration
	// mute: the last conversion had the code of the one before.
	mute bool
}

// begin returns the beat of a stream that starts between two instants.
func (o *oscillator) begin(r Rate, from, to time.Duration) beat {
	start := span{from, to}
	return beat{rate: r, period: o.of(r), end: start, anchor: start}
}

// next is when the next conversion ends.
func (b *beat) next() span { return span{b.end.least + b.period.least, b.end.most + b.period.most} }

// certain is when the next conversion has ended whatever the oscillator does.
func (b *beat) certain() time.Duration { return b.next().most }

// over is when the conversion that runs at an instant has ended for certain. Those
// that ended since the last one was delivered were as short as can be.
func (b *beat) over(now time.Duration) time.Duration {
	missed := max(0, (now-b.end.least)/b.period.least)
	return min(b.end.most+(missed+1)*b.period.most, now+b.period.most)
}

// look is when to look first: when it is certain; or, where codes change and
// tell of it, in the middle of what is not known, as long as that is more than a
// sixteenth of a period beyond what a reading takes. Own choice: one look in some
// fifteen is then one too many. At the end of a stretch it is so early that
// nothing may have changed yet: what did would prove the rest wrong.
func (b *beat) look() time.Duration {
	next := b.next()
	switch w := next.width(); {
	case b.after >= stretch:
		return next.least - 2*b.reading
	case !b.mute && w > b.rate.Period()/16+b.reading:
		return next.least + w/2
	}
	return next.most
}

// stretch is over how many conversions a period is measured: what is learned
// of the oscillator is not older. Own choice.
const stretch = 128

// beforeAll is an instant before any other.
const beforeAll = time.Duration(math.MinInt64 / 2)

// heard takes in that a reading between began and at delivered another
// conversion, and that a look which began at unchanged had found none.
func (b *beat) heard(o *oscillator, unchanged, began, at time.Duration) {
	b.reading = at - began
	most := int64((at - b.end.least) / b.period.least)
	least := max(1, int64((began-b.end.most)/b.period.most))
	if most > least {
		// One or more were missed, nobody knows how many: the last one ended
		// within a period before the reading.
		b.end = span{began - b.period.most, at}
		b.anchor, b.after = b.end, 0
		return
	}
	n := time.Duration(least)
	end := span{b.end.least + n*b.period.least, min(b.end.most+n*b.period.most, at)}
	if n == 1 {
		end.least = max(end.least, unchanged)
	}
	if end.least > end.most {
		b.forget(o, began, at)
		return
	}
	b.end = end
	if b.after >= stretch {
		b.anchor, b.after, b.period = end, 0, o.of(b.rate)
		return
	}
	b.after += least
	b.learn(o)
}

// learn narrows the period by the distance from the anchor.
func (b *beat) learn(o *oscillator) {
	n := time.Duration(b.after)
	p := span{
		max(b.period.least, (b.end.least-b.anchor.most)/n),
		min(b.period.most, (b.end.most-b.anchor.least)/n+1),
	}
	if p.least > p.most {
		b.forget(o, b.end.most, b.end.most)
		return
	}
	if p.width() >= b.rate.Period()/wander {
		b.period = p
	}
	o[b.rate] = p
}

// forget begins anew where the oscillator has done what it should not: it moved
// by more than it may wander.
func (b *beat) forget(o *oscillator, began, at time.Duration) {
	o[b.rate] = span{}
	b.period = b.rate.bounds()
	b.end = span{began - b.period.most, at}
	b.anchor, b.after = b.end, 0
}

// began is the first instant that the conversion delivered last can have
// integrated, in a stream that started no earlier than start.
func (b *beat) began(start time.Duration) time.Duration {
	return max(b.end.least-b.period.most, start)
}
