package takt

import (
	"context"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
	"sinkproof/scenarios"
)

// watchedBench tells the watch what the bench is asked to do. What it does is
// the bench's.
type watchedBench struct {
	scenarios.Bench
	w *Watch
}

func (b *watchedBench) move(f func() error) error {
	b.w.begin(moving)
	from := b.w.clock.Now()
	err := f()
	b.w.fill(b.w.clock.Now(), b.w.phase)
	b.w.doing = nothing
	if b.w.way {
		b.w.way = false
		b.w.present().Way += b.w.clock.Now() - from
	}
	return err
}

// Begin implements scenarios.Bench.
func (b *watchedBench) Begin(ctx context.Context) error {
	return b.move(func() error { return b.Bench.Begin(ctx) })
}

// Enter implements scenarios.Bench.
func (b *watchedBench) Enter(ctx context.Context, s wiring.Setting) error {
	return b.move(func() error { return b.Bench.Enter(ctx, s) })
}

// Safe implements scenarios.Bench.
func (b *watchedBench) Safe() error { return b.move(b.Bench.Safe) }

// Do implements scenarios.Bench. What comes after f is the way to the end.
func (b *watchedBench) Do(f func() error) error {
	err := b.Bench.Do(func() error {
		err := f()
		b.w.At(scenarios.Stage{Name: Isolated}, "")
		b.w.begin(moving)
		return err
	})
	b.w.fill(b.w.clock.Now(), b.w.phase)
	b.w.doing = nothing
	return err
}

func (b *watchedBench) probe(ctx context.Context, f func(context.Context) (bench.Presence, error)) (bench.Presence, error) {
	b.w.begin(probing)
	p, err := f(ctx)
	b.w.fill(b.w.clock.Now(), b.w.phase)
	b.w.doing, b.w.way = nothing, false
	return p, err
}

// Empty implements scenarios.Bench.
func (b *watchedBench) Empty(ctx context.Context) (bench.Presence, error) {
	return b.probe(ctx, b.Bench.Empty)
}

// Probe implements scenarios.Bench.
func (b *watchedBench) Probe(ctx context.Context) (bench.Presence, error) {
	return b.probe(ctx, b.Bench.Probe)
}

// Read implements scenarios.Bench.
func (b *watchedBench) Read(ctx context.Context, channel string, o bench.ReadOptions) (bench.Reading, error) {
	b.w.begin(measuring)
	got, err := b.Bench.Read(ctx, channel, o)
	b.w.measured(b.w.windows(channel, o))
	return got, err
}

// ReadTogether implements scenarios.Bench: the longest of what the chips take
// counts, and what they cannot take side by side.
func (b *watchedBench) ReadTogether(ctx context.Context, asks []bench.Ask) ([]bench.Answer, error) {
	b.w.begin(measuring)
	got, err := b.Bench.ReadTogether(ctx, asks)
	lanes, alone := map[string]time.Duration{}, time.Duration(0)
	for _, a := range asks {
		c, _ := b.w.rig.Channel(a.Channel)
		switch window := b.w.windows(a.Channel, a.ReadOptions); {
		case a.Band > 0:
			lanes[a.Channel] += b.w.periods(steadyPeriods)
			b.w.settled()
		case c != nil && c.Kind == wiring.TerminationChannel:
			alone += window
		case c != nil:
			lanes[c.Chip] += window
		}
	}
	longest := time.Duration(0)
	for _, lane := range lanes {
		longest = max(longest, lane)
	}
	b.w.measured(longest + alone)
	return got, err
}

// settled gives what was not steady yet in a reading that is over its cause: all
// but the five periods in whole results of a current monitor.
func (w *Watch) settled() {
	meter, hold := bench.OwnPace().Meter, w.periods(steadyPeriods)
	whole := (hold + meter - 1) / meter * meter
	w.fill(max(w.cursor, w.clock.Now()-whole), Settling)
}

// steadyPeriods is how long a channel must be steady (bench.Until, Hold).
const steadyPeriods = 5

// Wait implements scenarios.Bench.
func (b *watchedBench) Wait(ctx context.Context, u bench.Until) (bench.Waited, error) {
	w := b.w
	w.begin(measuring)
	got, err := b.Bench.Wait(ctx, u)
	now := w.clock.Now()
	waiting, holding, hold := Supply, Holding, u.Hold
	switch u.Relation {
	case bench.AtMost:
		waiting = Release
	case bench.Steady:
		waiting, holding = Settling, Mains
		if hold == 0 {
			hold = w.periods(steadyPeriods)
		}
	}
	if err != nil || !got.Met {
		w.fill(now, waiting)
	} else {
		w.fill(got.At, waiting)
		w.fill(min(now, got.At+hold), holding)
		w.fill(now, Conversion)
	}
	w.doing = nothing
	return got, err
}

// Capture implements scenarios.Bench.
func (b *watchedBench) Capture(ctx context.Context, c bench.Capture) (bench.Waveform, error) {
	b.w.begin(measuring)
	got, err := b.Bench.Capture(ctx, c)
	b.w.fill(b.w.clock.Now(), Holding)
	b.w.doing = nothing
	return got, err
}

// measured gives a reading that is over its causes: contacts that still moved,
// the window at its end, and what the chip needed beside it.
func (w *Watch) measured(window time.Duration) {
	now := w.clock.Now()
	if _, sampling := w.step.(scenarios.Sample); sampling {
		w.fill(now, Holding)
		w.doing = nothing
		return
	}
	if w.first > w.cursor {
		w.fill(w.first, Relays)
	}
	w.fill(max(w.cursor, now-window), Conversion)
	w.fill(now, Mains)
	w.doing = nothing
}

// windows is how long a reading integrates over whole mains periods.
func (w *Watch) windows(channel string, o bench.ReadOptions) time.Duration {
	c, ok := w.rig.Channel(channel)
	if !ok {
		return 0
	}
	n := 1
	if c.Kind == wiring.TerminationChannel {
		// Pin and rail, one after the other.
		if c, ok = w.rig.Channel(c.Volts); !ok {
			return 0
		}
		n = 2
	}
	periods := o.Periods
	if periods == 0 && c.MainsAverage {
		periods = 1
	}
	return time.Duration(n) * w.periods(max(periods, 0))
}

// periods is the time of some mains periods.
func (w *Watch) periods(n int) time.Duration {
	if w.rig.Mains.SI <= 0 {
		return 0
	}
	return time.Duration(float64(n) / w.rig.Mains.SI * float64(time.Second))
}
