package circuit

// TieOhms ties a group of nodes without a path to ground while segments are
// searched: a current source then drives the group as far as it takes for an
// element to leave a segment that conducts nothing.
const TieOhms = 1e12

// DC returns the node voltages, indexed by Node, at which the network would
// rest: capacitors open, contacts and what chargers remember as they are now,
// every element on the part of its characteristic that fits (checked against
// all conditions). The Sim stays where it is. A node without a path to ground
// is a FloatingError, a search without end a ChatterError.
func (s *Sim) DC() ([]float64, error) {
	volts, loose, err := s.DCTied()
	if err != nil {
		return nil, err
	}
	if loose != nil {
		return nil, s.looseError(loose)
	}
	return volts, nil
}

func (s *Sim) looseError(nodes []Node) error {
	e := &FloatingError{}
	for _, n := range nodes {
		e.Nodes = append(e.Nodes, s.net.names[n])
	}
	return e
}

// DCTied is DC with the first node of every group without a path to ground tied
// to ground by TieOhms, and tells these nodes.
func (s *Sim) DCTied() (volts []float64, tied []Node, err error) {
	if err := s.Settle(); err != nil {
		return nil, nil, err
	}
	kept := append([]element(nil), s.elements...)
	var paths []charger
	for _, i := range s.chargers {
		paths = append(paths, *s.elements[i].charger)
	}
	tied, err = s.rest(true)
	copy(s.elements, kept)
	for k, i := range s.chargers {
		*s.elements[i].charger = paths[k]
	}
	if err != nil {
		return nil, nil, err
	}
	return append([]float64(nil), s.trial...), tied, nil
}

// OperatingPoint moves the Sim, at Now, to a point of rest: as DC, but chargers
// leave lock-outs and end the charge as they would, and every capacitor takes
// the voltage it has there. A charger that would begin and end in turns has no
// point of rest: ChatterError.
func (s *Sim) OperatingPoint() error {
	if err := s.Settle(); err != nil {
		return err
	}
	loose, err := s.rest(false)
	if err != nil {
		return err
	}
	if loose != nil {
		return s.looseError(loose)
	}
	copy(s.volts, s.trial)
	for i := range s.elements {
		if e := &s.elements[i]; e.kind == KindCapacitor {
			e.volts = s.trial[e.a] - s.trial[e.b]
		}
	}
	for _, sh := range s.part.shapes {
		sh.active = nil
	}
	s.dirty = true
	return s.Settle()
}

// rest searches the segments of a DC solution and leaves its voltages in trial.
// It returns the nodes that had to be tied.
func (s *Sim) rest(freeze bool) ([]Node, error) {
	if s.movers == nil {
		s.movers = []int32{}
		for i := range s.elements {
			if e := &s.elements[i]; e.piecewise() || e.kind == KindCharger {
				s.movers = append(s.movers, int32(i))
			}
		}
	}
	if err := s.settleSegments(nil, s.movers, freeze); err != nil {
		return nil, err
	}
	return s.loose, nil
}

// attemptDC solves the network at rest for the present segments.
func (s *Sim) attemptDC() error {
	n := len(s.volts) - 1
	w := &s.scratch
	w.matrix, w.block = grow(w.matrix, n*n), grow(w.block, n)
	if cap(w.swaps) < n {
		w.swaps = make([]int32, n)
	}
	s.assembleDC(w.matrix, w.block, n)
	s.loose = s.tie(w.matrix, n)
	if bad := factor(w.matrix, n, w.swaps[:n]); bad >= 0 {
		return &SingularError{s.net.names[bad+1]}
	}
	solve(w.matrix, n, w.swaps[:n], w.block)
	copy(s.trial[1:], w.block)
	for i, v := range s.trial {
		if !finite(v) {
			return &SingularError{s.net.names[i]}
		}
	}
	return nil
}

// assembleDC writes the conductance matrix and the currents of all nodes but
// Ground.
func (s *Sim) assembleDC(g, b []float64, n int) {
	for i := range g {
		g[i] = 0
	}
	for i := range b {
		b[i] = 0
	}
	at := func(i, j Node, x float64) {
		if i > 0 && j > 0 {
			g[int(i-1)*n+int(j-1)] += x
		}
	}
	drive := func(i Node, x float64) {
		if i > 0 {
			b[i-1] += x
		}
	}
	s.conductances(func(a, c Node, x float64) {
		at(a, a, x)
		at(c, c, x)
		at(a, c, -x)
		at(c, a, -x)
	})
	for i := range s.elements {
		e := &s.elements[i]
		if c := e.charger; c != nil {
			if c.form() == 1 {
				x := 1 / c.OutputOhms
				at(e.b, e.b, x)
				at(e.b, e.c, -x)
				at(e.a, e.b, -x)
				at(e.a, e.c, x)
			}
			bat, quiescent := c.drives()
			drive(e.a, -bat-quiescent)
			drive(e.b, bat)
			drive(e.c, quiescent)
			continue
		}
		if x := e.law.amperes; x != 0 {
			drive(e.a, -x)
			drive(e.b, x)
		}
	}
}

// conductances reports every present conductance between two nodes, a charger
// in constant voltage excepted.
func (s *Sim) conductances(report func(a, b Node, siemens float64)) {
	for i := range s.elements {
		e := &s.elements[i]
		if c := e.charger; c != nil {
			c.conductances(e, report)
		} else if g := e.law.siemens; g > 0 && e.a != e.b {
			report(e.a, e.b, g)
		}
	}
}

// tie connects the first node of each group without a path to ground by TieOhms
// and returns these nodes.
func (s *Sim) tie(g []float64, n int) []Node {
	w := &s.scratch
	w.n = n
	w.singletons() // here by Node, Ground first
	link := func(a, b Node, _ float64) { join(w.up, int32(a), int32(b)) }
	s.conductances(link)
	for _, i := range s.chargers {
		if e := &s.elements[i]; e.charger.form() == 1 {
			link(e.b, e.c, 0)
		}
	}
	var tied []Node
	for i := 1; i <= n; i++ {
		if find(w.up, int32(i)) == int32(i) {
			g[(i-1)*n+i-1] += 1 / TieOhms
			tied = append(tied, Node(i))
		}
	}
	return tied
}
