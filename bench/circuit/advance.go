package circuit

import (
	"fmt"
	"math"
)

// maxEvents bounds the events of one advance: a charger that starts and stops
// for ever (a supply that cannot carry it) must not hang the program.
const maxEvents = 1_000_000

// Remembered is what AdvanceTo returns for a change of Memory, where
// StopAtMemory has asked for it.
const Remembered WatchID = -2

// StopAtMemory lets AdvanceTo also stop wherever Memory changes.
func (s *Sim) StopAtMemory() { s.recount, s.remembered = true, s.memory }

// AdvanceTo moves to instant t, or to the first crossing of a Watch before it
// and returns that watch; -1 when t was reached. Segments and charger timers
// change on the way. Calling again goes on; watches that fire together come one
// per call, in the order of their ids. t before Now is ErrTime.
func (s *Sim) AdvanceTo(t float64) (WatchID, error) {
	if !(t >= s.now) || math.IsInf(t, 1) {
		return -1, fmt.Errorf("advance to %g s, now is %g s: %w", t, s.now, ErrTime)
	}
	for events := 0; ; events++ {
		if err := s.Settle(); err != nil {
			return -1, err
		}
		if len(s.fired) > 0 {
			return s.takeFired(), nil
		}
		if s.recount && s.memory != s.remembered {
			s.remembered = s.memory
			return Remembered, nil
		}
		if t <= s.quietTo {
			s.now = t
			return -1, nil
		}
		at, sh, err := s.nextEvent(t)
		if err != nil {
			return -1, err
		}
		if at > t {
			s.now, s.quietTo = t, s.knownTo
			return -1, nil
		}
		if events > maxEvents {
			s.err = &ChatterError{"all", "oscillation", s.now}
			return -1, s.err
		}
		s.now, s.quietTo = max(at, s.now), math.Inf(-1)
		if s.err = s.happen(sh); s.err != nil {
			return -1, s.err
		}
	}
}

// nextEvent returns the first event up to t, and its island, nil for a charger
// timer. It leaves in knownTo up to where nothing happens before that.
func (s *Sim) nextEvent(t float64) (float64, *shape, error) {
	first, island := math.Inf(1), (*shape)(nil)
	s.knownTo = math.Inf(1)
	for _, sh := range s.part.moving {
		sol := sh.active
		if !sol.started {
			if !s.flows(sol) {
				return 0, nil, s.complexModes(sh, sol)
			}
			s.listen(sh, sol, s.part)
		}
		s.look(sol, t)
		s.knownTo = min(s.knownTo, sol.upTo)
		if sol.next < first {
			first, island = sol.next, sh
		}
	}
	for _, i := range s.chargers {
		if c := s.elements[i].charger; c.ticking() && c.nextStep < first {
			first, island = c.nextStep, nil
		}
	}
	s.knownTo = min(s.knownTo, math.Nextafter(first, math.Inf(-1)))
	return first, island, nil
}

// happen carries out the event at Now.
func (s *Sim) happen(sh *shape) error {
	if sh == nil {
		s.depart()
		for _, i := range s.chargers {
			if c := s.elements[i].charger; c.ticking() && c.nextStep <= s.now {
				c.tick()
				s.memory++
				s.touch(int(i))
			}
		}
		return nil
	}
	sol := sh.active
	l := sol.live[sol.who]
	if l.watch {
		s.cross(sh, l.owner)
		return s.count(-1)
	}
	s.depart()
	s.capture(sh)
	for _, n := range sh.nodes {
		s.trial[n] = s.volts[n]
	}
	s.move(l.owner, l.which)
	s.moved = l.owner
	if err := s.count(l.owner); err != nil {
		return err
	}
	return s.enter(sh)
}

// touch marks the islands of an element for a new entry.
func (s *Sim) touch(i int) {
	e := &s.elements[i]
	s.dirty = true
	if s.part == nil {
		return
	}
	for _, n := range [3]Node{e.a, e.b, e.c} {
		if n != Ground {
			s.shapeOf(s.part, n).dirty = true
		}
	}
}

// NextChange returns the first instant up to until at which a charger changes
// what it remembers, or until. The Sim stays where it is.
func (s *Sim) NextChange(until float64) (float64, error) {
	c, err := s.Clone()
	if err != nil {
		return 0, err
	}
	memory := c.memory
	for c.now < until {
		at, _, err := c.nextEvent(until)
		if err != nil {
			return 0, err
		}
		if _, err := c.AdvanceTo(min(at, until)); err != nil {
			return 0, err
		}
		if c.memory != memory {
			break
		}
	}
	return c.now, nil
}
