package circuit

import "slices"

// shape is an island as long as the same contacts are closed: its nodes and the
// elements that touch them. Partitions share shapes, and a shape keeps one
// solution per combination of forms.
type shape struct {
	nodes     []int32 // as Node
	elements  []int32
	caps      []int32 // the capacitors among the elements
	sources   []place // the elements whose line may have a current of its own
	piecewise []int32 // the elements with segments
	pieces    []place // the same
	rest      []int32 // the elements beyond the base, and its capacitors
	// basePiecewise is how many of the elements with segments belong to the base.
	basePiecewise int
	reduced       *reduction // the reduction of the base found last
	inert         bool       // nothing drives it: see still.go
	grounded      bool       // every node has a path to ground
	ofBase        bool       // all of its elements belong to the base
	known         *solution  // the solution found last; the others follow it
	active        *solution
	epoch         int
	dirty         bool
}

// place is an element of a shape with its nodes by their local index. Ground has the
// index behind all nodes, and so has a node of another island.
type place struct{ element, a, b, c int32 }

// partition is the division into islands under one set of joining elements.
type partition struct {
	joined []uint64
	shapes []*shape
	moving []*shape // those that time changes: with capacitors, or without a path to ground
	island []int32  // per node, the index into shapes; -1 for Ground
	local  []int32  // per node, its index in the shape's nodes
}

// place returns the local index of a node of an island of n nodes; n is Ground.
func (p *partition) place(node Node, n int) int32 {
	if node == Ground {
		return int32(n)
	}
	return p.local[node]
}

// spreader carries every bit of a number upwards when it multiplies it: the odd
// 64-bit number next to 2^64 over the golden ratio.
const spreader = 0x9e3779b97f4a7c15

// mix spreads x over 64 bits (the finaliser of splitmix64, Steele, Lea and
// Flood, OOPSLA 2014).
func mix(x uint64) uint64 {
	x += spreader
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// flip changes whether an element takes part.
func (s *Sim) flip(i int) {
	s.bits[i>>6] ^= 1 << (i & 63)
	s.moves = true
}

// partitionNow returns the division into islands under the present contacts.
func (s *Sim) partitionNow() *partition {
	if !s.moves {
		return s.part
	}
	s.moves = false
	var hash uint64
	for _, w := range s.bits {
		hash = mix(hash ^ w)
	}
	for ; ; hash++ {
		p, ok := s.partitions[hash]
		if !ok {
			p = s.divide(s.bits)
			s.partitions[hash] = p
			return p
		}
		if slices.Equal(p.joined, s.bits) {
			return p
		}
	}
}

// find returns the root of i in a union-find forest, halving the way.
func find(up []int32, i int32) int32 {
	for up[i] != i {
		up[i] = up[up[i]]
		i = up[i]
	}
	return i
}

func join(up []int32, a, b int32) {
	a, b = find(up, a), find(up, b)
	if a < b {
		up[b] = a
	} else {
		up[a] = b
	}
}

// divide finds the islands: nodes joined by elements, Ground joining nothing.
func (s *Sim) divide(bits []uint64) *partition {
	n := len(s.volts)
	s.scratch.n = n - 1
	s.scratch.singletons()
	up := s.scratch.up
	link := func(a, b Node) {
		if a != Ground && b != Ground {
			join(up, int32(a), int32(b))
		}
	}
	for i := range s.elements {
		if e := &s.elements[i]; e.joins() {
			link(e.a, e.b)
			if e.kind == KindCharger {
				link(e.a, e.c)
				link(e.b, e.c)
			}
		}
	}
	p := &s.partStore.take(1)[0]
	p.joined, p.island, p.local = s.words.take(len(bits)), s.marks.take(n), s.marks.take(n)
	copy(p.joined, bits)
	p.island[Ground], p.local[Ground] = -1, -1
	groups := s.groups[:0]
	for i := 1; i < n; i++ {
		root := find(up, int32(i))
		if int(root) == i {
			p.island[i] = int32(len(groups))
			if len(groups) < cap(groups) {
				groups = groups[:len(groups)+1]
				g := &groups[len(groups)-1]
				g.nodes, g.elements = g.nodes[:0], g.elements[:0]
			} else {
				groups = append(groups, group{})
			}
		}
		g := p.island[root]
		p.island[i], p.local[i] = g, int32(len(groups[g].nodes))
		groups[g].nodes = append(groups[g].nodes, int32(i))
	}
	s.groups = groups
	s.hang(p, groups)
	p.shapes = s.lists.take(len(groups))
	moving := 0
	for i := range groups {
		p.shapes[i] = s.intern(&groups[i], p)
		if p.shapes[i].moves() {
			moving++
		}
	}
	p.moving = s.lists.take(moving)[:0]
	for _, sh := range p.shapes {
		if sh.moves() {
			p.moving = append(p.moving, sh)
		}
	}
	return p
}

// moves tells whether time can change the voltages of an island.
func (sh *shape) moves() bool { return len(sh.caps) > 0 || !sh.grounded }

// group is a shape in the making; scratch.
type group struct{ nodes, elements []int32 }

// hang gives each group the elements that touch it.
func (s *Sim) hang(p *partition, groups []group) {
	for i := range s.elements {
		e := &s.elements[i]
		if !e.present() {
			continue
		}
		last := int32(-1)
		for _, node := range [3]Node{e.a, e.b, e.c} {
			if g := p.island[node]; g >= 0 && g != last {
				groups[g].elements = append(groups[g].elements, int32(i))
				last = g
			}
		}
	}
}

// intern returns the known shape of a group, or a new one.
func (s *Sim) intern(g *group, p *partition) *shape {
	var hash uint64
	for _, n := range g.nodes {
		hash = (hash ^ uint64(n)) * spreader
	}
	for _, e := range g.elements {
		hash = (hash ^ uint64(e)) * spreader
	}
	for hash = mix(hash); ; hash++ {
		known, ok := s.shapes[hash]
		if !ok {
			break
		}
		if slices.Equal(known.elements, g.elements) && slices.Equal(known.nodes, g.nodes) {
			return known
		}
	}
	sh := &s.shapeStore.take(1)[0]
	sh.epoch, sh.nodes, sh.elements = -1, s.marks.take(len(g.nodes)), s.marks.take(len(g.elements))
	copy(sh.nodes, g.nodes)
	copy(sh.elements, g.elements)
	s.sortOut(sh, p)
	s.shapes[hash] = sh
	return sh
}

// sortOut lists the elements of a new shape by what is asked of them.
func (s *Sim) sortOut(sh *shape, p *partition) {
	sh.ofBase = true
	caps, rest := s.picks[0][:0], s.picks[1][:0]
	piecewise, sources := s.places[0][:0], s.places[1][:0]
	for _, i := range sh.elements {
		e := &s.elements[i]
		sh.ofBase = sh.ofBase && int(i) < s.net.base && e.kind != KindCharger
		if int(i) >= s.net.base || e.kind == KindCapacitor || e.kind == KindCharger {
			rest = append(rest, i)
		}
		switch e.kind {
		case KindResistor, KindSwitch:
		case KindCapacitor:
			caps = append(caps, i)
		default:
			sources = append(sources, sh.place(i, e, p))
			if e.piecewise() || e.kind == KindCharger {
				piecewise = append(piecewise, sources[len(sources)-1])
				if int(i) < s.net.base {
					sh.basePiecewise++
				}
			}
		}
	}
	s.picks, s.places = [2][]int32{caps, rest}, [2][]place{piecewise, sources}
	for i, to := range [2]*[]int32{&sh.caps, &sh.rest} {
		*to = s.marks.take(len(s.picks[i]))
		copy(*to, s.picks[i])
	}
	for i, to := range [2]*[]place{&sh.pieces, &sh.sources} {
		*to = s.placeStore.take(len(s.places[i]))
		copy(*to, s.places[i])
	}
	sh.piecewise = s.marks.take(len(sh.pieces))
	for i := range sh.pieces {
		sh.piecewise[i] = sh.pieces[i].element
	}
	sh.grounded = s.leads(sh)
	sh.inert = s.nothingDrives(sh)
}

func (sh *shape) place(i int32, e *element, p *partition) place {
	local := func(n Node) int32 {
		if n != Ground && p.island[n] == p.island[sh.nodes[0]] {
			return p.local[n]
		}
		return int32(len(sh.nodes))
	}
	return place{i, local(e.a), local(e.b), local(e.c)}
}

// solution returns the kept or new solution of the shape under the present
// forms of its elements.
func (s *Sim) solution(sh *shape, p *partition) (*solution, error) {
	_, values := s.memoryOf(sh)
	key := s.key(sh)
	for sol := sh.known; sol != nil; sol = sol.before {
		if sol.key == key && sol.values == values && (len(sh.pieces) <= mostForms || s.sameForms(sh, sol)) {
			return sol, nil
		}
	}
	sol, err := s.eliminate(sh, p)
	if err != nil {
		return nil, err
	}
	sol.key, sol.before, sh.known = key, sh.known, sol
	return sol, nil
}

// mostForms is how many forms a key holds; of more it holds a hash.
const mostForms = 64 / formBits

// key is made of the present forms of the elements of a shape.
func (s *Sim) key(sh *shape) uint64 {
	key := uint64(0)
	for k, i := range sh.piecewise {
		if k%mostForms == 0 && k > 0 {
			key = mix(key)
		}
		key = key<<formBits ^ s.elements[i].form()
	}
	return key
}

func (s *Sim) sameForms(sh *shape, sol *solution) bool {
	for k, i := range sh.piecewise {
		if s.elements[i].form() != sol.forms[k] {
			return false
		}
	}
	return true
}
