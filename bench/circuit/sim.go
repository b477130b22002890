package circuit

import (
	"fmt"
	"math"
)

// Sim is a network in time. It is not safe for concurrent use.
//
// Setters take effect together at the next question (Volts, AdvanceTo, ...), so
// that several contacts moved at one instant move at once. A network that
// cannot be solved is reported by Settle and AdvanceTo; Volts is NaN then.
type Sim struct {
	net      *Netlist
	elements []element
	chargers []int32
	now      float64
	volts    []float64 // per node, at the last entry of its island
	trial    []float64 // per node, candidates at an instant
	dirty    bool
	running  bool   // the node voltages before this instant are known
	memory   int    // changes of what chargers remember
	values   uint64 // changes of resistors: solutions of before no longer hold
	err      error

	*stores
	part    *partition
	epoch   int
	todo    []*shape // islands to be entered
	bits    []uint64 // the elements that take part
	moves   bool     // one has begun or ended to, since part was found
	quietTo float64  // no event up to and including this instant
	knownTo float64  // what quietTo may be, see nextEvent

	watches []watch
	fired   []WatchID

	changes      int     // of segments since changesSince
	changesSince float64 // see maxChanges

	candidate  *solution // of the last attempt at an island
	fitted     bool      // nothing was violated in it
	movers     []int32   // all piecewise elements, for DC
	moved      int32     // the element that an event has just moved, or -1
	slopes     []float64 // scratch of healing
	slack      float64   // see loosen
	loose      []Node    // tied in the last attempt at a DC solution
	leave      func()    // see BeforeChange
	recount    bool      // see StopAtMemory
	remembered int       // the memory that AdvanceTo has told of
	point      []float64 // per node, see follow in segment.go
}

// Start validates the values and returns the network at instant zero, with the
// initial voltages on its capacitors, switches open and sources on. Later
// changes of the Netlist do not reach the Sim.
func (n *Netlist) Start() (*Sim, error) { return n.StartIn(nil) }

// StartIn is Start in the memory of a Sim that is done with, or nil: a Sim
// keeps some megabytes of solutions, which a bench that seats unit after unit
// would leave behind with each. The old Sim must not be used afterwards, even
// when the start fails.
func (n *Netlist) StartIn(old *Sim) (*Sim, error) {
	if err := n.validate(); err != nil {
		return nil, err
	}
	names := *n
	names.names = n.names[:len(n.names):len(n.names)]
	s := &Sim{net: &names}
	if old != nil {
		s.stores, s.elements = old.stores, old.elements[:0]
		s.stores.rewind(n)
		*old = Sim{}
	} else {
		s.stores = newStores()
		s.stores.note(n)
	}
	s.elements = append(s.elements, n.elements...)
	s.prepare()
	if err := s.Settle(); err != nil {
		return nil, err
	}
	return s, nil
}

func (s *Sim) prepare() {
	for i := range s.elements {
		s.elements[i].learn()
		if c := s.elements[i].charger; c != nil {
			own := *c
			own.disabled = !s.elements[i].enabled
			s.elements[i].charger = &own
			s.chargers = append(s.chargers, int32(i))
		}
	}
	nodes := len(s.net.names)
	s.volts, s.trial, s.point = make([]float64, nodes), make([]float64, nodes), make([]float64, nodes)
	s.bits = make([]uint64, (len(s.elements)+63)/64)
	for i := range s.elements {
		if s.elements[i].present() {
			s.flip(i)
		}
	}
	s.dirty, s.moves = true, true
}

// Clone returns an independent Sim at the same instant and in the same state,
// without watches.
func (s *Sim) Clone() (*Sim, error) {
	if err := s.Settle(); err != nil {
		return nil, err
	}
	for _, sh := range s.part.shapes {
		s.capture(sh)
	}
	c := &Sim{stores: newStores(), net: s.net, elements: append([]element(nil), s.elements...), now: s.now, memory: s.memory, running: true}
	c.prepare()
	copy(c.volts, s.volts)
	return c, c.Settle()
}

// Now returns the instant in seconds since Start.
func (s *Sim) Now() float64 { return s.now }

// Volts returns the voltage of a node at Now, NaN if the network cannot be
// solved (see Settle).
func (s *Sim) Volts(n Node) float64 {
	if s.Settle() != nil {
		return math.NaN()
	}
	return s.at(n, s.now)
}

func (s *Sim) at(n Node, t float64) float64 {
	if n == Ground {
		return 0
	}
	sol := s.shapeOf(s.part, n).active
	if t != sol.since && !s.flows(sol) {
		return math.NaN()
	}
	return sol.sample(s.part.local[n], t)
}

// AllVolts writes the voltage of every node at Now, Ground included, into a slice
// of as many; NaN where the network cannot be solved (see Settle).
func (s *Sim) AllVolts(into []float64) {
	if s.Settle() != nil {
		for i := range into {
			into[i] = math.NaN()
		}
		return
	}
	into[Ground] = 0
	for _, sh := range s.part.shapes {
		if s.now == sh.active.since || s.flows(sh.active) {
			sh.active.all(s.now, sh.nodes, into)
			continue
		}
		for _, n := range sh.nodes {
			into[n] = math.NaN()
		}
	}
}

// VoltsAt returns the voltage of a node at an instant from Now on, without
// moving there. It fails with ErrEventBetween if a segment, a charger timer or
// a watch changes before, since AdvanceTo must see that first.
func (s *Sim) VoltsAt(n Node, t float64) (float64, error) {
	if err := s.Settle(); err != nil {
		return math.NaN(), err
	}
	if !(t >= s.now) {
		return math.NaN(), fmt.Errorf("voltage of %s at %g s, now is %g s: %w", s.net.names[n], t, s.now, ErrTime)
	}
	if at, err := s.eventBefore(t); err != nil {
		return math.NaN(), err
	} else if at <= t {
		return math.NaN(), fmt.Errorf("voltage of %s at %g s, event at %g s: %w", s.net.names[n], t, at, ErrEventBetween)
	}
	return s.at(n, t), nil
}

// eventBefore returns the next event where it comes no later than t, and looks no
// farther.
func (s *Sim) eventBefore(t float64) (float64, error) {
	if t <= s.quietTo {
		return math.Inf(1), nil
	}
	at, _, err := s.nextEvent(t)
	if err == nil && at > t {
		s.quietTo = s.knownTo
	}
	return at, err
}

// Quiet tells whether no segment, charger timer or watch changes up to an instant.
// Whoever knows that of a stretch beforehand is not asked for events within it.
func (s *Sim) Quiet(t float64) bool {
	if s.Settle() != nil {
		return false
	}
	at, err := s.eventBefore(t)
	return err == nil && at > t
}

// BeforeChange has f called at Now before any voltage leaves its course: from
// one call to the next every voltage follows one formula, of which Mean gives
// the average. f may ask for nothing but Now and Mean.
func (s *Sim) BeforeChange(f func()) { s.leave = f }

func (s *Sim) depart() {
	if s.leave != nil && s.running {
		s.leave()
	}
}

// Mean returns the average voltage of a node between two instants, which must
// lie between the last change (see BeforeChange) and Now; NaN if the network
// cannot be solved.
func (s *Sim) Mean(n Node, from, to float64) float64 {
	if n == Ground {
		return 0
	}
	sol := s.shapeOf(s.part, n).active
	if sol == nil || !s.flows(sol) {
		return math.NaN()
	}
	return sol.average(s.part.local[n], from, to)
}

// flows makes sure that the modes of an entered solution are known.
func (s *Sim) flows(sol *solution) bool { return sol.flowing || s.launch(sol) }

// launch finds them, where it can.
func (s *Sim) launch(sol *solution) bool {
	if !sol.modal && !sol.decompose(&s.scratch) {
		return false
	}
	sol.flow()
	return true
}

// Settle applies pending changes at Now: contacts, sources, and the segments
// that follow from them.
func (s *Sim) Settle() error {
	if !s.dirty {
		return s.err
	}
	s.depart()
	s.dirty, s.err, s.quietTo, s.moved = false, nil, math.Inf(-1), -1
	s.err = s.settle()
	return s.err
}

func (s *Sim) settle() error {
	p := s.partitionNow()
	s.epoch++
	todo := s.todo[:0]
	for _, sh := range p.shapes {
		sh.epoch = s.epoch
		if sh.active == nil || sh.dirty {
			todo = append(todo, sh)
		}
	}
	s.todo = todo
	if p != s.part {
		s.leaveIslands()
		s.part = p
	}
	for _, sh := range todo {
		if sh.active != nil {
			s.capture(sh)
		}
		if err := s.enter(sh); err != nil {
			return err
		}
	}
	s.running = true
	return nil
}

// leaveIslands keeps the voltages of the islands that are no more, which have another
// epoch; the others go on undisturbed.
func (s *Sim) leaveIslands() {
	if s.part == nil {
		return
	}
	for _, sh := range s.part.shapes {
		if sh.epoch != s.epoch && sh.active != nil {
			s.capture(sh)
			sh.active = nil
		}
	}
}

// capture keeps the node and capacitor voltages of a running island at Now.
func (s *Sim) capture(sh *shape) {
	sol := sh.active
	if s.now != sol.since && !s.flows(sol) {
		return
	}
	sol.all(s.now, sh.nodes, s.volts)
	for _, i := range sh.caps {
		e := &s.elements[i]
		e.volts = s.volts[e.a] - s.volts[e.b]
	}
}

// enter brings an island into the state that follows from the charges of its
// capacitors, the contacts and the sources: it changes segments until all hold.
func (s *Sim) enter(sh *shape) error {
	sh.dirty = false
	if sh.inert && s.rests(sh) {
		s.observe(sh)
		return nil
	}
	if err := s.settleSegments(sh, sh.piecewise, false); err != nil {
		sh.active = nil
		return err
	}
	// Only a network with a control can turn out to have complex modes; the others
	// are asked for theirs when time passes.
	if sol := s.candidate; !sol.symmetric && !sol.modal && !sol.decompose(&s.scratch) {
		sh.active = nil
		return s.complexModes(sh, sol)
	}
	sh.active = s.candidate
	s.observe(sh)
	return nil
}

func (s *Sim) complexModes(sh *shape, sol *solution) error {
	e := &ComplexError{}
	for i := 0; i < sol.n; i++ {
		e.Nodes = append(e.Nodes, s.net.names[sh.nodes[i]])
	}
	return e
}
