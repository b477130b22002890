package scenarios

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

// reading implements values.
func (r *run) reading(name string) (quantity.Measured, error) {
	x, ok := r.results[name]
	switch {
	case !ok:
		return quantity.Measured{}, fmt.Errorf("%s: %w", name, errMissing)
	case x.missing != "":
		return quantity.Measured{}, fmt.Errorf("%s: %s: %w", name, x.missing, errMissing)
	}
	return x.value, nil
}

// channel implements values; checks read channels through a reader of their
// own, because a reading needs a name.
func (r *run) channel(name string) (quantity.Measured, error) {
	return quantity.Measured{}, fmt.Errorf("channel %s: %w", name, errMissing)
}

// store keeps a reading under its name, for the run and for the record.
func (r *run) store(name string, x result, channel string, at time.Duration) error {
	r.results[name] = x
	v, err := record.ValueOf(x.value)
	if err != nil {
		return fmt.Errorf("reading %s: %w", name, err)
	}
	r.keep(record.Read{Reading: record.Reading{
		Name: name, Channel: channel, Condition: r.condition(), Value: v, AtUS: r.us(at),
		Contributions: record.ContributionsOf(x.value.Parts),
	}})
	return nil
}

func (r *run) condition() string {
	if r.job.Relays == nil {
		return ""
	}
	return r.job.Relays.condition
}

// measure takes a step that is neither check nor reseat.
func (r *run) measure(ctx context.Context, step Step) error {
	switch s := step.(type) {
	case Enter:
		return r.moveTo(ctx, s.Setting)
	case Probe:
		return r.probe(ctx, s)
	case Given:
		return r.given(s)
	case Wait:
		return r.wait(ctx, s)
	case Read:
		return r.read(ctx, s)
	case Sample:
		return r.sample(ctx, s)
	case Capture:
		w, err := r.b.Capture(ctx, bench.Capture{Channel: s.Channel, For: s.Over, Interval: s.Interval, Expect: s.Expect})
		if err != nil {
			return err
		}
		return r.wave(s.Name, s.Title, w, s.Thresholds, nil)
	}
	return fmt.Errorf("step %s: %T is no measurement", step.Label(), step)
}

// given takes a value from the job. One that is missing, or of another
// dimension, leaves open what rests on it.
func (r *run) given(s Given) error {
	q, ok := r.job.Given[s.Name]
	if !ok || q.Dim != s.Dim {
		r.remark("given", fmt.Sprintf("%s (%s) was not given", s.Title, s.Name))
		return nil
	}
	// A rectangular distribution of half-width U (JCGM 100:2008, 4.3.7).
	m := quantity.NewMeasured(q, quantity.Contribution{
		Source: "given " + s.Name, Std: s.U.SI / math.Sqrt(3), Sens: 1, Dist: "uniform",
	})
	return r.store(s.Name, result{value: m}, "given", r.b.Now())
}

func (r *run) wait(ctx context.Context, s Wait) error {
	w, err := r.b.Wait(ctx, bench.Until{
		Channel: s.Channel, Relation: s.Relation, Level: s.Level, Band: s.Band,
		Hold: s.Hold, Within: s.Within, Origin: s.Origin, Mark: s.Mark, Keep: s.Keep,
	})
	if err != nil {
		return err
	}
	if err := r.store(s.Name, result{value: w.Since}, s.Channel, w.At); err != nil {
		return err
	}
	if err := r.store(s.Name+".value", result{value: w.Reading.Value}, s.Channel, w.Reading.At); err != nil {
		return err
	}
	if !s.Keep {
		return nil
	}
	var marks []record.Mark
	if w.Met {
		marks = []record.Mark{{Label: "reached", AtUS: r.us(w.At)}}
	}
	return r.wave(s.Name, s.Title, w.Wave, s.Thresholds, marks)
}

func (r *run) read(ctx context.Context, s Read) error {
	if s.Band == 0 {
		x, err := r.b.Read(ctx, s.Channel, bench.ReadOptions{Expect: s.Expect, Periods: s.Periods})
		if err != nil {
			return err
		}
		return r.store(s.Name, result{value: x.Value}, s.Channel, x.At)
	}
	w, err := r.b.Wait(ctx, bench.Until{Channel: s.Channel, Relation: bench.Steady, Band: s.Band, Within: r.within(s), Expect: s.Expect})
	if err != nil {
		return err
	}
	return r.store(s.Name, steadied(s, w.Reading, w.Met), s.Channel, w.Reading.At)
}

// within is how long a reading may take to settle. The bench counts from the
// entry; the reading counts from its own step, because a supply may have taken
// its time before.
func (r *run) within(s Read) time.Duration { return s.Within + r.b.Now() - r.b.Entered() }

// steadied is a reading that says where it should have been steady and was not.
func steadied(s Read, got bench.Reading, met bool) result {
	x := result{value: got.Value}
	if s.Band > 0 && !met {
		x.unsettled = fmt.Sprintf("%s did not stay within %s for five mains periods within %s; its mean was %s",
			s.Channel, quantity.Pure(s.Band).Percent(), s.Within, got.Value)
	}
	return x
}

// sample reads a channel again and again; every value carries its own
// uncertainty, and what they share stays shared in the mean.
func (r *run) sample(ctx context.Context, s Sample) error {
	room := 1
	if s.Every > 0 {
		room = int(s.Over/s.Every) + 1
	}
	all := make([]quantity.Measured, 0, room)
	wave := bench.Waveform{Channel: s.Channel, Interval: s.Every, Samples: make([]bench.Sample, 0, room)}
	begin := r.b.Now()
	for {
		x, err := r.b.Read(ctx, s.Channel, bench.ReadOptions{Expect: s.Expect})
		if err != nil {
			return err
		}
		all = append(all, x.Value)
		wave.Dim = x.Value.Dim
		wave.Samples = append(wave.Samples, bench.Sample{At: x.At, Value: x.Value.SI})
		if err := r.pause(ctx, s, begin, len(all)); err != nil {
			return err
		}
		if r.b.Now()-begin >= s.Over {
			break
		}
	}
	if err := r.summarise(s, all, wave.Samples[len(all)-1].At); err != nil {
		return err
	}
	if wave.Interval == 0 {
		wave.Interval = max(time.Microsecond, (r.b.Now()-begin)/time.Duration(len(all)))
	}
	return r.wave(s.Name, s.Title, wave, s.Thresholds, nil)
}

// pause waits for the next sample by watching the channel, so that the guard
// is served and the rig's own clock decides.
func (r *run) pause(ctx context.Context, s Sample, begin time.Duration, taken int) error {
	next := begin + time.Duration(taken)*s.Every
	rest := next - r.b.Now()
	if s.Every == 0 || rest <= 0 || next >= begin+s.Over {
		return nil
	}
	_, err := r.b.Capture(ctx, bench.Capture{Channel: s.Channel, For: rest, Expect: s.Expect})
	return err
}

func (r *run) summarise(s Sample, all []quantity.Measured, at time.Duration) error {
	for _, part := range []struct {
		name string
		of   func(...quantity.Measured) (quantity.Measured, error)
	}{{"min", quantity.Min}, {"max", quantity.Max}, {"mean", quantity.Mean}} {
		m, err := part.of(all...)
		if err != nil {
			// Samples that are bounded on both sides have no mean; whoever
			// asks for it gets no answer.
			continue
		}
		if err := r.store(s.Name+"."+part.name, result{value: m}, s.Channel, at); err != nil {
			return err
		}
	}
	return nil
}

// wave keeps a waveform for the report.
func (r *run) wave(name, title string, w bench.Waveform, levels []Threshold, marks []record.Mark) error {
	if len(w.Samples) == 0 {
		return nil
	}
	unit, err := record.Unit(w.Dim)
	if err != nil {
		return fmt.Errorf("waveform %s: %w", name, err)
	}
	out := record.Waveform{
		Name: name, Title: title, Channel: w.Channel, Unit: unit,
		StartUS: r.us(w.Samples[0].At), IntervalUS: max(1, w.Interval.Microseconds()), Marks: marks,
		Samples: make([]float64, len(w.Samples)),
	}
	at, even := make([]int64, len(w.Samples)), true
	for i, s := range w.Samples {
		at[i], out.Samples[i] = r.us(s.At), s.Value
		even = even && at[i] == out.StartUS+int64(i)*out.IntervalUS
	}
	if !even {
		out.AtUS = at
	}
	out.Thresholds = slices.Grow(out.Thresholds, len(levels))
	for _, l := range levels {
		out.Thresholds = append(out.Thresholds, record.Threshold{Label: l.Title, Value: l.Level.SI})
	}
	r.keep(record.Captured{Waveform: out})
	return nil
}
