package circuit

// shape is an island as long as the same contacts are closed: its nodes and the
// elements that touch them. Partitions share shapes, and a shape keeps one
// solution per combination of forms.
type shape struct {
	nodes     []Node
	elements  []int32
	caps      []int32 // the capacitors among the elements
	sources   []int32 // the elements whose line may have a current of its own
	piecewise []int32 // the elements with segments
	solutions map[uint64]*solution
	active    *solution
	epoch     int
	dirty     bool
}

// partition is the division into islands under one set of joining elements.
type partition struct {
	joined []uint64
	shapes []*shape
	island []int32 // per node, the index into shapes; -1 for Ground
	local  []int32 // per node, its index in the shape's nodes
}

// mix spreads x over 64 bits (the finaliser of splitmix64, Steele, Lea and
// Flood, OOPSLA 2014).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// joinBits fills the scratch bit set of the elements that take part.
func (s *Sim) joinBits() (bits []uint64, hash uint64) {
	bits = s.bits
	for i := range bits {
		bits[i] = 0
	}
	for i := range s.elements {
		if s.elements[i].present() {
			bits[i>>6] |= 1 << (i & 63)
		}
	}
	for _, w := range bits {
		hash = mix(hash ^ w)
	}
	return bits, hash
}

// partitionNow returns the division into islands under the present contacts.
func (s *Sim) partitionNow() *partition {
	bits, hash := s.joinBits()
	for ; ; hash++ {
		p, ok := s.partitions[hash]
		if !ok {
			p = s.divide(bits)
			s.partitions[hash] = p
			return p
		}
		if equal(p.joined, bits) {
			return p
		}
	}
}

func equal(a, b []uint64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
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
	up := make([]int32, n)
	for i := range up {
		up[i] = int32(i)
	}
	link := func(a, b Node) {
		if a != Ground && b != Ground {
			join(up, int32(a), int32(b))
		}
	}
	for i := range s.elements {
		e := &s.elements[i]
		if e.joins() {
			link(e.a, e.b)
			if e.kind == KindCharger {
				link(e.a, e.c)
				link(e.b, e.c)
			}
		}
	}
	p := &partition{joined: append([]uint64(nil), bits...), island: make([]int32, n), local: make([]int32, n)}
	p.island[Ground], p.local[Ground] = -1, -1
	var groups []*shape
	for i := 1; i < n; i++ {
		root := find(up, int32(i))
		if int(root) == i {
			p.island[i] = int32(len(groups))
			groups = append(groups, &shape{})
		}
		g := p.island[root]
		p.island[i], p.local[i] = g, int32(len(groups[g].nodes))
		groups[g].nodes = append(groups[g].nodes, Node(i))
	}
	s.hang(p, groups)
	for _, g := range groups {
		p.shapes = append(p.shapes, s.intern(g))
	}
	return p
}

// hang gives each group the elements that touch it.
func (s *Sim) hang(p *partition, groups []*shape) {
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

// intern returns the known shape equal to g, or g itself made complete.
func (s *Sim) intern(g *shape) *shape {
	var hash uint64
	for _, n := range g.nodes {
		hash = mix(hash ^ uint64(n))
	}
	for _, e := range g.elements {
		hash = mix(hash ^ uint64(e)<<20)
	}
	for ; ; hash++ {
		known, ok := s.shapes[hash]
		if !ok {
			break
		}
		if equalIDs(known.elements, g.elements) && equalIDs(known.nodes, g.nodes) {
			return known
		}
	}
	for _, i := range g.elements {
		switch e := &s.elements[i]; e.kind {
		case KindCapacitor:
			g.caps = append(g.caps, i)
		case KindResistor, KindSwitch:
		case KindDiode, KindLimitedSupply, KindLimitedCurrentSource, KindCharger:
			g.piecewise = append(g.piecewise, i)
			g.sources = append(g.sources, i)
		default:
			g.sources = append(g.sources, i)
		}
	}
	g.solutions = map[uint64]*solution{}
	g.epoch = -1
	s.shapes[hash] = g
	return g
}

func equalIDs[T ~int32](a, b []T) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// solution returns the kept or new solution of the shape under the present
// forms of its elements.
func (s *Sim) solution(sh *shape, p *partition) (*solution, error) {
	var hash uint64
	for _, i := range sh.elements {
		if f := s.elements[i].form(); f != 0 {
			hash ^= mix(uint64(i)<<3 ^ mix(f))
		}
	}
	for ; ; hash++ {
		sol, ok := sh.solutions[hash]
		if !ok {
			break
		}
		if s.sameForms(sh, sol) {
			return sol, nil
		}
	}
	sol, err := s.eliminate(sh, p)
	if err != nil {
		return nil, err
	}
	sh.solutions[hash] = sol
	return sol, nil
}

func (s *Sim) sameForms(sh *shape, sol *solution) bool {
	for k, i := range sh.elements {
		if s.elements[i].form() != sol.forms[k] {
			return false
		}
	}
	return true
}
