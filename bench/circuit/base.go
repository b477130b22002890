package circuit

// reduction is what the base of an island (see [Netlist.Base]) is to the rest of
// it under one combination of forms: the nodes on which nothing but conductances
// and sources of the base hangs are gone, and conductances between the others
// stand for them.
//
// Method: from star to mesh. A node with the conductances g to its neighbours,
// whose sum is G, follows these by the shares g/G and is gone for g g'/G between
// any two of them. Sums of positive numbers, so that a leak beside a contact keeps
// its digits.
type reduction struct {
	values uint64   // see baseStores
	forms  []uint64 // of the piecewise elements of the base
	edges  []branch // between the nodes that stay, the strongest first
	movers []branch // elements of the base that do not conduct at present, between nodes that stay
	steps  []step   // in the order in which the nodes went
	fed    []int32  // the steps into which a source may drive a current
	gone   []bool   // per node
	before *reduction
}

// step is a node that is gone: what it followed then, by which shares, and how far
// a current into it lifts it alone.
type step struct {
	node  int32
	near  []int32
	share []float64
	ohms  float64
}

// part is what of an element decides about the solutions that it has a share in.
type part struct{ ohms, siemens, farads float64 }

func (e *element) part() part { return part{e.ohms, e.siemens, e.farads} }

// baseStores is the memory of reductions, which outlive a network as long as the
// next one has the same base.
type baseStores struct {
	values  uint64 // changes of the base: reductions of before no longer hold
	parts   []part
	reduced arena[reduction]
	forms   arena[uint64]
	edges   arena[branch]
	steps   arena[step]
	near    arena[int32]
	share   arena[float64]
	gone    arena[bool]
}

func (b *baseStores) size() {
	b.reduced.size, b.forms.size, b.edges.size, b.steps.size = 16, 256, 512, 512
	b.near.size, b.share.size, b.gone.size = 1024, 1024, 512
}

func (b *baseStores) rewind() {
	b.values++
	b.reduced.rewind()
	b.forms.rewind()
	b.edges.rewind()
	b.steps.rewind()
	b.near.rewind()
	b.share.rewind()
	b.gone.rewind()
}

// note remembers the values of the base of a network.
func (b *baseStores) note(n *Netlist) {
	b.parts = b.parts[:0]
	for i := range n.base {
		b.parts = append(b.parts, n.elements[i].part())
	}
}

// change notes that an element of the base has another value.
func (b *baseStores) change(i int, e *element) {
	b.values++
	b.parts[i] = e.part()
}

// holds tells whether a network has the base that was noted.
func (b *baseStores) holds(n *Netlist) bool {
	if len(b.parts) != n.base {
		return false
	}
	for i := range n.base {
		if n.elements[i].part() != b.parts[i] {
			return false
		}
	}
	return true
}

// isInner marks a node that is gone in parent.
const isInner int32 = -3

// mostNear is how many neighbours a node may have to be worth its mesh.
const mostNear = 6

// reduced returns the kept or new reduction of the base of an island.
func (s *Sim) reduced(sh *shape, p *partition) *reduction {
	for r := sh.reduced; r != nil; r = r.before {
		if r.values == s.base.values && s.sameBaseForms(sh, r) {
			return r
		}
	}
	r := &s.base.reduced.take(1)[0]
	r.values, r.before, sh.reduced = s.base.values, sh.reduced, r
	r.forms = s.base.forms.take(sh.basePiecewise)
	for i := range r.forms {
		r.forms[i] = s.elements[sh.piecewise[i]].form()
	}
	if s.net.base > 0 {
		s.meshBase(sh, p, r)
	}
	return r
}

func (s *Sim) sameBaseForms(sh *shape, r *reduction) bool {
	for i, form := range r.forms {
		if s.elements[sh.piecewise[i]].form() != form {
			return false
		}
	}
	return true
}

// meshBase takes the inner nodes out of the base of an island, those with the fewest
// neighbours first.
func (s *Sim) meshBase(sh *shape, p *partition, r *reduction) {
	m, w := &s.mesh, &s.scratch
	m.begin(len(sh.nodes))
	w.movers = w.movers[:0]
	for _, i := range sh.elements {
		e := &s.elements[i]
		if int(i) >= s.net.base || e.kind == KindCapacitor || e.kind == KindCharger {
			for _, node := range [3]Node{e.a, e.b, e.c} {
				if node != Ground && s.shapeOf(p, node) == sh {
					m.stays[p.local[node]] = true
				}
			}
			continue
		}
		if e.kind == KindCurrentSource || e.a == e.b {
			continue
		}
		a, b := p.place(e.a, m.n), p.place(e.b, m.n)
		if g := e.law.siemens; g > 0 {
			m.add(a, b, g)
		} else if e.piecewise() {
			w.movers = append(w.movers, branch{a: a, b: b})
		}
	}
	m.steps = m.steps[:0]
	for node := m.next(); node >= 0; node = m.next() {
		m.steps = append(m.steps, s.base.step(m, node))
	}
	r.steps = s.base.steps.take(len(m.steps))
	copy(r.steps, m.steps)
	s.feed(sh, r)
	r.gone = s.base.gone.take(m.n)
	for i := range r.steps {
		r.gone[r.steps[i].node] = true
	}
	r.movers = s.base.edges.take(len(w.movers))
	for i, e := range w.movers {
		r.movers[i] = branch{a: r.stand(e.a, m.n), b: r.stand(e.b, m.n)}
	}
	w.edges = m.appendEdges(w.edges[:0])
	descending(w.edges)
	r.edges = s.base.edges.take(len(w.edges))
	copy(r.edges, w.edges)
}

// feed notes the steps into which a source of the base, or a step before, may drive a
// current.
func (s *Sim) feed(sh *shape, r *reduction) {
	m := &s.mesh
	fed := m.fed[:m.n+1]
	clear(fed)
	for k := range sh.sources {
		at := &sh.sources[k]
		fed[at.a], fed[at.b], fed[at.c] = true, true, true
	}
	m.near = m.near[:0]
	for i := range r.steps {
		t := &r.steps[i]
		if !fed[t.node] {
			continue
		}
		m.near = append(m.near, int32(i))
		for _, j := range t.near {
			fed[j] = true
		}
	}
	r.fed = s.base.near.take(len(m.near))
	copy(r.fed, m.near)
}

// step takes a node out of the mesh.
func (b *baseStores) step(m *mesh, node int) step {
	row := m.row(node)
	m.near = m.near[:0]
	for j, g := range row[:m.n] {
		if g > 0 {
			m.near = append(m.near, int32(j))
		}
	}
	near, share := b.near.take(len(m.near)), b.share.take(len(m.near))
	copy(near, m.near)
	sum := m.takeOut(node, near)
	for k, j := range near {
		share[k] = row[j] / sum
	}
	return step{int32(node), near, share, 1 / sum}
}

// stand returns a node that stays and is joined with a given one, which may be gone;
// n is Ground.
func (r *reduction) stand(node int32, n int) int32 {
	for i := range r.steps {
		t := &r.steps[i]
		switch {
		case t.node != node:
		case len(t.near) == 0:
			return int32(n)
		default:
			node = t.near[0]
		}
	}
	return node
}

// lacks tells whether a node is gone.
func (r *reduction) lacks(node int32) bool { return len(r.steps) > 0 && r.gone[node] }

// sink lets the currents into the nodes that are gone flow on into their
// neighbours. What is left at such a node is what it was given when it went.
func (r *reduction) sink(current []float64) {
	for _, i := range r.fed {
		t := &r.steps[i]
		x := current[t.node]
		if x == 0 {
			continue
		}
		for k, j := range t.near {
			current[j] += t.share[k] * x
		}
	}
}

// raise gives the nodes that are gone their voltages; current is nil where no source
// counts.
func (r *reduction) raise(v, current []float64) {
	for i := len(r.steps) - 1; i >= 0; i-- {
		t := &r.steps[i]
		sum := 0.0
		if current != nil {
			sum = current[t.node] * t.ohms
		}
		for k, j := range t.near {
			sum += t.share[k] * v[j]
		}
		v[t.node] = sum
	}
}

// raiseRows is raise for rows of m numbers each, without currents.
func (r *reduction) raiseRows(v []float64, m int) {
	for i := len(r.steps) - 1; i >= 0; i-- {
		t := &r.steps[i]
		row := v[int(t.node)*m : int(t.node)*m+m]
		clear(row)
		for k, j := range t.near {
			for c, x := range v[int(j)*m : int(j)*m+m] {
				row[c] += t.share[k] * x
			}
		}
	}
}

// mesh is a network of conductances between n nodes and ground, which is node n,
// in the making.
type mesh struct {
	n     int
	g     []float64 // n+1 by n+1
	stays []bool
	fed   []bool
	near  []int32
	steps []step
}

func (m *mesh) begin(n int) {
	m.n = n
	m.g = grow(m.g, (n+1)*(n+1))
	clear(m.g)
	if cap(m.stays) < n {
		m.stays, m.fed = make([]bool, n, 2*n), make([]bool, 2*n+1)
	}
	m.stays = m.stays[:n]
	clear(m.stays)
}

func (m *mesh) row(i int) []float64 { return m.g[i*(m.n+1) : (i+1)*(m.n+1)] }

func (m *mesh) add(a, b int32, siemens float64) {
	m.row(int(a))[b] += siemens
	m.row(int(b))[a] += siemens
}

// next returns the node to take out next, the first of those with the fewest
// neighbours, or -1.
func (m *mesh) next() int {
	best, least := -1, mostNear+1
	for i, stays := range m.stays {
		if stays {
			continue
		}
		count := 0
		for _, g := range m.row(i) {
			if g > 0 {
				count++
			}
		}
		if count > 0 && count < least {
			best, least = i, count
		}
	}
	return best
}

// takeOut replaces a node by conductances between its neighbours and returns the
// sum of its own, which its row keeps.
func (m *mesh) takeOut(node int, near []int32) float64 {
	m.stays[node] = true
	row, ground := m.row(node), int32(m.n)
	sum := 0.0
	for _, g := range row {
		sum += g
	}
	for k, a := range near {
		for _, b := range near[k+1:] {
			m.add(a, b, row[a]*row[b]/sum)
		}
		if g := row[ground]; g > 0 {
			m.add(a, ground, row[a]*g/sum)
		}
		m.row(int(a))[node] = 0
	}
	m.row(int(ground))[node] = 0
	return sum
}

// appendEdges lists the conductances between the nodes that are left.
func (m *mesh) appendEdges(edges []branch) []branch {
	for i := range m.n {
		for j, g := range m.row(i)[i+1:] {
			if j += i + 1; g > 0 && m.row(j)[i] > 0 {
				edges = append(edges, branch{a: int32(i), b: int32(j), value: g})
			}
		}
	}
	return edges
}
