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
	for a.block < len(a.blocks) && a.used+n > len(a.blocks[a.block]) {
		a.block, a.used = a.block+1, 0
	}
	if a.block == len(a.blocks) {
		a.blocks = append(a.blocks, make([]T, max(a.size, n)))
	}
	part := a.blocks[a.block][a.used : a.used+n : a.used+n]
	a.used += n
	clear(part)
	return part
}

// rewind takes back all that was handed out.
func (a *arena[T]) rewind() { a.block, a.used = 0, 0 }

// stores is the memory of a Sim that a later one can take over: what is kept
// of every state that the network has been in, and scratch.
type stores struct {
	floats     arena[float64]
	ints       arena[int32]
	words      arena[uint64]
	bools      arena[bool]
	lives      arena[live]
	solutions  arena[solution]
	shapeStore arena[shape]
	partStore  arena[partition]
	lists      arena[*shape]

	partitions map[uint64]*partition
	shapes     map[uint64]*shape

	groups  []group
	picks   [3][]int32 // see sortOut
	scratch network
	seek    seeker
	list    []condition
}

func newStores() *stores {
	t := &stores{partitions: map[uint64]*partition{}, shapes: map[uint64]*shape{}}
	t.floats.size, t.ints.size, t.words.size, t.bools.size = 8192, 4096, 2048, 256
	t.lives.size, t.solutions.size, t.shapeStore.size, t.partStore.size, t.lists.size = 64, 16, 16, 16, 256
	return t
}

// rewind forgets everything but the memory itself.
func (t *stores) rewind() {
	t.floats.rewind()
	t.ints.rewind()
	t.words.rewind()
	t.bools.rewind()
	t.lives.rewind()
	t.solutions.rewind()
	t.shapeStore.rewind()
	t.partStore.rewind()
	t.lists.rewind()
	clear(t.partitions)
	clear(t.shapes)
	t.seek.sol, t.seek.l = nil, nil
}
