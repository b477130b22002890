package twin

import (
	"math"
	"time"

	"sinkproof/bench/circuit"
	"sinkproof/bench/wiring"
)

// supply is a source of the rig whose value selects may choose. The C supply
// and the portable one add their own behaviour.
type supply struct {
	t     *Twin
	w     *wiring.Supply
	volts float64 // of this piece
	// levels are the values of the levels of this piece.
	levels []float64
	masks  []uint64 // by level: which of the supply's selects are on
	names  []string // the supply's selects, by bit
	on     uint64   // the selects that are on
	level  int

	out    circuit.ElementID
	source bool // out is a plain voltage source
	dead   bool
	// since and late make a supply late by a fault: one that is always on gives
	// nothing before since, one that answers takes late longer.
	since, late time.Duration
	// lingers makes a supply that goes off do so later.
	lingers time.Duration
	drift   float64 // relative error by a fault
	ready   timer
}

// newSupply draws the values of one supply.
func newSupply(t *Twin, w *wiring.Supply) *supply {
	r := stream(t.config.Seed, "supply", w.Name)
	s := &supply{t: t, w: w, volts: within(r, w.Volts)}
	common := stream(t.config.Seed, "supply levels", w.Name)
	for _, l := range w.Levels {
		s.levels = append(s.levels, l.Value.SI*(1+spread(common, w.LevelTolerance.SI)))
		var mask uint64
		for _, name := range l.Selects {
			mask |= 1 << s.bit(name)
		}
		s.masks = append(s.masks, mask)
	}
	s.ready = t.queue.add(s)
	s.choose()
	return s
}

// bit returns the number of a select, and gives it one at its first mention.
func (s *supply) bit(name string) int {
	for i, n := range s.names {
		if n == name {
			return i
		}
	}
	s.names = append(s.names, name)
	return len(s.names) - 1
}

// listens tells whether a select belongs to this supply.
func (s *supply) listens(name string) bool {
	for _, n := range s.names {
		if n == name {
			return true
		}
	}
	return false
}

// follow takes the new state of a select.
func (s *supply) follow(name string, on bool) {
	if on {
		s.on |= 1 << s.bit(name)
	} else {
		s.on &^= 1 << s.bit(name)
	}
	s.choose()
}

// choose finds the level whose selects are exactly those that are on; a
// combination that means nothing changes nothing.
func (s *supply) choose() {
	for i, mask := range s.masks {
		if mask == s.on {
			s.level = i
			return
		}
	}
}

// value is the present level, or the voltage of a supply without levels.
func (s *supply) value() float64 {
	v := s.volts
	if len(s.levels) > 0 {
		v = s.levels[s.level]
	}
	return v * (1 + s.drift)
}

// draft adds the supply to a netlist, giving nothing.
func (s *supply) draft(n *circuit.Netlist) {
	plus, name, ohms := s.t.node(n, s.w.Vbus), s.w.Name, max(leastOhms, s.w.Output.SI)
	s.source = false
	switch s.w.Kind {
	case wiring.Probe:
		s.out = n.LimitedCurrentSource(name, plus, circuit.Ground, 0, s.compliance(), probeSiemens)
	case wiring.CellSubstitute:
		s.out = n.LimitedSupply(name, plus, circuit.Ground, 0, ohms, 0, true)
	default:
		s.source = s.w.Limit.SI <= 0
		if s.source {
			s.out = n.VoltageSource(name, plus, circuit.Ground, 0, ohms)
		} else {
			s.out = n.LimitedSupply(name, plus, circuit.Ground, 0, ohms, 0, false)
		}
	}
}

// probeSiemens is how sharply the probe current ends at its compliance
// voltage: within the last 5 mV of it at 5 mA.
const probeSiemens = 1.0

// compliance is the highest voltage of a probe.
func (s *supply) compliance() float64 {
	if s.w.Compliance.SI > 0 {
		return s.w.Compliance.SI
	}
	return s.volts
}

// cellLimit stands for the limit of a cell substitute whose file states none.
const cellLimit = 2.0

// limit is the highest current.
func (s *supply) limit() float64 {
	if s.w.Limit.SI > 0 {
		return s.w.Limit.SI
	}
	return cellLimit
}

// connect brings a new circuit to the present state.
func (s *supply) connect() { s.apply() }

// apply sets the element to the present value.
func (s *supply) apply() {
	v, sim := s.value(), s.t.sim
	works := !s.dead && s.t.now >= s.since
	switch {
	case s.source:
		if !works {
			v = 0
		}
		s.t.check(sim.SetVolts(s.out, v))
	case s.w.Kind == wiring.Probe:
		s.t.check(sim.SetAmperes(s.out, math.Abs(v)))
		s.t.check(sim.SetEnabled(s.out, works))
	default:
		s.t.check(sim.SetVolts(s.out, v))
		s.t.check(sim.SetAmperes(s.out, s.limit()))
		s.t.check(sim.SetEnabled(s.out, works))
	}
	if works || s.dead {
		return
	}
	s.ready.Set(s.since)
}

// Due lets a late supply come, or a new level.
func (s *supply) Due(time.Duration) { s.apply() }

// selected asks for the new level at once; what takes its time is its own
// event, so that the circuit is brought up to that instant first.
func (s *supply) selected(now time.Duration) { s.ready.Set(now) }
