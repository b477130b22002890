package bench_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
)

func TestProbeMeasuresTheCapacitance(t *testing.T) {
	for _, c := range []struct {
		farads, load float64
		current      float64
		mostU        float64 // relative
	}{
		{0.22e-6, 100e3, 0.1e-3, 0.25},
		{1e-6, 100e3, 0.1e-3, 0.03},
		{4.7e-6, 100e3, 0.1e-3, 0.02},
		{4.7e-6, 0, 0.1e-3, 0.02},
		{4.7e-6, 22e3, 0.1e-3, 0.03},
		{10e-6, 100e3, 0.1e-3, 0.02},
		{47e-6, 100e3, 5e-3, 0.05},
		{100e-6, 1e3, 5e-3, 0.05},
		{1000e-6, 100e3, 5e-3, 0.02},
		{10000e-6, 100e3, 5e-3, 0.05},
	} {
		t.Run(fmt.Sprintf("%g µF with %g Ω", c.farads*1e6, c.load), func(t *testing.T) {
			b := newBoard(t)
			b.unit = unit{farads: c.farads, load: c.load}
			r := NewRig(t, b, bench.Options{})
			p, err := r.Probe(context.Background())
			require.NoError(t, err)
			require.True(t, p.Present, "%s", p.Capacitance.Value)
			require.False(t, p.Shorted)
			require.False(t, p.Reversed)
			require.Equal(t, c.current, p.Current.SI)
			near(t, p.Capacitance, c.farads, c.mostU*c.farads)
			require.Equal(t, quantity.Capacitance, p.Capacitance.Value.Dim)
			require.Equal(t, "probe-vbus", r.State().Setting.Condition)
			require.Less(t, b.v, 2.81)
		})
	}
}

func TestProbeSeesWhatIsThere(t *testing.T) {
	for _, c := range []struct {
		name string
		unit unit
		want bench.Presence
	}{
		{"nothing", unit{}, bench.Presence{}},
		{"a short", unit{load: 0.5, farads: 4.7e-6}, bench.Presence{Present: true, Shorted: true}},
		{"a reversed unit", unit{clamp: 0.62}, bench.Presence{Present: true, Reversed: true}},
		{"a load", unit{load: 150}, bench.Presence{Present: true, Loaded: true}},
		{"a load beside a capacitor", unit{load: 2e3, farads: 4.7e-6}, bench.Presence{Present: true, Loaded: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBoard(t)
			b.unit = c.unit
			r := NewRig(t, b, bench.Options{})
			p, err := r.Probe(context.Background())
			require.NoError(t, err)
			require.Equal(t, c.want.Present, p.Present, "present, with %s", p.Capacitance.Value)
			require.Equal(t, c.want.Shorted, p.Shorted, "shorted")
			require.Equal(t, c.want.Reversed, p.Reversed, "reversed")
			require.Equal(t, c.want.Loaded, p.Loaded, "loaded")
		})
	}
}

func TestEmptyNestReadsAtMost(t *testing.T) {
	b := newBoard(t)
	r := NewRig(t, b, bench.Options{})
	r.Pass("probe-vbus")
	p, err := r.Empty(context.Background())
	require.NoError(t, err)
	require.False(t, p.Present)
	require.Equal(t, quantity.AtMost, p.Capacitance.Value.Bound)
	require.GreaterOrEqual(t, p.Capacitance.Value.SI, 10e-9, "the board's own 10 nF")
	// A conversion in which the rise falls shows neither end: up to one of
	// 1.16 ms, a phase of 0.15 ms, and the instants' 0.25 ms as long as little is
	// known of the converter's oscillator, at 0.1 mA over 0.8 of 2.8 V.
	require.LessOrEqual(t, p.Capacitance.Value.SI, 1.56e-3*0.1e-3/(0.8*2.8))
	require.Equal(t, "isolated", r.State().Setting.Condition)
	require.False(t, r.Passed("probe-vbus"), "what the last unit passed is forgotten")
}

// A look whose bound is not tight enough, and behind which nobody is, is taken again:
// here the second one knows more of the converter's oscillator.
func TestEmptyLooksTwice(t *testing.T) {
	b := newBoard(t)
	r := NewRig(t, b, bench.Options{})
	var looks [2]float64
	for i := range looks {
		p, err := r.Empty(context.Background())
		require.NoError(t, err)
		looks[i] = p.Capacitance.Value.SI
	}
	require.Less(t, looks[1], looks[0])

	tight := *b.rig
	tight.Nest.Empty.SI = (looks[0] + looks[1]) / 2
	b = newBoard(t)
	b.rig = &tight
	p, err := NewRig(t, b, bench.Options{}).Empty(context.Background())
	require.NoError(t, err)
	require.LessOrEqual(t, p.Capacitance.Value.SI, tight.Nest.Empty.SI)
}

// What the bus cannot show is no unit.
func TestEmptyTellsAUnitFromALooseBound(t *testing.T) {
	b := newBoard(t)
	tight := *b.rig
	tight.Nest.Empty.SI = 1e-12
	b.rig = &tight
	_, err := NewRig(t, b, bench.Options{}).Empty(context.Background())
	require.ErrorIs(t, err, bench.ErrUnproved)
	require.NotErrorIs(t, err, bench.ErrOccupied)
	require.Regexp(t, `VBUS shows at most [0-9.]{3,4} nF, empty means at most 1 pF`, err.Error())
	var fault *bench.Fault
	require.ErrorAs(t, err, &fault)
	require.Contains(t, fault.Hint, "wiring file")
}

func TestEmptyRefusesASeatedUnit(t *testing.T) {
	b := newBoard(t)
	b.unit = unit{farads: 0.22e-6, load: 100e3}
	r := NewRig(t, b, bench.Options{})
	_, err := r.Empty(context.Background())
	require.ErrorIs(t, err, bench.ErrOccupied)
	require.NoError(t, r.Err())
	require.Equal(t, "isolated", r.State().Setting.Condition)
}

func TestProbeStaysBelowTheLockOutAndLeavesTheSourceOff(t *testing.T) {
	b := newBoard(t)
	b.unit = unit{farads: 47e-6, load: 100e3}
	r := NewRig(t, b, bench.Options{})
	p, err := r.Probe(context.Background())
	require.NoError(t, err)
	for _, w := range p.Waves {
		for _, s := range w.Samples {
			require.Less(t, s.Value, 2.85)
		}
	}
	require.Len(t, p.Waves, 3, "two rises and a fall")
	require.False(t, b.closed("k_pv1"))
}

func TestLeavingTheProbeReleasesItsSource(t *testing.T) {
	// 5 mA through the bleeder of 475 Ω would hold VBUS at 2.4 V for ever.
	b := newBoard(t)
	b.unit = unit{farads: 10e-6}
	r := NewRig(t, b, bench.Options{})
	ctx := context.Background()
	require.NoError(t, r.Enter(ctx, to("probe-vbus")))
	require.NoError(t, r.Enter(ctx, to("probe-vbus", "current", "5 mA")))
	require.NoError(t, r.Pause(ctx, 20*time.Millisecond))
	require.Greater(t, b.v, 2.7)
	left := b.now
	require.NoError(t, r.Enter(ctx, to("isolated")))
	require.Less(t, b.now-left, 100*time.Millisecond)
	require.Less(t, b.v, 0.8)
}

// TestProbeOfAnyUnit: whatever capacitor and load are seated, the value agrees
// within its uncertainty or is a bound that holds.
func TestProbeOfAnyUnit(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := newBoard(t)
		b.unit = unit{
			farads: rapid.Float64Range(0.15, 60).Draw(rt, "µF") * 1e-6,
			load:   rapid.Float64Range(25e3, 1e6).Draw(rt, "Ω"),
		}
		r, err := bench.Open(context.Background(), b.rig, b.hardware(), bench.Options{})
		require.NoError(rt, err)
		p, err := r.Probe(context.Background())
		require.NoError(rt, err)
		require.True(rt, p.Present)
		c := p.Capacitance.Value
		switch c.Bound {
		case quantity.AtMost:
			require.GreaterOrEqual(rt, c.SI, b.unit.farads)
		case quantity.AtLeast:
			require.LessOrEqual(rt, c.SI, b.unit.farads)
		default:
			// k = 4: a run looks at a hundred units, another hundred each time.
			require.InDelta(rt, b.unit.farads, c.SI, 4*c.Std())
		}
		require.NoError(rt, r.Close())
	})
}

// TestProbeOfABentRise: where the load takes four fifths of the probe current the
// rise bends within a few samples. Its slope is that of the samples next to the
// level; over all of them it was off by 5 %, three and a half times what it said.
func TestProbeOfABentRise(t *testing.T) {
	for i := range 20 {
		b := newBoard(t)
		b.unit = unit{farads: 0.45e-6 * (1 + 0.002*float64(i)), load: 25e3 * (1 + 0.003*float64(i))}
		r, err := bench.Open(context.Background(), b.rig, b.hardware(), bench.Options{})
		require.NoError(t, err)
		p, err := r.Probe(context.Background())
		require.NoError(t, err)
		c := p.Capacitance.Value
		require.Equal(t, quantity.Exact, c.Bound)
		require.InDelta(t, b.unit.farads, c.SI, c.U().SI)
		require.NoError(t, r.Close())
	}
}

// TestABoundHoldsOnABusOfAnySpeed: what is less than can be seen is never more
// than the bound, whatever is seated and however long transfers take.
func TestABoundHoldsOnABusOfAnySpeed(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := newBoard(t)
		b.unit = unit{farads: rapid.Float64Range(0, 1.5).Draw(rt, "µF") * 1e-6}
		r, err := bench.Open(context.Background(), b.rig, b.hardware(), bench.Options{})
		require.NoError(rt, err)
		b.drag = time.Duration(rapid.IntRange(0, 5_000).Draw(rt, "drag")) * time.Microsecond
		p, err := r.Probe(context.Background())
		if !errors.Is(err, bench.ErrSlow) {
			require.NoError(rt, err)
			if c := p.Capacitance.Value; c.Bound == quantity.AtMost {
				require.GreaterOrEqual(rt, c.SI, 0.98*b.unit.farads, "the level that is not reached counts, too")
			}
		}
		b.drag = 0
		require.NoError(rt, r.Close())
	})
}

// TestProbeOnABusOfAnySpeed: a slow bus looks rarely and does not know well
// when a conversion ended; the value agrees within its uncertainty all the same,
// k = 4 as above, and is one for every unit of 3 µF or more.
func TestProbeOnABusOfAnySpeed(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := newBoard(t)
		b.unit = unit{
			farads: rapid.Float64Range(3, 20).Draw(rt, "µF") * 1e-6,
			load:   rapid.Float64Range(50e3, 1e6).Draw(rt, "Ω"),
		}
		r, err := bench.Open(context.Background(), b.rig, b.hardware(), bench.Options{})
		require.NoError(rt, err)
		b.drag = time.Duration(rapid.IntRange(0, 4_000).Draw(rt, "drag")) * time.Microsecond
		p, err := r.Probe(context.Background())
		require.NoError(rt, err)
		require.True(rt, p.Present)
		c := p.Capacitance.Value
		require.Equal(rt, quantity.Exact, c.Bound, "%s", c)
		require.InDelta(rt, b.unit.farads, c.SI, 4*c.Std(), "%s", c)
		require.Less(rt, c.U().SI, b.unit.farads, "%s", c)
		b.drag = 0
		require.NoError(rt, r.Close())
	})
}

// TestProbeOnASlowBusIsABenchFault: where no sample falls into the rise, "at
// most infinitely much" is no answer about the unit.
func TestProbeOnASlowBusIsABenchFault(t *testing.T) {
	b := newBoard(t)
	b.unit = unit{farads: 0.15e-6, load: 100e3}
	r := NewRig(t, b, bench.Options{})
	b.drag = 8 * time.Millisecond
	p, err := r.Probe(context.Background())
	require.ErrorIs(t, err, bench.ErrSlow, "%s", p.Capacitance.Value)
	var f *bench.Fault
	require.ErrorAs(t, err, &f)
	require.Equal(t, "vbus", f.Thing)
	b.drag = 0
	require.Equal(t, "isolated", r.State().Setting.Condition)
}
