package circuit

import (
	"math"
	"slices"
)

// mostStill bounds the islands that are looked at: what an open contact leaves
// behind has a few nodes.
const mostStill = 8

// nothingDrives tells whether an island has neither source nor capacitor, and a
// path to ground from every node: resistors, closed contacts, and diodes, which
// block at zero.
func (s *Sim) nothingDrives(sh *shape) bool {
	if len(sh.caps) > 0 || len(sh.sources) != len(sh.piecewise) || len(sh.nodes) > mostStill {
		return false
	}
	for _, i := range sh.piecewise {
		if s.elements[i].kind != KindDiode {
			return false
		}
	}
	return sh.grounded
}

// leads tells whether every node of an island has a path to ground of resistors and
// closed contacts.
func (s *Sim) leads(sh *shape) bool {
	w := &s.scratch
	w.n = len(sh.nodes)
	w.singletons()
	at := func(n Node) int32 {
		if n == Ground {
			return int32(w.n)
		}
		return int32(slices.Index(sh.nodes, int32(n)))
	}
	for _, i := range sh.elements {
		if e := &s.elements[i]; e.kind == KindResistor || e.kind == KindSwitch {
			join(w.up, at(e.a), at(e.b))
		}
	}
	for i := range sh.nodes {
		if find(w.up, int32(i)) != find(w.up, int32(w.n)) {
			return false
		}
	}
	return true
}

// rests enters an island that nothing drives: all its voltages are zero, and
// no network has to be solved for that. It is false where a diode conducts at
// zero.
func (s *Sim) rests(sh *shape) bool {
	for _, i := range sh.piecewise {
		if !(s.elements[i].volts > 0) {
			return false
		}
	}
	for _, i := range sh.piecewise {
		if e := &s.elements[i]; e.segment != diodeBlocks {
			e.turn(diodeBlocks)
		}
	}
	if s.still == nil {
		zero := make([]float64, mostStill+1)
		s.still = &solution{n: mostStill, modal: true, run: run{
			offset: zero, v0: zero, flowing: true, rest: math.Inf(-1), next: math.Inf(1), upTo: math.Inf(1), who: -1,
		}}
	}
	s.still.started = true
	sh.active = s.still
	return true
}
