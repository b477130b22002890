package circuit

// leaf is a node on which nothing but conductances hangs, to one other node and
// to ground: the tap of a divider, the far end of an open contact. It follows
// its neighbour by a ratio and needs no place among the eliminated variables,
// of which a bench would have a third more with it.
type leaf struct {
	node, beside int32
	ratio        float64
}

// Entries of beside: a node without neighbours, one with several; a leaf is at
// firstLeaf and below, by its place among the leaves.
const (
	alone     int32 = -1
	several   int32 = -2
	firstLeaf int32 = -3
)

// isLeaf marks a leaf in parent.
const isLeaf int32 = -3

// prune takes the leaves off; the neighbour of each keeps what it conducts to
// ground.
func (w *network) prune() {
	w.findLeaves()
	if len(w.leaves) == 0 {
		return
	}
	n := int32(w.n)
	w.spare = grow(w.spare, 2*len(w.leaves))
	clear(w.spare)
	kept := w.edges[:0]
	for _, e := range w.edges {
		a, b := w.leafAt(e.a), w.leafAt(e.b)
		i := max(a, b)
		switch {
		case i < 0:
			kept = append(kept, e)
		case e.a == n || e.b == n:
			w.spare[2*i+1] += e.value
		default:
			w.spare[2*i] += e.value
		}
	}
	w.edges = kept
	for i := range w.leaves {
		l := &w.leaves[i]
		aside, down := w.spare[2*i], w.spare[2*i+1]
		l.ratio = aside / (aside + down)
		if down > 0 {
			w.edges = append(w.edges, branch{a: l.beside, b: n, value: down * l.ratio})
		}
	}
}

// findLeaves lists the leaves. Of two that have only each other one stays.
func (w *network) findLeaves() {
	n := int32(w.n)
	w.leaves, w.beside = w.leaves[:0], w.beside[:0]
	for range n {
		w.beside = append(w.beside, alone)
	}
	for i := range w.edges {
		if e := &w.edges[i]; e.a < n && e.b < n {
			w.meet(e.a, e.b)
			w.meet(e.b, e.a)
		}
	}
	for x := range n {
		if y := w.beside[x]; y >= 0 && !w.busy[x] && w.beside[y] > firstLeaf {
			w.beside[x] = firstLeaf - int32(len(w.leaves))
			w.leaves = append(w.leaves, leaf{node: x, beside: y})
		}
	}
}

func (w *network) meet(a, b int32) {
	if w.beside[a] == alone {
		w.beside[a] = b
	} else if w.beside[a] != b {
		w.beside[a] = several
	}
}

// leafAt returns the place of a node among the leaves, -1 for other nodes.
func (w *network) leafAt(node int32) int32 {
	if node < int32(w.n) && w.beside[node] <= firstLeaf {
		return firstLeaf - w.beside[node]
	}
	return -1
}
