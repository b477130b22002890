//go:build !race

package twin

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/circuit/spice"
	"sinkproof/bench/wiring"
)

// What the sweep covers: all settings of the shipped rig, that is every value of
// every axis of every condition with every value of the others, each with a good
// unit of each shipped product; and a hand lamp with every fault in every
// condition, the faults by turns in its settings. Everything is compared when VBUS begins to come, with the
// capacitors charging, and half a second later. The numbers are written down so
// that a part of it that falls away is noticed; a rig, a product or a fault more
// changes them.
const (
	sweptSettings   = 340
	sweptConditions = 13
	sweptPairs      = sweptSettings*3 + sweptConditions*20
	sweptCircuits   = 2 * sweptPairs

	sweptWave = 20e-3
	// A comparison in time ends early where a charger changes what it remembers
	// (see spice.Compare), as in a good unit whose VBUS has just come: this much
	// must remain on the whole.
	sweptShare  = 0.75
	sweptRising = 30 // circuits at least that are caught with VBUS between comingVolts and 4 V
	comingVolts = 0.3
)

// sweep compares the circuits of one twin in batches.
type sweep struct {
	to    extent
	t     *testing.T
	w     *Twin
	draw  *rand.Rand
	batch spice.Batch
	names []string // of what is in the batch
	swept
}

// swept is what has been compared.
type swept struct {
	pairs    map[string]int // circuits by setting and unit
	moments  map[string]int // circuits by condition, unit and moment
	points   int
	seconds  float64
	alone    int
	worst    [2]spice.Difference
	circuits int
	rising   int // circuits with VBUS still rising
}

// extent is how much of all pairs of setting and unit a sweep takes up.
type extent struct {
	pairs, circuits, rising int
	share                   float64
	// faulty returns the moments at which a fault is looked at in a setting, the
	// at-th of so many of its condition.
	faulty func(fault, at, of int, draw *rand.Rand) []string
}

// inTurn is the extent of the gate.
func inTurn() extent {
	return extent{
		pairs: sweptPairs, circuits: sweptCircuits, rising: sweptRising, share: sweptShare,
		faulty: func(fault, at, of int, _ *rand.Rand) []string {
			if fault%of != at {
				return nil
			}
			return moments()
		},
	}
}

var sweptProducts = [...]string{"hand-lamp", "desk-sensor", "key-tag"}

func newSwept() swept { return swept{pairs: map[string]int{}, moments: map[string]int{}} }

// Every setting of the rig with good units and every condition with every
// fault, at rest to 0.1 % + 1 mV and over 20 ms to 1 % + 5 mV, against ngspice on
// the same netlist with the same initial conditions.
func TestSweepEverySettingAgainstNgspice(t *testing.T) { againstNgspice(t, inTurn()) }

// againstNgspice compares to an extent; two workers share the settings out.
func againstNgspice(t *testing.T, e extent) {
	const workers = 2
	states := slices.DeleteFunc(shippedRig(t).States(), func(s wiring.State) bool {
		return strings.HasPrefix(s.Setting.Condition, "self-test") // never taken with a unit seated
	})
	require.Len(t, states, sweptSettings)
	var parts [workers]swept
	t.Run("workers", func(t *testing.T) {
		for n := range workers {
			t.Run(fmt.Sprint(n), func(t *testing.T) {
				t.Parallel()
				parts[n] = newSwept()
				for p, product := range sweptProducts {
					s := &sweep{
						to: e, t: t, w: newTwin(t, product, uint64(10*p+n)), swept: parts[n],
						draw: rand.New(rand.NewPCG(uint64(n), uint64(p))),
					}
					for i := n; i < len(states); i += workers {
						s.setting(states, i, p)
					}
					s.compare()
					parts[n] = s.swept
				}
			})
		}
	})
	all := newSwept()
	for _, part := range parts {
		all.add(part)
	}
	t.Logf("%d pairs of setting and unit in %d circuits, %d voltages, %.1f s of waves, %d analyses repeated alone; VBUS rising in %d",
		len(all.pairs), all.circuits, all.points, all.seconds, all.alone, all.rising)
	t.Logf("at rest: %v", all.worst[0])
	t.Logf("in time: %v", all.worst[1])
	all.check(t, e, states)
}

// add sums up the work of two workers.
func (s *swept) add(o swept) {
	for k, n := range o.pairs {
		s.pairs[k] += n
	}
	for k, n := range o.moments {
		s.moments[k] += n
	}
	s.rising += o.rising
	s.circuits, s.points, s.seconds, s.alone = s.circuits+o.circuits, s.points+o.points, s.seconds+o.seconds, s.alone+o.alone
	for i := range s.worst {
		s.worst[i] = worse(s.worst[i], o.worst[i])
	}
}

func worse(a, b spice.Difference) spice.Difference {
	if b.Of > a.Of {
		return b
	}
	return a
}

// check proves that nothing of what the sweep promises was left out.
func (s *swept) check(t *testing.T, e extent, states []wiring.State) {
	require.Len(t, s.pairs, e.pairs)
	require.Equal(t, e.circuits, s.circuits)
	require.GreaterOrEqual(t, s.seconds, e.share*sweptWave*float64(s.circuits), "seconds of waves")
	require.GreaterOrEqual(t, s.points, 500*s.circuits, "voltages")
	require.GreaterOrEqual(t, s.rising, e.rising, "circuits with VBUS rising")
	for _, state := range states {
		for _, d := range Faults() {
			for _, moment := range moments() {
				require.Positive(t, s.moments[pair(state.Setting.Condition, d.Name, moment)], "%s, %s, %s", state.Setting.Condition, d.Name, moment)
			}
		}
	}
}

func pair(setting string, unit ...string) string { return fmt.Sprint(setting, unit) }

// moments at which a circuit is compared.
func moments() []string { return []string{"entering", "settled"} }

// setting compares the units of a product in the i-th state.
func (s *sweep) setting(states []wiring.State, i, product int) {
	state, name := states[i], sweptProducts[product]
	s.unit(state, name, "good", moments())
	if product != 0 {
		return
	}
	at, of := 0, 0
	for k := range states {
		if states[k].Setting.Condition == state.Setting.Condition {
			if of++; k < i {
				at++
			}
		}
	}
	for f, d := range Faults() {
		if when := s.to.faulty(f, at, of, s.draw); len(when) > 0 {
			s.unit(state, name, d.Name, when, Fault{Name: d.Name})
		}
	}
}

// unit seats a unit of its own, so that tolerances, severities and pins are
// drawn anew, and notes the circuit at the given moments.
func (s *sweep) unit(state wiring.State, product, name string, at []string, faults ...Fault) {
	what := pair(state.Setting.String(), product, name)
	require.NoError(s.t, s.w.Seat(what, faults...), what)
	s.arrive(state)
	for i, moment := range moments() {
		if i > 0 {
			require.NoError(s.t, s.w.Truth().Pass(500*time.Millisecond), what)
		}
		if moment == at[0] || moment == at[len(at)-1] {
			s.note(what + " " + moment)
			s.pairs[what]++
			if v := volts(s.t, s.w, "plug.sense"); i == 0 && v > comingVolts && v < 4 {
				s.rising++
			}
			s.moments[pair(state.Setting.Condition, name, moment)]++
		}
	}
}

// arrive enters a state and waits, where it has a feed, until VBUS begins to
// come: a C supply first debounces the attach. Where nothing comes it stays at
// the end of the wait.
func (s *sweep) arrive(state wiring.State) {
	enter(s.t, s.w, state)
	if len(state.Feed) == 0 {
		return
	}
	for range 400 {
		if volts(s.t, s.w, "plug.sense") > comingVolts {
			return
		}
		require.NoError(s.t, s.w.Truth().Pass(time.Millisecond))
	}
}

// note puts the present circuit into the batch, and compares a full batch.
func (s *sweep) note(what string) {
	sim, err := s.w.Truth().Circuit().Clone()
	require.NoError(s.t, err, what)
	require.NoError(s.t, s.batch.Add(sim, sweptWave, 1e-3), what)
	s.names = append(s.names, what)
	if len(s.names) == 64 {
		s.compare()
	}
}

func (s *sweep) compare() {
	answers, err := s.batch.Run()
	require.NoError(s.t, err)
	require.Len(s.t, answers, len(s.names))
	for i, a := range answers {
		require.LessOrEqual(s.t, a.Rest.Of, 1.0, "%s at rest: %v", s.names[i], a.Rest)
		require.LessOrEqual(s.t, a.Time.Of, 1.0, "%s in time: %v", s.names[i], a.Time)
		s.worst = [2]spice.Difference{worse(s.worst[0], a.Rest), worse(s.worst[1], a.Time)}
		s.points += a.Rest.Points + a.Time.Points
		s.seconds += a.Time.Covered
		s.alone += a.Alone
	}
	s.circuits += len(answers)
	s.names = s.names[:0]
}
