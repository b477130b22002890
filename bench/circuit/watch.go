package circuit

import (
	"slices"
)

// WatchID identifies a watch of one Sim.
type WatchID int32

// watch is a threshold on a node voltage.
type watch struct {
	node   Node
	level  float64
	rising bool
	beyond bool
	on     bool
}

// Watch asks AdvanceTo to stop when the voltage of a node reaches level,
// rising or falling. A watch that is already beyond its level does not fire
// until the voltage has been back; see Beyond.
func (s *Sim) Watch(n Node, level float64, rising bool) WatchID {
	w := watch{node: n, level: level, rising: rising, on: true}
	if n != Ground {
		w.beyond = w.reached(s.Volts(n))
	} else {
		w.beyond = w.reached(0)
	}
	id := WatchID(len(s.watches))
	for i := range s.watches {
		if !s.watches[i].on {
			id = WatchID(i)
			break
		}
	}
	if int(id) == len(s.watches) {
		s.watches = append(s.watches, w)
	} else {
		s.watches[id] = w
	}
	s.attend(int32(id))
	return id
}

// Unwatch ends a watch; its id may be given out again.
func (s *Sim) Unwatch(id WatchID) {
	if id < 0 || int(id) >= len(s.watches) || !s.watches[id].on {
		return
	}
	s.forget(int32(id))
	s.watches[id].on = false
	for i, f := range s.fired {
		if f == id {
			s.fired = append(s.fired[:i], s.fired[i+1:]...)
			break
		}
	}
}

// Beyond tells whether the voltage is at or beyond the level now.
func (s *Sim) Beyond(id WatchID) bool {
	if s.Settle() != nil {
		return false
	}
	return s.watches[id].beyond
}

// reached tells whether v is at or beyond the level. A NaN is not.
func (w *watch) reached(v float64) bool {
	if w.rising {
		return v >= w.level
	}
	return v <= w.level
}

// condition holds as long as the watch stays on its side.
func (w *watch) condition(owner int32) condition {
	c := condition{node: [3]Node{w.node}, owner: owner, watch: true}
	sign := 1.0
	if w.rising != w.beyond {
		sign = -1
	}
	c.weight[0] = sign
	c.fixed = -sign * w.level
	if w.beyond {
		c.fixed += rearmVolts
	}
	return c
}

// observe compares the watches of a newly entered island with its voltages: a
// jump fires like a crossing.
func (s *Sim) observe(sh *shape) {
	island := s.part.island
	at := island[sh.nodes[0]]
	for i := range s.watches {
		w := &s.watches[i]
		if !w.on || island[w.node] != at {
			continue
		}
		v := sh.active.v0[s.part.local[w.node]]
		switch {
		case !w.beyond && w.reached(v):
			w.beyond = true
			s.fired = append(s.fired, WatchID(i))
		case w.beyond && w.rising:
			w.beyond = v >= w.level-rearmVolts
		case w.beyond:
			w.beyond = v <= w.level+rearmVolts
		}
	}
}

// cross lets a watch fire or be armed again, and with it all of the island that
// the same voltages have brought beyond their levels.
func (s *Sim) cross(sh *shape, which int32) {
	s.forget(which)
	if w := &s.watches[which]; w.beyond {
		w.beyond = false
		if w.on {
			s.attend(which)
		}
		return
	}
	for i := range s.watches {
		w := &s.watches[i]
		if !w.on || w.beyond || s.part.island[w.node] != s.part.island[sh.nodes[0]] {
			continue
		}
		if id := int32(i); id == which || w.reached(s.at(w.node, s.now)) {
			s.forget(id)
			w.beyond = true
			s.fired = append(s.fired, WatchID(i))
			s.attend(id)
		}
	}
}

func (s *Sim) takeFired() WatchID {
	slices.Sort(s.fired)
	id := s.fired[0]
	s.fired = s.fired[:copy(s.fired, s.fired[1:])]
	return id
}
