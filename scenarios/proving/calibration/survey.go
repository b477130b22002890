package calibration

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
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
	// Range is that of a current channel in the setting, or the pull-up of a
	// termination, which is compared itself; empty for all others.
	Range   string
	Setting wiring.Setting
	// Reads is what the channel read there in the survey, in SI; 0 where the
	// point was named and not surveyed.
	Reads float64
}

// Channels are the channels that are compared where none is named: the voltages
// that a run reads, which are those that average over the mains.
func Channels(w *wiring.Rig) []string {
	var names []string
	for i := range w.Channels {
		if c := &w.Channels[i]; c.Kind == wiring.VoltageChannel && c.MainsAverage {
			names = append(names, c.Name)
		}
	}
	return names
}

// All are the channels that can be compared: voltages, currents, temperatures and
// terminations, whose pull-ups are.
func All(w *wiring.Rig) []string {
	var names []string
	for i := range w.Channels {
		if c := &w.Channels[i]; compares(c) {
			names = append(names, c.Name)
		}
	}
	return names
}

func compares(c *wiring.Channel) bool {
	switch c.Kind {
	case wiring.VoltageChannel, wiring.CurrentChannel, wiring.TemperatureChannel, wiring.TerminationChannel:
		return true
	}
	return false
}

// Dim is the dimension of what a channel that can be compared reads.
func Dim(c *wiring.Channel) quantity.Dim {
	switch c.Kind {
	case wiring.CurrentChannel:
		return quantity.Current
	case wiring.TemperatureChannel:
		return quantity.Temperature
	case wiring.TerminationChannel:
		return quantity.Resistance
	}
	return quantity.Voltage
}

// Pulls are the points of a termination: one for each of its pull-ups, which the
// reference measures while the rig is isolated.
func Pulls(c *wiring.Channel) []Point {
	var list []Point
	for _, p := range c.Pulls {
		list = append(list, Point{Channel: c, Range: p.Part, Setting: wiring.Setting{Condition: bench.Isolated}})
	}
	return list
}

// Named returns the point of a channel and a state by their names, as
// wiring.Setting prints it; of a termination the name of the pull-up stands in
// place of the state. It wraps wiring.ErrUnknown.
func Named(w *wiring.Rig, channel, state string) (Point, error) {
	c, ok := w.Channel(channel)
	if !ok || !compares(c) {
		return Point{}, fmt.Errorf("channel that can be compared %q: %w", channel, wiring.ErrUnknown)
	}
	if c.Kind == wiring.TerminationChannel {
		for _, p := range Pulls(c) {
			if p.Range == state {
				return p, nil
			}
		}
		return Point{}, fmt.Errorf("pull-up %q: %w", state, wiring.ErrUnknown)
	}
	for _, k := range w.Conditions {
		for _, s := range w.Settings(k.Name) {
			if s.String() == state {
				return pointOf(w, c, s)
			}
		}
	}
	return Point{}, fmt.Errorf("state %q: %w", state, wiring.ErrUnknown)
}

// pointOf finds the range that a channel has in a setting.
func pointOf(w *wiring.Rig, c *wiring.Channel, s wiring.Setting) (Point, error) {
	p := Point{Channel: c, Setting: s}
	if c.Kind != wiring.CurrentChannel {
		return p, nil
	}
	state, err := w.Expand(s)
	if err != nil {
		return p, err
	}
	for _, g := range c.Ranges {
		if g.Relay == "" || state.Holds(g.Relay) != g.Off {
			p.Range = g.Name
			return p, nil
		}
	}
	return p, fmt.Errorf("channel %s has no range in %s: %w", c.Name, s, wiring.ErrUnknown)
}

// State names the place of the point, as Named takes it.
func (p Point) State() string {
	if p.Channel.Kind == wiring.TerminationChannel {
		return p.Range
	}
	return p.Setting.String()
}

// Shunt is the part that the current of a point flows through; empty for other
// channels.
func (p Point) Shunt(w *wiring.Rig) string {
	for _, g := range p.Channel.Ranges {
		if g.Name != p.Range {
			continue
		}
		if chip, ok := w.Chip(g.Chip); ok {
			return chip.Shunt
		}
	}
	return ""
}

// same tells whether two points are of one line.
func (p Point) same(q Point) bool { return p.Channel == q.Channel && p.Range == q.Range }

// Survey leads a rig through its self-test states and chooses for each channel,
// and each range of a current, up to five in which what it reads differs most:
// those of the empty nest, and of a current those with the check receptacle as
// well, whose loads reach far up its ranges. The hands seat the receptacle; nil
// leaves it out. The rig must be open without a calibration. It wraps
// bench.ErrOccupied, wiring.ErrUnknown for a channel that cannot be compared, or
// what the rig or the hands say.
func Survey(ctx context.Context, rig *bench.Rig, channels []string, hands Hands) ([]Point, error) {
	w := rig.Wiring()
	loads := false
	for _, name := range channels {
		p, err := Named(w, name, bench.Isolated)
		if err != nil {
			return nil, fmt.Errorf("survey: %w", err)
		}
		loads = loads || p.Channel.Kind == wiring.CurrentChannel
	}
	n := nest{rig: rig, hands: hands}
	if err := n.empty(ctx); err != nil {
		return nil, err
	}
	list := states(w, false)
	if loads && hands != nil && len(w.Nest.Check) > 0 {
		list = append(list, powered(w, states(w, true))...)
	}
	seen, err := survey(ctx, &n, channels, list)
	if err != nil {
		return nil, errors.Join(err, rig.Safe())
	}
	var plan []Point
	for _, list := range seen {
		for len(list) > 0 {
			first := list[0]
			var one, rest []Point
			for _, p := range list {
				if p.same(first) {
					one = append(one, p)
				} else {
					rest = append(rest, p)
				}
			}
			plan, list = append(plan, spread(one)...), rest
		}
	}
	return plan, n.leave(ctx)
}

// survey is what the channels read in the states in which they stand still.
func survey(ctx context.Context, n *nest, channels []string, list []wiring.Setting) ([][]Point, error) {
	w := n.rig.Wiring()
	seen := make([][]Point, len(channels))
	for _, s := range list {
		if err := n.ready(ctx, s); err != nil {
			return nil, err
		}
		stood, err := stand(ctx, n.rig, s, channels)
		if err != nil {
			return nil, fmt.Errorf("survey %s: %w", s, err)
		}
		for i, v := range stood {
			if math.IsNaN(v) {
				continue
			}
			p, err := Named(w, channels[i], s.String())
			if err != nil {
				return nil, fmt.Errorf("survey: %w", err)
			}
			p.Reads = v
			seen[i] = append(seen[i], p)
		}
	}
	return seen, nil
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

// states are the settings that a rig has without a unit: in an empty nest, or with
// the check receptacle.
func states(w *wiring.Rig, seated bool) []wiring.Setting {
	var list []wiring.Setting
	if !seated {
		list = append(list, wiring.Setting{Condition: bench.Isolated})
	}
	for _, c := range w.Conditions {
		if strings.HasPrefix(c.Name, selfTest) && withReceptacle(c.Name) == seated {
			list = append(list, w.Settings(c.Name)...)
		}
	}
	return list
}

// powered keeps the settings that turn a feed on.
func powered(w *wiring.Rig, list []wiring.Setting) []wiring.Setting {
	return slices.DeleteFunc(list, func(s wiring.Setting) bool {
		state, err := w.Expand(s)
		return err != nil || len(state.Feed) == 0
	})
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
			if got.Saturated || round > 0 && math.Abs(v-volts[i]) > still(got.Value.Dim, v) {
				v = math.NaN()
			}
			volts[i] = v
		}
	}
	return volts, nil
}

// still is what two readings a second apart may differ by: 0.2 % and 2 mV, 20 µA
// or 0.2 K. Own choice.
func still(dim quantity.Dim, v float64) float64 {
	switch dim {
	case quantity.Current:
		return 20e-6 + 2e-3*math.Abs(v)
	case quantity.Temperature:
		return 0.2
	}
	return 2e-3 + 2e-3*math.Abs(v)
}

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
	slices.SortStableFunc(list, func(a, b Point) int { return cmp.Compare(a.Reads, b.Reads) })
	low, high := list[0], list[len(list)-1]
	span := high.Reads - low.Reads
	if span < distance*math.Abs(high.Reads) {
		return []Point{high}
	}
	taken := []Point{low, high}
	for len(taken) < mostPoints {
		best, far := -1, distance*span
		for i, p := range list {
			near := span
			for _, q := range taken {
				near = min(near, math.Abs(p.Reads-q.Reads))
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
	slices.SortStableFunc(taken, func(a, b Point) int { return cmp.Compare(a.Reads, b.Reads) })
	return taken
}
