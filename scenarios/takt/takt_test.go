package takt_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/takt"
)

// oneByOne is the scenario without shared conversion windows.
func oneByOne(sc *scenarios.Scenario) *scenarios.Scenario {
	out := *sc
	out.Windows = scenarios.OneByOne
	return &out
}

func TestEveryMomentOfARunHasOneCause(t *testing.T) {
	prod, sc := loadShipped(t, "hand-lamp", "charge-path")
	for name, sc := range map[string]*scenarios.Scenario{"one by one": oneByOne(sc), "shared": takt.Shared(sc)} {
		t.Run(name, func(t *testing.T) {
			run, line := newStation(t, prod, sc, 1).run("GOOD-1")
			require.Equal(t, record.Pass, run.Verdict, run.Reason)
			require.Equal(t, run.DurationUS, line.Total.Microseconds(), "the record's own clock")
			at := time.Duration(0)
			for _, s := range line.Segments {
				require.Equal(t, at, s.From, "no gap before %s %s", s.Round, s.Step)
				require.Greater(t, s.To, s.From)
				require.Contains(t, takt.Causes(), s.Cause)
				require.NotEmpty(t, s.Cause.Words())
				at = s.To
			}
			require.Equal(t, line.Total, at)
			var names []string
			for i, r := range line.Rounds {
				names = append(names, r.Name)
				require.GreaterOrEqual(t, r.Dwell(), time.Duration(0))
				if i > 0 {
					require.Equal(t, line.Rounds[i-1].To, r.From)
				}
			}
			var want []string
			for _, r := range sc.Rounds() {
				want = append(want, r.Name)
			}
			require.Equal(t, slices.Concat([]string{""}, want, []string{takt.Isolated}), names)
			require.Zero(t, line.ByCause()[takt.Hands], "the twin's hands take no time")
		})
	}
}

// TestStepsTakeWhatTheScenarioSays: the figures stand in the scenario.
func TestStepsTakeWhatTheScenarioSays(t *testing.T) {
	prod, sc := loadShipped(t, "hand-lamp", "charge-path")
	_, line := newStation(t, prod, oneByOne(sc), 1).run("GOOD-1")
	took := func(step string, cause takt.Cause) float64 {
		sum := 0.0
		for _, s := range line.Segments {
			if s.Step == step && s.Cause == cause {
				sum += s.Seconds()
			}
		}
		return sum
	}
	require.InDelta(t, 0.5, took("cold-v", takt.Holding), 0.02, "sampled for half a second")
	require.InDelta(t, 0.1, took("c-on[default, normal]", takt.Holding), 1e-9, "held for 100 ms")
	require.Greater(t, took("c-on[default, normal]", takt.Supply), 0.08, "no C supply debounces in less than 100 ms, of which the way has a little")
	require.InDelta(t, 0.1, took("legacy-i[normal]", takt.Mains), 1e-9, "five mains periods")
	require.InDelta(t, 0.02, took("legacy-v[normal]", takt.Mains), 1e-9, "one mains period")
	require.InDelta(t, 0.04, took("r-cc1", takt.Mains), 1e-9, "pin and rail")
	require.Greater(t, took("c-fall[default, normal]", takt.Release), 0.0)
}

// TestOperationsAreWhatTheRelayLogSays.
func TestOperationsAreWhatTheRelayLogSays(t *testing.T) {
	prod, sc := loadShipped(t, "hand-lamp", "terminations-only")
	_, line := newStation(t, prod, sc, 1).run("GOOD-1")
	// Nest and unit are probed: once for the rise, and the empty nest once more
	// for its sweeps. Then k_cut, k_pu_lo and, for CC2, k_flip1.
	require.Equal(t, map[string]int{"k_pv1": 3, "k_pv2": 3, "k_cut": 1, "k_pu_lo": 1, "k_flip1": 1}, line.Operations)
	require.Equal(t, 9, line.Closings())
}

func TestTheBusIsCounted(t *testing.T) {
	prod, sc := loadShipped(t, "hand-lamp", "terminations-only")
	_, line := newStation(t, prod, sc, 1).run("GOOD-1")
	require.Len(t, line.Loads, 1)
	require.Equal(t, "i2c-main", line.Loads[0].Bus)
	perTransfer := line.Loads[0].Busy.Seconds() / float64(line.Loads[0].Transfers)
	require.InDelta(t, 47/400e3, perTransfer, 10/400e3, "a register of two bytes read at 400 kHz takes 47 bits")
}

// TestWaysAreComputedAsTheBenchGoesThem: between any two rounds of the shipped
// scenario, to what an oscillator's tolerance and a look at VBUS take.
func TestWaysAreComputedAsTheBenchGoesThem(t *testing.T) {
	prod, sc := loadShipped(t, "hand-lamp", "charge-path")
	rig := takt.NewRig(benchOne(t), prod)
	_, line := newStation(t, prod, sc, 1).run("GOOD-1")
	rounds := sc.Rounds()
	probes := func(r scenarios.Round) bool { return r.Name == "seat" }
	for i := 1; i < len(rounds); i++ {
		if probes(rounds[i-1]) || probes(rounds[i]) {
			continue // the probe has a way of its own
		}
		legs := rounds[i-1].Legs
		from, to := expand(t, legs[len(legs)-1].Setting), expand(t, rounds[i].Legs[0].Setting)
		volts := 0.0
		if len(from.Feed) > 0 {
			volts = prod.Charger.LockoutStop.Nominal.SI
		}
		way := rig.Way(from, to, volts)
		got := line.Rounds[i+1]
		require.Equal(t, rounds[i].Name, got.Name)
		require.InDelta(t, way.Seconds(), got.Way.Seconds(), 7e-3, "to %s", got.Name)
		inside := 0
		for k := 1; k < len(rounds[i].Legs); k++ {
			inside += rig.Way(expand(t, rounds[i].Legs[k-1].Setting), expand(t, rounds[i].Legs[k].Setting), 0).Closings
		}
		require.Equal(t, way.Closings+inside, got.Operations, "to %s", got.Name)
	}
}

func expand(t *testing.T, s wiring.Setting) wiring.State {
	t.Helper()
	state, err := benchOne(t).Expand(s)
	require.NoError(t, err)
	return state
}

// TestFixedWaitsAreThoseOfTheScenario: the wait for a C supply may take 600 ms
// and holds 100 ms, eight times.
func TestFixedWaitsAreThoseOfTheScenario(t *testing.T) {
	prod, sc := loadShipped(t, "hand-lamp", "charge-path")
	fixed, err := takt.NewRig(benchOne(t), prod).Fixed(sc)
	require.NoError(t, err)
	sum := 0.0
	for _, x := range fixed {
		if x.Step == "c-on[1.5 A, flipped]" {
			sum += x.Seconds
		}
	}
	require.InDelta(t, 0.7, sum, 1e-9)
	floor, err := takt.NewRig(benchOne(t), prod).Floor(sc)
	require.NoError(t, err)
	require.Greater(t, takt.Sum(fixed), 3*takt.Sum(floor))
}

// TestTheFloorOfAProbeIsItsFormula: 4.7 µF to 2 V with 0.1 mA take 94 ms.
func TestTheFloorOfAProbeIsItsFormula(t *testing.T) {
	prod, sc := loadShipped(t, "hand-lamp", "terminations-only")
	floor, err := takt.NewRig(benchOne(t), prod).Floor(sc)
	require.NoError(t, err)
	i := slices.IndexFunc(floor, func(c takt.Component) bool { return c.Round == "seat" && c.Cause == takt.Probing })
	require.InDelta(t, 0.094, floor[i].Seconds, 1e-9)
	require.Contains(t, floor[i].How, "4.70 µF")

	larger := *prod
	larger.Port.Capacitance.Nominal = quantity.Farads(47e-6)
	more, err := takt.NewRig(benchOne(t), &larger).Floor(sc)
	require.NoError(t, err)
	require.InDelta(t, 0.94, more[i].Seconds, 1e-9)
	require.Greater(t, takt.Sum(more)-takt.Sum(floor), 0.94-0.094, "VBUS is emptied more slowly, too")
}

// TestAPlanIsAllowedAndHolds: what the plan promises is what a run in that order
// shows.
func TestAPlanIsAllowedAndHolds(t *testing.T) {
	prod, sc := loadShipped(t, "hand-lamp", "charge-path")
	sc = takt.Shared(sc)
	rig := takt.NewRig(benchOne(t), prod)
	before := study(t, prod, sc, 4, 0, 4)
	plan, err := rig.Best(sc, before.Samples(0), takt.Prices{Operation: 1e-3})
	require.NoError(t, err)
	require.True(t, plan.Exact)
	require.LessOrEqual(t, plan.Planned.Operations, plan.File.Operations)
	require.Less(t, plan.Planned.Seconds, plan.File.Seconds)
	mean, err := before.Good()
	require.NoError(t, err)
	require.InEpsilon(t, mean.Seconds, plan.File.Seconds, 0.02, "the model and the runs agree")
	require.InDelta(t, mean.Operations, plan.File.Operations, 1e-9)

	best, err := sc.InOrder(plan.Order)
	require.NoError(t, err)
	after := study(t, prod, best, 4, 0, 4)
	then, err := after.Good()
	require.NoError(t, err)
	require.InDelta(t, plan.Planned.Operations, then.Operations, 1e-9)
	require.Empty(t, takt.Differences(before, after))
}
