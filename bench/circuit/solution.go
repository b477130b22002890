package circuit

// solution is what is known of an island under one combination of forms. Its
// first part follows from the conductances and capacitors alone; its modes are
// found when time first has to pass; the run is rewritten at every entry.
//
// The node voltages are v = P y + D d. The m states y are voltages over the
// branches of a tree of capacitors; a column of P lifts all nodes beyond its
// branch, and the nodes that follow these. The k eliminated variables d belong
// to the other nodes: a node without capacitance is its own d; a node that
// follows another has v = v(other) + d, and its column of D is taken orthogonal
// to P with respect to the capacitances C, D'CP = 0. So y is charge and nothing
// else (P'CP y = P'Cv whatever the offsets of diodes and sources between), and
// a node that follows takes its share of the current of its capacitance:
//
//	C y' = f - S y,   d = d0 - W y
//
// which is the network itself but for C d', the relaxation taken as settled.
type solution struct {
	values uint64    // see Sim
	forms  []uint64  // of the piecewise elements
	key    uint64    // of these
	before *solution // another of the same shape
	n      int
	m      int     // states
	k      int     // eliminated nodes
	order  []int32 // nodes with states, parents first; state j belongs to order[j]
	parent []int32 // of order[j]; n is Ground
	out    []int32 // eliminated nodes
	rep    []int32 // of out[i]: the node it follows; absent, or n, Ground
	// followers are the places in out of those that follow another.
	followers []int32
	held      []int32 // nodes with a virtual capacitor
	base      *reduction
	upper     []float64 // k by k, U of the eliminated variables with its pivots inverted; nil where lu is used
	lu        sparse    // k by k
	shares    []entry   // how far the d of a following node lowers a state
	w         []float64 // k by m
	u         []float64 // m by k, where it is not W'; f = (T'b)_y - U (T'b)_a
	s         []float64 // m by m
	chol      []float64 // m by m, L of the state capacitances
	apart     bool      // no capacitance between any two states: L has a diagonal only
	elastance []float64 // m, where apart: the inverse of each capacitance
	charge    []entry   // charges P'C of the states from capacitor voltages

	symmetric bool
	modal     bool
	lambda    []float64 // m: rates, 1/s
	reach     []float64 // m: the largest share of a mode in a node voltage
	f         []float64 // m by m: from charges (or currents) of states to modes
	b         []float64 // n+1 by m: from modes to node voltages, Ground the last

	run
}

// entry is an element of a matrix that is mostly zeros, of something by the states.
type entry struct {
	at, state int32
	value     float64
}

// eliminate finds the first part of a solution.
func (s *Sim) eliminate(sh *shape, p *partition) (*solution, error) {
	w := &s.scratch
	w.collect(s, sh, p)
	if !sh.grounded {
		if group := w.hold(len(sh.caps)); group != nil {
			return nil, s.floating(sh, group)
		}
	}
	w.settle()
	w.plant()
	for i := range w.base.steps {
		w.parent[w.base.steps[i].node] = isInner
	}
	mem, values := s.memoryOf(sh)
	sol := s.layOut(w, sh, mem)
	sol.values = values
	sol.stateCharges(w)
	if sol.apart = diagonal(sol.chol, sol.m); sol.apart {
		for j := range sol.m {
			sol.elastance[j] = 1 / sol.chol[j*sol.m+j]
		}
	}
	if !cholesky(sol.chol, sol.m) {
		return nil, &SingularError{s.net.names[sh.nodes[sol.order[0]]]}
	}
	bad := 0
	if sol.condenses() {
		bad = sol.condense(w)
	} else {
		w.assemble()
		sol.transform(w)
		bad = sol.reduce(w, mem)
	}
	if bad >= 0 {
		return nil, &SingularError{s.net.names[sh.nodes[bad]]}
	}
	sol.shares = mem.entries.take(len(w.shares))
	copy(sol.shares, w.shares)
	sol.charge = mem.entries.take(len(w.charges))
	copy(sol.charge, w.charges)
	return sol, nil
}

func (s *Sim) floating(sh *shape, group []int32) error {
	e := &FloatingError{}
	for _, i := range group {
		e.Nodes = append(e.Nodes, s.net.names[sh.nodes[i]])
	}
	return e
}

// layOut makes a solution with all its arrays.
func (s *Sim) layOut(w *network, sh *shape, mem *memory) *solution {
	n, m := w.n, len(w.order)
	k := n - m - len(w.base.steps)
	sol := &mem.solutions.take(1)[0]
	sol.n, sol.m, sol.k, sol.base = n, m, k, w.base
	sol.forms = mem.forms.take(len(sh.piecewise))
	for i, e := range sh.piecewise {
		sol.forms[i] = s.elements[e].form()
	}
	ints := piece[int32](mem.ints.take(5*m + 3*k + len(w.held)))
	sol.order, sol.parent, sol.out = ints.cut(m), ints.cut(m), ints.cut(k)
	sol.rep, sol.held, sol.busy = ints.cut(k), ints.cut(len(w.held)), ints.cut(m)[:0]
	sol.parts, sol.acts, sol.followers = ints.cut(m)[:0], ints.cut(m)[:0], ints.cut(k)[:0]
	copy(sol.held, w.held)
	copy(sol.order, w.order)
	for j, node := range w.order {
		sol.parent[j] = w.parent[node]
		w.state[node] = int32(j)
	}
	w.arrange(sol.out)
	for i, node := range sol.out {
		sol.rep[i] = absent
		w.state[node] = int32(i)
	}
	sol.symmetric = len(w.controls) == 0
	if sol.condenses() {
		sol.upper = mem.floats.raw(k * k)
	}
	sol.divide(mem.floats.raw(2*k*m + 3*m*m + (n+1)*m + 13*m + 3*(n+1) + 2*k))
	sol.slow = mem.bools.take(m)
	return sol
}

// divide makes the arrays of a solution out of one.
func (sol *solution) divide(all piece[float64]) {
	n, m, k := sol.n, sol.m, sol.k
	sol.w, sol.u = all.cut(k*m), all.cut(k*m)
	sol.s, sol.chol, sol.f = all.cut(m*m), all.cut(m*m), all.cut(m*m)
	sol.b = all.cut((n + 1) * m)
	for _, v := range [...]*[]float64{&sol.lambda, &sol.reach, &sol.rates, &sol.amp, &sol.decay, &sol.weight, &sol.early, &sol.part,
		&sol.q, &sol.force, &sol.y, &sol.spare, &sol.elastance} {
		*v = all.cut(m)
	}
	for _, v := range [...]*[]float64{&sol.offset, &sol.current, &sol.v0} {
		*v = all.cut(n + 1) // Ground is the last
	}
	sol.d0, sol.column = all.cut(k), all.cut(k)
	clear(sol.chol)
	clear(sol.reach)
	sol.offset[n], sol.v0[n] = 0, 0
	clear(sol.b[n*m:])
}

// arrange lists the nodes to eliminate, those with few neighbours first: what
// is eliminated early then leaves most of the matrix at zero.
func (w *network) arrange(out []int32) {
	w.degree = w.degree[:0]
	for i := 0; i <= w.n; i++ {
		w.degree = append(w.degree, 0)
	}
	for _, e := range w.edges {
		w.degree[e.a]++
		w.degree[e.b]++
	}
	next := 0
	for i, p := range w.parent {
		if p != absent {
			continue
		}
		j := next
		for ; j > 0 && w.degree[out[j-1]] > w.degree[i]; j-- {
			out[j] = out[j-1]
		}
		out[j] = int32(i)
		next++
	}
}

// assemble writes the node conductance matrix.
func (w *network) assemble() {
	n := w.n
	w.matrix = grow(w.matrix, n*n)
	g := w.matrix
	for i := range g {
		g[i] = 0
	}
	at := func(i, j int32, x float64) {
		if i < int32(n) && j < int32(n) {
			g[int(i)*n+int(j)] += x
		}
	}
	// The weakest go in first so that they are not lost one by one.
	for i := len(w.edges) - 1; i >= 0; i-- {
		e := w.edges[i]
		at(e.a, e.a, e.value)
		at(e.b, e.b, e.value)
		at(e.a, e.b, -e.value)
		at(e.b, e.a, -e.value)
	}
	// Of a control, settle has added the conductance from bat to gnd, which is
	// right for the row of bat only: the return current flows out of node in.
	for _, c := range w.controls {
		at(c.gnd, c.bat, c.siemens)
		at(c.gnd, c.gnd, -c.siemens)
		at(c.in, c.bat, -c.siemens)
		at(c.in, c.gnd, c.siemens)
	}
}

// addLine adds row and column from to those of to.
func (w *network) addLine(from, to int, factor float64) {
	n, g := w.n, w.matrix
	for i := 0; i < n; i++ {
		g[i*n+to] += factor * g[i*n+from]
	}
	for i := 0; i < n; i++ {
		g[to*n+i] += factor * g[from*n+i]
	}
}

// transform turns the node conductance matrix into that of states and
// eliminated variables, [P D]' G [P D].
func (sol *solution) transform(w *network) {
	for i, node := range sol.out {
		if r := sol.rep[i]; r != absent && int(r) < sol.n {
			w.addLine(int(node), int(r), 1)
		}
	}
	for j := sol.m - 1; j >= 0; j-- {
		if up := int(sol.parent[j]); up < sol.n {
			w.addLine(int(sol.order[j]), up, 1)
		}
	}
	sol.eachShare(w, func(i, j int, x float64) { w.addLine(int(sol.order[j]), int(sol.out[i]), -x) })
}

// eachShare finds how far the offsets of following nodes that have a capacitance of
// their own lower the states, keeps it, and calls f for each.
func (sol *solution) eachShare(w *network, f func(i, j int, x float64)) {
	m := sol.m
	w.shares = w.shares[:0]
	for _, i := range sol.followers {
		row := w.share[int(i)*m:][:m]
		sol.uncharge(row)
		for j, x := range row {
			if x != 0 {
				w.shares = append(w.shares, entry{i, int32(j), x})
				f(int(i), j, x)
			}
		}
	}
}

// uncharge overwrites charges of the states by their voltages, x by inv(L L') x.
func (sol *solution) uncharge(x []float64) {
	if !sol.apart {
		upperAndLower(sol.chol, sol.m, x)
		return
	}
	x = x[:len(sol.elastance)]
	for j, e := range sol.elastance {
		x[j] *= e
	}
}

// diagonal tells whether a matrix has nothing beside its diagonal.
func diagonal(a []float64, n int) bool {
	for i := range n {
		for _, x := range a[i*n : i*n+i] {
			if x != 0 {
				return false
			}
		}
	}
	return true
}

// upperAndLower overwrites x by inv(L L') x.
func upperAndLower(l []float64, n int, x []float64) {
	lowerSolve(l, n, x, 1)
	upperSolve(l, n, x, 1)
}

// stateCharges fills the state capacitance matrix (into chol) and the charge
// matrix: each capacitor spans the signed path between its nodes in the tree.
func (sol *solution) stateCharges(w *network) {
	m := sol.m
	w.block = grow(w.block, m)
	span := w.block
	w.share = grow(w.share, sol.k*m)
	clear(w.share)
	w.charges = w.charges[:0]
	for i := range w.caps {
		c := &w.caps[i]
		clear(span)
		sol.climb(w, c.a, 1, span)
		sol.climb(w, c.b, -1, span)
		for i, x := range span {
			if x == 0 {
				continue
			}
			w.charges = append(w.charges, entry{c.index, int32(i), x * c.value})
			for j, y := range span {
				sol.chol[i*m+j] += x * y * c.value
			}
		}
		sol.follow(w, c.from[0], c.a, c.value, span)
		sol.follow(w, c.from[1], c.b, -c.value, span)
	}
	for i, r := range sol.rep {
		if r != absent {
			sol.followers = append(sol.followers, int32(i))
		}
	}
}

// follow notes that a capacitor hangs on a node that follows another, and how
// much charge of the states a voltage between the two stands for: P'C D.
func (sol *solution) follow(w *network, node, rep int32, farads float64, span []float64) {
	if node == rep {
		return
	}
	i := int(w.state[node])
	sol.rep[i] = rep
	for j, x := range span {
		w.share[i*sol.m+j] += farads * x
	}
}

// climb adds sign to the states on the way from a node to its root.
func (sol *solution) climb(w *network, node int32, sign float64, span []float64) {
	for node < int32(sol.n) && w.parent[node] != absent {
		span[w.state[node]] += sign
		node = w.parent[node]
	}
}

// reduce eliminates the nodes without a state. It returns the local index of
// a node without a pivot, or -1.
func (sol *solution) reduce(w *network, mem *memory) int {
	n, m, k, g := sol.n, sol.m, sol.k, w.matrix
	w.block, w.spare = grow(w.block, k*k), grow(w.spare, k)
	if cap(w.swaps) < k {
		w.swaps = make([]int32, 2*k)
	}
	lu, column, swaps := w.block, w.spare, w.swaps[:k]
	clear(lu)
	w.filled.clear(k)
	for i, r := range sol.out {
		row := g[int(r)*n : int(r)*n+n]
		for j, c := range sol.out {
			if x := row[c]; x != 0 {
				w.filled.add(i, j)
				lu[i*k+j] = x
			}
		}
	}
	if bad := factorSparse(lu, k, swaps, &w.filled); bad >= 0 {
		return int(sol.out[bad])
	}
	sol.lu = mem.keepFactors(lu, k, swaps, &w.filled)
	for j, c := range sol.order {
		for i, r := range sol.out {
			column[i] = g[int(r)*n+int(c)]
		}
		sol.lu.solve(column)
		for i, x := range column {
			sol.w[i*m+j] = x
		}
		if !sol.symmetric {
			for i, r := range sol.out {
				column[i] = g[int(c)*n+int(r)]
			}
			solveTransposed(lu, k, swaps, column)
			copy(sol.u[j*k:j*k+k], column)
		}
	}
	for i, r := range sol.order {
		row := g[int(r)*n : int(r)*n+n]
		into := sol.s[i*m : i*m+m]
		for j, c := range sol.order {
			into[j] = row[c]
		}
		for l, o := range sol.out {
			if x := row[o]; x != 0 {
				for j, share := range sol.w[l*m : l*m+m] {
					into[j] -= x * share
				}
			}
		}
	}
	return -1
}
