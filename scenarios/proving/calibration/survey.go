package calibration

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
)

// The waits of a survey: what a supply that thinks takes to decide (USB Type-C
// R2.1, Table 4-32: tCCDebounce is 200 ms at most), and how long a state must
// stand still after that, which a portable supply without load does not. Own
// choices.
const (
	settled = 400 * time.Millisecond
	steady  = time.Second
)

// Point is a place where a channel can be compared.
type Point struct {
	Channel *wiring.Channel
	Setting wiring.Setting
	// Volts is what the channel read there in the survey; 0 where the point was
	// named and not surveyed.
	Volts float64
}

// Channels are the channels that can be compared: the voltages that a run
// reads, which are those that average over the mains.
func Channels(w *wiring.Rig) []string {
	var names []string
	for i := range w.Channels {
		if c := &w.Channels[i]; c.Kind == wiring.VoltageChannel && c.MainsAverage {
			names = append(names, c.Name)
		}
	}
	return names
}

// Named returns the point of a channel and a state by their names, as
// wiring.Setting prints it. It wraps wiring.ErrUnknown.
func Named(w *wiring.Rig, channel, state string) (Point, error) {
	for i := range w.Channels {
		c := &w.Channels[i]
		if c.Name != channel || c.Kind != wiring.VoltageChannel {
			continue
		}
		for _, k := range w.Conditions {
			for _, s := range w.Settings(k.Name) {
				if s.String() == state {
					return Point{Channel: c, Setting: s}, nil
				}
			}
		}
		return Point{}, fmt.Errorf("state %q: %w", state, wiring.ErrUnknown)
	}
	return Point{}, fmt.Errorf("channel of a voltage %q: %w", channel, wiring.ErrUnknown)
}

// Survey leads an empty rig through its self-test states and chooses for each
// channel up to five in which its voltage differs most. The rig must be open
// without a calibration. It wraps
// bench.ErrOccupied, wiring.ErrUnknown for a channel that
// is no voltage, or what the rig says.
func Survey(ctx context.Context, rig *bench.Rig, channels []string) ([]Point, error) {
	w := rig.Wiring()
	seen := make([][]Point, len(channels))
	for _, name := range channels {
		if _, err := Named(w, name, bench.Isolated); err != nil {
			return nil, fmt.Errorf("survey: %w", err)
		}
	}
	if err := Empty(ctx, rig); err != nil {
		return nil, err
	}
	for _, s := range states(w) {
		stood, err := stand(ctx, rig, s, channels)
		if err != nil {
			return nil, fmt.Errorf("survey %s: %w", s, err)
		}
		for i, v := range stood {
			if !math.IsNaN(v) {
				p, err := Named(w, channels[i], s.String())
				if err != nil {
					return nil, fmt.Errorf("survey: %w", err)
				}
				p.Volts = v
				seen[i] = append(seen[i], p)
			}
		}
	}
	var plan []Point
	for _, list := range seen {
		plan = append(plan, spread(list)...)
	}
	return plan, rig.Safe()
}

// Empty proves that nothing is in the nest and nothing shorts VBUS, so that
// states with power may be entered. It wraps bench.ErrOccupied where something
// is.
func Empty(ctx context.Context, rig *bench.Rig) error {
	if _, err := rig.Empty(ctx); err != nil {
		return fmt.Errorf("look into the nest: %w", err)
	}
	rig.Pass(bench.ProbeVbus)
	return nil
}

// states are the settings that a rig has without a unit.
func states(w *wiring.Rig) []wiring.Setting {
	list := []wiring.Setting{{Condition: bench.Isolated}}
	for _, c := range w.Conditions {
		if strings.HasPrefix(c.Name, "self-test") && !strings.HasPrefix(c.Name, "self-test-seated") {
			list = append(list, w.Settings(c.Name)...)
		}
	}
	return list
}

// stand reads the channels in a state, NaN for one that does not stand still or
// is at the end of its range.
func stand(ctx context.Context, rig *bench.Rig, s wiring.Setting, channels []string) ([]float64, error) {
	if err := rig.Enter(ctx, s); err != nil {
		return nil, err
	}
	volts := make([]float64, len(channels))
	for round, wait := range []time.Duration{settled, steady} {
		if err := rig.Pause(ctx, wait); err != nil {
			return nil, err
		}
		for i, name := range channels {
			got, err := rig.Read(ctx, name, bench.ReadOptions{})
			if err != nil {
				return nil, err
			}
			v := got.Value.SI
			if got.Saturated || round > 0 && math.Abs(v-volts[i]) > still+still*math.Abs(v) {
				v = math.NaN()
			}
			volts[i] = v
		}
	}
	return volts, nil
}

// Two readings a second apart that differ by less than 2 mV and 0.2 % stand
// still. Own choice.
const still = 2e-3

// The most points of a channel, and the least distance between two as a part of
// their span. Own choices.
const (
	mostPoints = 5
	distance   = 0.04
)

// spread chooses points far from each other: the lowest, the highest, then
// always the one that is farthest from those taken. Where all lie together one
// is left.
func spread(list []Point) []Point {
	if len(list) == 0 {
		return nil
	}
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b Point) int { return cmp.Compare(a.Volts, b.Volts) })
	low, high := list[0], list[len(list)-1]
	span := high.Volts - low.Volts
	if span < distance*math.Abs(high.Volts) {
		return []Point{high}
	}
	taken := []Point{low, high}
	for len(taken) < mostPoints {
		best, far := -1, distance*span
		for i, p := range list {
			near := span
			for _, q := range taken {
				near = min(near, math.Abs(p.Volts-q.Volts))
			}
			if near > far {
				best, far = i, near
			}
		}
		if best < 0 {
			break
		}
		taken = append(taken, list[best])
	}
	slices.SortStableFunc(taken, func(a, b Point) int { return cmp.Compare(a.Volts, b.Volts) })
	return taken
}
