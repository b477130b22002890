package twin

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

func TestTwinNeedsItsDescriptions(t *testing.T) {
	rig, lamp := shippedRig(t), shippedProduct(t, "hand-lamp")
	for name, c := range map[string]Config{
		"no wiring":  {Product: lamp},
		"no product": {Wiring: rig},
	} {
		_, err := New(c)
		require.ErrorIs(t, err, ErrConfig, name)
	}
	for name, spoil := range map[string]func(r *wiring.Rig){
		"bus without frequency":     func(r *wiring.Rig) { r.Buses = []wiring.Bus{{Name: "i2c-main"}} },
		"chip on no bus":            func(r *wiring.Rig) { r.Buses = nil },
		"address beyond seven bits": func(r *wiring.Rig) { r.Chips = []wiring.Chip{{Name: "x", Bus: "i2c-main", Address: 0x80}} },
		"alert of nobody":           func(r *wiring.Rig) { r.Lines = []wiring.Line{{Name: "x", Use: wiring.Alert, Chip: "out1"}} },
	} {
		bad := *rig
		spoil(&bad)
		_, err := New(Config{Wiring: &bad, Product: lamp})
		require.ErrorIs(t, err, ErrConfig, name)
	}
}

// The hardware is buses, lines and a clock under the names of the wiring file.
func TestHardwareHasTheNamesOfTheFile(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	hw := w.Hardware()
	require.Len(t, hw.Buses, 1)
	require.Len(t, hw.Lines, len(w.config.Wiring.Lines))
	for _, l := range w.config.Wiring.Lines {
		require.Equal(t, l.Name, hw.Lines[l.Name].Name())
	}
	require.Zero(t, hw.Clock.Now())
	require.NoError(t, hw.Clock.Sleep(context.Background(), time.Minute))
	require.Equal(t, time.Minute, hw.Clock.Now())
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	require.ErrorIs(t, hw.Clock.Sleep(ctx, time.Second), context.Canceled)
	require.Equal(t, time.Minute, hw.Clock.Now())
}

// The pace hears every instant before the twin goes there.
func TestPaceHearsTheTime(t *testing.T) {
	var heard []time.Duration
	w, err := New(Config{
		Wiring: shippedRig(t), Product: shippedProduct(t, "hand-lamp"),
		Pace: func(at time.Duration) { heard = append(heard, at) },
	})
	require.NoError(t, err)
	require.NoError(t, w.Hardware().Clock.Sleep(context.Background(), time.Millisecond))
	require.NoError(t, w.Hardware().Clock.Sleep(context.Background(), time.Millisecond))
	require.Equal(t, []time.Duration{time.Millisecond, 2 * time.Millisecond}, heard)
}

// wall is a time base that, like the real clock, is always later than asked.
type wall struct{ now time.Duration }

func (c *wall) Now() time.Duration { return c.now }

func (c *wall) Reach(_ context.Context, at time.Duration) error {
	c.now = max(c.now, at) + 50*time.Microsecond
	return nil
}

// On a time base that goes by itself the same bench works on the same twin.
func TestTwinOnAnotherTimeBase(t *testing.T) {
	w, err := New(Config{Wiring: shippedRig(t), Product: shippedProduct(t, "hand-lamp"), Seed: 1, Base: &wall{}})
	require.NoError(t, err)
	require.NoError(t, w.Seat("S1"))
	r := openRig(t, w)
	require.True(t, probed(t, r).Present)
	met, amperes := perform(t, r, conditionStep{setting: setting("legacy-a", "cell", "3.7 V")})
	require.True(t, met)
	require.InEpsilon(t, 0.38, amperes, 0.1)
	require.NoError(t, r.Close())
	require.NoError(t, w.Truth().Err())
}

// The other shipped products: a controller with a blinking indicator and its
// own cell, and a dual-role port without a cell.
func TestOtherProductsAttach(t *testing.T) {
	for _, product := range []string{"desk-sensor", "key-tag"} {
		t.Run(product, func(t *testing.T) {
			w := newTwin(t, product, 2)
			require.NoError(t, w.Seat("S1"))
			r := openRig(t, w)
			probed(t, r)
			for _, c := range []string{"legacy-a", "c-supply", "c-supply-marked"} {
				require.NoError(t, r.Enter(background(), setting(c)))
				waited, err := r.Wait(background(), bench.Until{
					Channel: "vbus", Relation: bench.AtLeast, Level: quantity.Volts(4.75), Hold: 50 * time.Millisecond, Within: time.Second,
				})
				require.NoError(t, err)
				require.True(t, waited.Met, c)
			}
			require.NoError(t, r.Close())
		})
	}
}

// What the bench makes of faults of the rig: its own fault, never an answer.
func TestBenchMeetsRigFaults(t *testing.T) {
	for name, f := range map[string]RigFault{
		"converter gone": {Kind: ChipAbsent, Part: "adc1"},
		"expander gone":  {Kind: ChipAbsent, Part: "out2"},
		"bus dead":       {Kind: BusDead, Part: "i2c-main", Index: 60},
	} {
		t.Run(name, func(t *testing.T) {
			w := newTwin(t, "hand-lamp", 1)
			require.NoError(t, w.Break(f))
			_, err := bench.Open(background(), w.config.Wiring, w.Hardware(), bench.Options{})
			var fault *bench.Fault
			require.True(t, errors.As(err, &fault), "%v", err)
			require.False(t, w.Truth().CoilSupply() && anyMade(t, w))
		})
	}
}

// anyMade tells whether any contact of a supply is closed.
func anyMade(t *testing.T, w *Twin) bool {
	for _, relay := range []string{"k_leg1", "k_csup1", "k_port1", "k_pv1", "k_cell1"} {
		if no, _, err := w.Truth().Made(relay, 0); no || err != nil {
			return true
		}
	}
	return false
}

func TestChannelFaultsShowInReadings(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	r := openRig(t, w)
	read := func() float64 {
		x, err := r.Read(background(), "vref", bench.ReadOptions{})
		require.NoError(t, err)
		return x.Value.SI
	}
	require.InDelta(t, 2.5, read(), 0.006)
	require.NoError(t, w.Break(RigFault{Kind: ChannelGain, Part: "adc2", Index: 3, Value: 0.02}))
	require.InDelta(t, 2.55, read(), 0.006)
	w.Mend()
	require.NoError(t, w.Break(RigFault{Kind: MainsHum, Part: "adc2", Index: 3, Value: 0.05}))
	require.InDelta(t, 2.5, read(), 0.008, "the bench averages over a mains period")
	w.Mend()
	require.NoError(t, r.Close())
}

func TestRigFaultsOfNothing(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	for _, f := range []RigFault{
		{Kind: "no such kind"},
		{Kind: ContactWelded, Part: "k_none"},
		{Kind: ContactWelded, Part: "k_leg1", Index: 5},
		{Kind: ContactStuckOpen, Part: "k_leg1", Index: -1},
		{Kind: ChipAbsent, Part: "adc9"},
		{Kind: ChannelGain, Part: "out1"},
		{Kind: MainsHum, Part: "adc1", Index: 4},
		{Kind: BusHang, Part: "i2c-other"},
		{Kind: BusNak, Part: "i2c-main", Index: -1},
		{Kind: BusSlow, Part: "i2c-main", Value: 0.5},
		{Kind: LineStuck, Part: "door"},
		{Kind: SupplyDead, Part: "sun"},
		{Kind: PinOpen, Part: "sbu1"},
	} {
		err := w.Break(f)
		require.Error(t, err, "%+v", f)
		require.Contains(t, err.Error(), string(f.Kind))
		require.True(t, errors.Is(err, ErrRigFault) || errors.Is(err, ErrNoSuchName), "%v", err)
	}
}

func TestTruthKnowsItsNames(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	u := w.Truth()
	_, err := u.Volts("nowhere")
	require.ErrorIs(t, err, ErrNoSuchName)
	v, err := u.Volts("gnd")
	require.NoError(t, err)
	require.Zero(t, v)
	_, _, err = u.Made("k_none", 0)
	require.ErrorIs(t, err, ErrNoSuchName)
	_, _, err = u.Made("k_leg1", 1)
	require.ErrorIs(t, err, ErrNoSuchName)
	_, err = u.Moves("k_none")
	require.ErrorIs(t, err, ErrNoSuchName)
	_, err = u.Supply("sun")
	require.ErrorIs(t, err, ErrNoSuchName)
	require.ErrorIs(t, u.Drive("k_none"), ErrNoSuchName)
	require.False(t, newTwin(t, "hand-lamp", 1).Truth().CoilSupply())
}

// Any relays with any unit, in any order: the circuit is solved, and no net
// leaves the range of what its sources can make.
func TestAnyRelayStateIsSolved(t *testing.T) {
	t.Parallel()
	rig, lamp := shippedRig(t), shippedProduct(t, "hand-lamp")
	var names []string
	for _, k := range rig.Relays {
		names = append(names, k.Name)
	}
	for _, s := range rig.Selects {
		names = append(names, s.Name)
	}
	rapid.Check(t, func(r *rapid.T) {
		w, err := New(Config{Wiring: rig, Product: lamp, Seed: rapid.Uint64().Draw(r, "seed")})
		require.NoError(r, err)
		fault := Fault{Name: rapid.SampledFrom(Faults()).Draw(r, "fault").Name}
		require.NoError(r, w.Seat("S1", fault))
		for range 3 {
			on := rapid.SliceOfDistinct(rapid.SampledFrom(names), rapid.ID[string]).Draw(r, "on")
			require.NoError(r, w.Truth().Drive(on...))
			require.NoError(r, w.Truth().Pass(time.Duration(rapid.IntRange(0, 400).Draw(r, "ms"))*time.Millisecond))
			for _, n := range rig.Nets {
				v, err := w.Truth().Volts(n.Name)
				require.NoError(r, err)
				require.Less(r, v, 5.6, n.Name)
				require.Greater(r, v, -0.3, n.Name)
			}
		}
	})
}
