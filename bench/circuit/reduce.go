package circuit

import (
	"math"
	"slices"
)

// SettledSeconds: a relaxation between two nodes faster than this is taken as
// finished at once. A time constant of 1 ns is far below everything the twin's
// instruments see and keeps the modes of one island within 1e9 of each other,
// so that slow ones survive rounding.
const SettledSeconds = 1e-9

// heldFarads fixes the level of a group that has capacitors, or a piecewise
// element that does not conduct at present, but no connection to ground of any
// kind. A current that flows into such a group moves it on within picoseconds
// to where something conducts; otherwise nothing flows, and the value is moot.
const heldFarads = 1e-12

// branch is a conductance or a capacitor between two local nodes of an island;
// the local index n stands for Ground.
type branch struct {
	a, b  int32
	value float64
	index int32    // of a capacitor: its column in the charge matrix
	from  [2]int32 // of a capacitor: its own nodes, before it was moved
}

// control is a current siemens*(v[bat]-v[gnd]) out of node bat and into node in:
// a charger in constant voltage, whose source terms are kept apart.
type control struct {
	in, bat, gnd int32
	siemens      float64
}

// network is the linear network of one island under its present forms, and
// scratch for its reduction. It is reused from island to island.
type network struct {
	n        int
	edges    []branch // the strongest first
	own      []branch // of these, the ones beyond the base
	caps     []branch
	tree     []branch
	controls []control
	movers   []branch // elements that may yet conduct: they can end a floating state
	held     []int32  // nodes with a virtual capacitor to ground
	base     *reduction
	rep      []int32 // per node: the node that it follows, or itself
	up       []int32
	alone    []int32 // up of nodes that nothing joins
	degree   []int32
	attached []float64
	parent   []int32 // per node: tree parent; absent for eliminated nodes
	state    []int32 // per node: its place in the solution's order or out
	order    []int32 // nodes with a tree parent, parents first
	matrix   []float64
	block    []float64
	spare    []float64
	swaps    []int32
	filled   pattern

	terms   []uint64  // of condense: the variables of each node
	share   []float64 // k by m: charges of the states by offsets of following nodes
	shares  []entry   // of the solution in the making
	charges []entry
}

const absent int32 = -2

// collect reads the conductances and capacitors of an island: its base as it was
// reduced, and what hangs on it.
func (w *network) collect(s *Sim, sh *shape, p *partition) {
	w.n, w.base = len(sh.nodes), s.reduced(sh, p)
	w.own = w.own[:0]
	w.movers = append(w.movers[:0], w.base.movers...)
	w.caps, w.controls, w.held = w.caps[:0], w.controls[:0], w.held[:0]
	at := func(node Node) int32 { return p.place(node, w.n) }
	edge := func(a, b Node, siemens float64) {
		if siemens > 0 && a != b {
			w.own = append(w.own, branch{a: at(a), b: at(b), value: siemens})
		}
	}
	column := int32(0)
	for _, i := range sh.rest {
		e := &s.elements[i]
		switch e.kind {
		case KindCapacitor:
			if e.a != e.b {
				w.addCap(at(e.a), at(e.b), e.farads, column)
			}
			column++
		case KindCurrentSource:
		case KindCharger:
			e.charger.conductances(e, edge)
			if e.charger.form() == 1 {
				w.controls = append(w.controls, control{at(e.a), at(e.b), at(e.c), 1 / e.charger.OutputOhms})
			}
		default:
			g := e.law.siemens
			edge(e.a, e.b, g)
			if g == 0 && e.piecewise() {
				w.movers = append(w.movers, branch{a: at(e.a), b: at(e.b)})
			}
		}
	}
	w.merge()
}

// merge makes one falling list of the edges of the base, which fall, and the others.
func (w *network) merge() {
	descending(w.own)
	w.edges = append(append(w.edges[:0], w.base.edges...), w.own...)
	i, j := len(w.base.edges)-1, len(w.own)-1
	for k := len(w.edges) - 1; j >= 0; k-- {
		if i >= 0 && w.edges[i].value < w.own[j].value {
			w.edges[k] = w.edges[i]
			i--
		} else {
			w.edges[k] = w.own[j]
			j--
		}
	}
}

func (w *network) addCap(a, b int32, farads float64, column int32) {
	w.caps = append(w.caps, branch{a, b, farads, column, [2]int32{a, b}})
}

func (w *network) singletons() {
	for i := len(w.alone); i <= w.n; i++ {
		w.alone = append(w.alone, int32(i))
	}
	w.up = append(w.up[:0], w.alone[:w.n+1]...)
}

// hold gives every group without any connection to ground its virtual
// capacitor. It returns the nodes of a group that has no capacitor at all, and
// no element that could move it or begin to conduct.
func (w *network) hold(columns int) []int32 {
	w.singletons()
	for _, e := range w.edges {
		join(w.up, e.a, e.b)
	}
	for _, c := range w.controls {
		join(w.up, c.bat, c.gnd)
	}
	for _, c := range w.caps {
		join(w.up, c.a, c.b)
	}
	ground := find(w.up, int32(w.n))
	for i := int32(0); i < int32(w.n); i++ {
		root := find(w.up, i)
		if root == ground || root != i || w.base.lacks(i) {
			continue
		}
		charged := false
		for _, c := range w.caps {
			charged = charged || find(w.up, c.a) == root
		}
		for _, e := range w.movers {
			charged = charged || find(w.up, e.a) == root || find(w.up, e.b) == root
		}
		if !charged {
			return w.group(root)
		}
		w.addCap(i, int32(w.n), heldFarads, int32(columns+len(w.held)))
		w.held = append(w.held, i)
	}
	return nil
}

func (w *network) group(root int32) []int32 {
	var nodes []int32
	for i := int32(0); i < int32(w.n); i++ {
		if find(w.up, i) == root {
			nodes = append(nodes, i)
		}
	}
	return nodes
}

// settle finds for each node the one that it follows: itself, or a neighbour
// to which it relaxes within SettledSeconds. Strong conductances
// come first, so that a node without capacitance goes where it really hangs.
func (w *network) settle() {
	n := int32(w.n)
	w.attached = grow(w.attached, w.n+1)
	for i := range w.attached {
		w.attached[i] = 0
	}
	for _, c := range w.caps {
		w.attached[c.a] += c.value
		w.attached[c.b] += c.value
	}
	if len(w.controls) > 0 {
		for _, c := range w.controls {
			w.edges = append(w.edges, branch{a: c.bat, b: c.gnd, value: c.siemens})
		}
		descending(w.edges)
	}
	w.singletons()
	ground, least := n, w.leastAttached()
	for i := range w.edges {
		e := &w.edges[i]
		if e.value*SettledSeconds < least {
			break // from here on nothing that carries capacitance follows
		}
		a, b := find(w.up, e.a), find(w.up, e.b)
		if a == b {
			continue
		}
		if b == ground || (a != ground && w.attached[b] > w.attached[a]) {
			a, b = b, a
		}
		if w.attached[b] < e.value*SettledSeconds {
			w.up[b] = a
			w.attached[a] += w.attached[b]
		}
	}
	w.rep = w.rep[:0]
	for i := int32(0); i <= n; i++ {
		w.rep = append(w.rep, find(w.up, i))
	}
	w.dropBridged()
}

// leastAttached is the least capacitance at a node that has any.
func (w *network) leastAttached() float64 {
	least := math.Inf(1)
	for _, c := range w.attached {
		if c > 0 && c < least {
			least = c
		}
	}
	return least
}

// dropBridged moves the capacitors to the nodes that are followed and drops
// those that a conductance discharges within SettledSeconds, together with all
// others between the same two nodes.
func (w *network) dropBridged() {
	moved := w.caps[:0]
	for _, c := range w.caps {
		if c.a, c.b = w.rep[c.a], w.rep[c.b]; c.a != c.b {
			moved = append(moved, c)
		}
	}
	w.spare = grow(w.spare, len(moved))
	for i := range moved {
		w.spare[i] = w.beyondBridges(&moved[i], moved)
	}
	kept := moved[:0]
	for i, c := range moved {
		if w.spare[i] >= 0 {
			kept = append(kept, c)
		}
	}
	w.caps = kept
}

// beyondBridges returns what the capacitors between two nodes hold beyond what
// conductances between the same two discharge within SettledSeconds. It stops
// where its sign is certain: the strongest conductances come first.
func (w *network) beyondBridges(c *branch, all []branch) float64 {
	spare := 0.0
	for i := range all {
		if c.parallel(all[i].a, all[i].b) {
			spare += all[i].value
		}
	}
	for i := range w.edges {
		e := &w.edges[i]
		if most := e.value * SettledSeconds; spare < 0 || spare > most*float64(len(w.edges)-i) {
			break
		}
		if a, b := w.rep[e.a], w.rep[e.b]; a != b && c.parallel(a, b) {
			spare -= e.value * SettledSeconds
		}
	}
	return spare
}

// parallel tells whether a branch has these ends, either way.
func (c *branch) parallel(a, b int32) bool {
	return (c.a == a && c.b == b) || (c.a == b && c.b == a)
}

// plant spans the nodes that carry capacitance by a tree of the largest
// capacitors. The voltages over its branches are the state of the island.
func (w *network) plant() {
	n := int32(w.n)
	descending(w.caps)
	w.singletons()
	w.tree = w.tree[:0]
	for _, c := range w.caps {
		if find(w.up, c.a) != find(w.up, c.b) {
			join(w.up, c.a, c.b)
			w.tree = append(w.tree, c)
		}
	}
	w.parent, w.order, w.state = w.parent[:0], w.order[:0], slices.Grow(w.state[:0], w.n)[:w.n]
	for range w.n {
		w.parent = append(w.parent, absent)
	}
	ground := find(w.up, n)
	for i := int32(0); i <= n; i++ {
		if w.attached[i] == 0 && i != ground {
			continue // no branch ends here
		}
		if find(w.up, i) == i {
			start := i
			if i == ground {
				start = n
			}
			w.branchOut(start)
		}
	}
}

// branchOut orders the tree around a root, breadth first.
func (w *network) branchOut(root int32) {
	first := len(w.order)
	for at := root; ; {
		for _, c := range w.tree {
			far := c.b
			if c.b == at {
				far = c.a
			} else if c.a != at {
				continue
			}
			if far != root && far < int32(w.n) && w.parent[far] == absent {
				w.parent[far] = at
				w.order = append(w.order, far)
			}
		}
		if first == len(w.order) {
			return
		}
		at = w.order[first]
		first++
	}
}

func grow(x []float64, n int) []float64 {
	if cap(x) < n {
		return make([]float64, n, 2*n)
	}
	return x[:n]
}

// descending sorts by falling value; stable, and quick for the few branches of
// an island.
func descending(x []branch) {
	for i := 1; i < len(x); i++ {
		b, j := x[i], i
		if x[i-1].value >= b.value {
			continue
		}
		for low := 0; low < j; {
			if half := (low + j) / 2; x[half].value < b.value {
				j = half
			} else {
				low = half + 1
			}
		}
		copy(x[j+1:i+1], x[j:i])
		x[j] = b
	}
}
