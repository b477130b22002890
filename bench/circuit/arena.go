package circuit

// arena hands out zeroed pieces of large blocks. A Sim makes hundreds of small
// arrays that live as long as it does; one by one they would cost more than the
// arithmetic on them.
type arena[T any] struct {
	blocks [][]T
	block  int // the one in use
	used   int // elements of it
	size   int // elements per block
}

func (a *arena[T]) take(n int) []T {
	part := a.raw(n)
	clear(part)
	return part
}

// raw is take of a piece that is not zeroed.
func (a *arena[T]) raw(n int) []T {
	for a.block < len(a.blocks) && a.used+n > len(a.blocks[a.block]) {
		a.block, a.used = a.block+1, 0
	}
	if a.block == len(a.blocks) {
		a.blocks = append(a.blocks, make([]T, max(a.size, n)))
	}
	part := a.blocks[a.block][a.used : a.used+n : a.used+n]
	a.used += n
	return part
}

// piece is what was taken, to be divided.
type piece[T any] []T

// cut takes the first n elements off.
func (p *piece[T]) cut(n int) []T {
	part := (*p)[:n:n]
	*p = (*p)[n:]
	return part
}

// each calls f for every element that was handed out, and for those of a block
// that were passed over.
func (a *arena[T]) each(f func(*T)) {
	for i := 0; i < len(a.blocks) && i <= a.block; i++ {
		part := a.blocks[i]
		if i == a.block {
			part = part[:a.used]
		}
		for j := range part {
			f(&part[j])
		}
	}
}

// rewind takes back all that was handed out.
func (a *arena[T]) rewind() { a.block, a.used = 0, 0 }

// stores is the memory of a Sim that a later one can take over: what is kept
// of every state that the network has been in, and scratch.
type stores struct {
	own  memory // of solutions, which belong to the values of one network
	kept memory // of solutions of islands of the base alone

	// Of islands, which belong to what is joined with what.
	joints     []joint
	nodes      int
	marks      arena[int32]
	words      arena[uint64]
	shapeStore arena[shape]
	partStore  arena[partition]
	lists      arena[*shape]
	placeStore arena[place]
	partitions map[uint64]*partition
	shapes     map[uint64]*shape

	// still is the solution of all islands that nothing drives.
	still *solution

	base    baseStores
	mesh    mesh
	groups  []group
	picks   [2][]int32 // see sortOut
	places  [2][]place
	scratch network
	seek    seeker
	list    []condition
}

// memory is where solutions live.
type memory struct {
	floats    arena[float64]
	ints      arena[int32]
	forms     arena[uint64]
	bools     arena[bool]
	lives     arena[live]
	entries   arena[entry]
	solutions arena[solution]
}

func (m *memory) size() {
	m.floats.size, m.ints.size, m.forms.size, m.bools.size = 8192, 4096, 1024, 256
	m.lives.size, m.entries.size, m.solutions.size = 64, 256, 16
}

func (m *memory) rewind() {
	m.floats.rewind()
	m.ints.rewind()
	m.forms.rewind()
	m.bools.rewind()
	m.lives.rewind()
	m.entries.rewind()
	m.solutions.rewind()
}

// memoryOf is where the solutions of an island live, and what they hold for.
func (s *Sim) memoryOf(sh *shape) (*memory, uint64) {
	if sh.ofBase {
		return &s.stores.kept, s.base.values
	}
	return &s.stores.own, s.values
}

// joint is what of an element decides about islands.
type joint struct {
	kind    Kind
	a, b, c Node
}

// mostPartitions bounds how many divisions are kept from network to network:
// some megabytes.
const mostPartitions = 4096

func newStores() *stores {
	t := &stores{partitions: map[uint64]*partition{}, shapes: map[uint64]*shape{}}
	t.own.size()
	t.kept.size()
	t.shapeStore.size, t.partStore.size, t.lists.size = 16, 16, 256
	t.marks.size, t.words.size, t.placeStore.size = 2048, 256, 512
	t.base.size()
	return t
}

// rewind forgets the solutions but not the memory itself, and the islands too
// unless the next network joins the same nodes in the same way. What belongs to the
// base alone stays where that is the same.
func (t *stores) rewind(n *Netlist) {
	t.own.rewind()
	t.seek.sol, t.seek.l = nil, nil
	if t.joinsAlike(n) && len(t.partitions) <= mostPartitions {
		same := t.base.holds(n)
		t.shapeStore.each(func(sh *shape) {
			sh.active, sh.epoch, sh.dirty = nil, -1, false
			if !same || !sh.ofBase {
				sh.known = nil
			}
			if !same {
				sh.reduced = nil
			}
		})
		if !same {
			t.kept.rewind()
			t.base.rewind()
			t.base.note(n)
		}
		return
	}
	t.base.rewind()
	t.kept.rewind()
	t.marks.rewind()
	t.words.rewind()
	t.shapeStore.rewind()
	t.partStore.rewind()
	t.lists.rewind()
	t.placeStore.rewind()
	clear(t.partitions)
	clear(t.shapes)
	t.note(n)
}

// note remembers what the islands are divided for.
func (t *stores) note(n *Netlist) {
	t.base.note(n)
	t.nodes, t.joints = len(n.names), t.joints[:0]
	for i := range n.elements {
		t.joints = append(t.joints, n.elements[i].joint())
	}
}

func (t *stores) joinsAlike(n *Netlist) bool {
	if t.nodes != len(n.names) || len(t.joints) != len(n.elements) {
		return false
	}
	for i := range n.elements {
		if t.joints[i] != n.elements[i].joint() {
			return false
		}
	}
	return true
}

func (e *element) joint() joint { return joint{e.kind, e.a, e.b, e.c} }
