package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

func setting(name string, axes ...string) wiring.Setting {
	s := wiring.Setting{Condition: name}
	for i := 0; i < len(axes); i += 2 {
		s.Axes = append(s.Axes, wiring.AxisChoice{Axis: axes[i], Value: axes[i+1]})
	}
	return s
}

// conditionStep is one condition of a run and what the unit does in it.
type conditionStep struct {
	setting wiring.Setting
	powered bool
	share   float64 // of the fast current
}

// wholeRun is every powered condition of the shipped rig once.
func wholeRun() []conditionStep {
	return []conditionStep{
		{setting("legacy-a", "cell", "3.7 V"), true, 1},
		{setting("legacy-a", "cell", "3.7 V", "orientation", "flipped"), true, 1},
		{setting("legacy-a", "cell", "3.7 V", "data", "open"), true, 0.225},
		{setting("legacy-a", "cell", "3.7 V", "data", "host"), true, 0.225},
		{setting("no-termination", "cell", "3.7 V"), false, 0},
		{setting("c-supply", "cell", "3.7 V"), true, 1},
		{setting("no-termination", "cell", "3.7 V"), false, 0},
		{setting("c-supply", "cell", "3.7 V", "orientation", "flipped", "advertisement", "3.0 A"), true, 1},
		{setting("no-termination", "cell", "3.7 V"), false, 0},
		{setting("c-supply-marked", "cell", "3.7 V"), true, 1},
		{setting("stand-in", "cell", "3.7 V"), true, 1},
		{setting("portable", "cell", "3.7 V"), true, 1},
		{setting("cell-substitute", "cell", "2.5 V"), true, 0.1},
		{setting("cell-substitute", "cell", "4.25 V"), true, 0},
		{setting("detached", "cell", "3.7 V"), false, 0},
	}
}

// openRig opens the bench in front of a twin and proves the unit present.
func openRig(t testing.TB, w *Twin) *bench.Rig {
	r, err := bench.Open(background(), w.config.Wiring, w.Hardware(), bench.Options{})
	require.NoError(t, err)
	return r
}

// probed measures the presence of the unit, so that powered conditions may be
// entered.
func probed(t testing.TB, r *bench.Rig) bench.Presence {
	require.NoError(t, r.Begin(background()))
	p, err := r.Probe(background())
	require.NoError(t, err)
	r.Pass("probe-vbus")
	return p
}

// perform enters a step, waits for VBUS, and reads the current.
func perform(t testing.TB, r *bench.Rig, s conditionStep) (met bool, amperes float64) {
	require.NoError(t, r.Enter(background(), s.setting))
	until := bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: quantity.Volts(4.75), Hold: 100 * time.Millisecond, Within: 600 * time.Millisecond}
	waited, err := r.Wait(background(), until)
	require.NoError(t, err)
	if !waited.Met || s.setting.Condition == "detached" {
		return waited.Met, 0
	}
	// Past the question to the data lines and the soft start.
	_, err = r.Wait(background(), bench.Until{Channel: "ibus", Relation: bench.Steady, Band: 0.02, Within: time.Second})
	require.NoError(t, err)
	x, err := r.Read(background(), "ibus", bench.ReadOptions{})
	require.NoError(t, err)
	return waited.Met, x.Value.SI
}

// The bench in front of the twin: what it reads is what is there, in every
// condition of the shipped rig.
func TestBenchReadsTheTwin(t *testing.T) {
	for _, c := range []string{"S1", "S2"} {
		w := newTwin(t, "hand-lamp", 1)
		require.NoError(t, w.Seat(c))
		unit, _ := w.Truth().Unit()
		r := openRig(t, w)
		p := probed(t, r)
		require.True(t, p.Present)
		require.InEpsilon(t, unit.Capacitance, p.Capacitance.Value.SI, 0.03)
		for i, condition := range []string{"probe-cc1", "probe-cc2"} {
			require.NoError(t, r.Enter(background(), setting(condition)))
			rd, err := r.Read(background(), []string{"rd1", "rd2"}[i], bench.ReadOptions{})
			require.NoError(t, err)
			require.InEpsilon(t, unit.Rd[i], rd.Value.SI, 0.005)
		}
		for _, s := range wholeRun() {
			met, amperes := perform(t, r, s)
			require.Equal(t, s.powered, met, "%v", s.setting)
			require.InDelta(t, s.share*unit.FastCurrent, amperes, 0.032*unit.FastCurrent+0.004, "%v", s.setting)
		}
		require.NoError(t, r.Close())
	}
}

// The same seed gives the same instants, the same readings and the same
// number of transfers; another seed does not.
func TestSameSeedSameRun(t *testing.T) {
	type trace struct {
		amperes   [4]float64
		at        time.Duration
		transfers int
	}
	play := func(seed uint64) trace {
		w := newTwin(t, "hand-lamp", seed)
		require.NoError(t, w.Seat("S1", Fault{Name: "rd-10k"}))
		r := openRig(t, w)
		probed(t, r)
		var x trace
		for i, s := range wholeRun()[:4] {
			_, x.amperes[i] = perform(t, r, s)
		}
		require.NoError(t, r.Close())
		x.at, x.transfers = w.Truth().Now(), w.buses[0].transfers
		return x
	}
	require.Equal(t, play(5), play(5))
	require.NotEqual(t, play(5), play(6))
}

// BenchmarkRun is a unit through every powered condition by the bench, as it
// comes: a new unit, nothing cached.
func BenchmarkRun(b *testing.B) {
	w := newTwin(b, "hand-lamp", 1)
	r := openRig(b, w)
	require.NoError(b, r.Begin(background()))
	before, begin := w.buses[0].transfers, w.Truth().Now()
	n := 0
	for b.Loop() {
		n++
		require.NoError(b, w.Seat("S"+time.Duration(n).String()))
		probed(b, r)
		for _, s := range wholeRun() {
			perform(b, r, s)
		}
		require.NoError(b, r.Safe())
	}
	b.ReportMetric(float64(w.buses[0].transfers-before)/float64(n), "transfers/op")
	b.ReportMetric((w.Truth().Now()-begin).Seconds()/float64(n), "s-virtual/op")
}
