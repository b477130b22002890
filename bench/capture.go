package bench

import (
	"context"
	"fmt"
	"time"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/quantity"
)

// Capture asks for a waveform of one channel from now on.
type Capture struct {
	Channel string
	For     time.Duration
	// Interval is the longest time between two samples; zero means as fast as
	// the chip can, and a shorter interval than that is refused. The waveform
	// names the interval that was taken.
	Interval time.Duration
	// Expect is the largest value expected, as in ReadOptions; zero takes the
	// channel's highest value. A capture cannot change its range midway.
	Expect quantity.Quantity
}

// Capture samples one channel from now on.
func (r *Rig) Capture(ctx context.Context, c Capture) (Waveform, error) {
	if err := r.begin(ctx); err != nil {
		return Waveform{}, err
	}
	got, err := r.capture(ctx, c)
	if err = r.end(err); err != nil {
		return Waveform{}, err
	}
	return got, nil
}

func (r *Rig) capture(ctx context.Context, o Capture) (Waveform, error) {
	c, err := r.channel(o.Channel)
	if err != nil {
		return Waveform{}, err
	}
	if o.For <= 0 {
		return Waveform{}, refuse("capture", o.Channel, "Name a time above zero.", fmt.Errorf("a capture of %s", o.For))
	}
	s, err := r.stream(ctx, c, o.Expect.SI, o.Interval)
	if err != nil {
		return Waveform{}, err
	}
	points, err := r.until(ctx, s, r.points[:0], r.Now()+o.For, nil)
	if err != nil {
		return Waveform{}, err
	}
	return s.wave(points), s.stop()
}

// until samples until an instant, or until stop says so.
func (r *Rig) until(ctx context.Context, s *stream, points []point, end time.Duration, stop func([]point) bool) ([]point, error) {
	for {
		p, err := s.next(ctx)
		if err != nil {
			return nil, err
		}
		points = append(points, p)
		r.points = points
		if p.at >= end || stop != nil && stop(points) {
			return points, nil
		}
	}
}

// wave copies points into a waveform in SI. A sample stands at the middle of
// the time that it was integrated over.
func (s *stream) wave(points []point) Waveform {
	w := Waveform{Channel: s.channel.spec.Name, Dim: s.channel.dim, Interval: s.interval, Samples: make([]Sample, len(points))}
	for i, p := range points {
		w.Samples[i] = Sample{At: p.from + (p.at-p.from)/2, Value: s.value(p)}
	}
	return w
}

// fastest is the shortest interval that a channel can be sampled at.
func fastest(c *channel) time.Duration {
	if c.adc != nil {
		return adc16x4.SPS860.Period()
	}
	return 0
}
