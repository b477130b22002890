package circuit

import (
	"math"
	"math/bits"
)

// mostCondensed is how many variables a word of bits holds. The twin's largest
// island has some forty; a larger one goes the way of a full matrix.
const mostCondensed = 64

// condense is assemble, transform and reduce in one for an island without
// controls. The conductances between eliminated variables and states are then
// one symmetric positive definite matrix with three or four entries in a row,
// which is factored where it is filled, without a search for pivots (Golub and
// Van Loan, Matrix Computations, 4.2: Gaussian elimination is stable there).
func (sol *solution) condense(w *network, mem *memory) int {
	size := sol.k + sol.m
	w.matrix = grow(w.matrix, size*size)
	clear(w.matrix)
	clear(w.rows[:size])
	w.compose(sol)
	// The weakest go in first so that they are not lost one by one.
	for i := len(w.edges) - 1; i >= 0; i-- {
		w.stamp(&w.edges[i], size)
	}
	sol.shareOut(w)
	if bad := w.factorRows(sol.k, size); bad >= 0 {
		return int(sol.out[bad])
	}
	sol.keepRows(w, mem)
	sol.backSubstitute(w)
	return -1
}

// compose lists for each node the variables whose sum is its voltage:
// eliminated ones by their index, states after them.
func (w *network) compose(sol *solution) {
	n, k := int32(sol.n), int32(sol.k)
	w.terms, w.ends = w.terms[:0], w.ends[:0]
	for node := int32(0); node <= n; node++ {
		if node < n && w.parent[node] == isInner {
			w.ends = append(w.ends, int32(len(w.terms)))
			continue
		}
		at := node
		if node < n && w.parent[node] == absent {
			i := w.state[node]
			w.terms = append(w.terms, i)
			if at = sol.rep[i]; at == absent {
				at = n
			}
		}
		for at < n && w.parent[at] != absent {
			w.terms = append(w.terms, k+w.state[at])
			at = w.parent[at]
		}
		if at < n { // the root of a tree that does not stand on Ground
			w.terms = append(w.terms, w.state[at])
		}
		w.ends = append(w.ends, int32(len(w.terms)))
	}
}

// termsOf returns the variables of a node.
func (w *network) termsOf(node int32) []int32 {
	first := int32(0)
	if node > 0 {
		first = w.ends[node-1]
	}
	return w.terms[first:w.ends[node]]
}

// stamp adds a conductance between two nodes to the matrix.
func (w *network) stamp(e *branch, size int) {
	if a, b := w.termsOf(e.a), w.termsOf(e.b); len(a) <= 1 && len(b) <= 1 {
		w.stampPair(a, b, e.value, size)
		return
	}
	plus, minus := w.plus[:0], w.minus[:0]
	plus = append(plus, w.termsOf(e.a)...)
next:
	for _, t := range w.termsOf(e.b) {
		for i, p := range plus {
			if p == t {
				plus[i] = plus[len(plus)-1]
				plus = plus[:len(plus)-1]
				continue next
			}
		}
		minus = append(minus, t)
	}
	w.plus, w.minus = plus, minus
	w.spreadOver(plus, plus, e.value, size)
	w.spreadOver(plus, minus, -e.value, size)
	w.spreadOver(minus, plus, -e.value, size)
	w.spreadOver(minus, minus, e.value, size)
}

// stampPair is stamp for two nodes that are one variable each, or Ground, which is
// none.
func (w *network) stampPair(a, b []int32, x float64, size int) {
	switch {
	case len(a) == 0:
		a, b = b, nil
		if len(a) == 0 {
			return
		}
	case len(b) > 0 && a[0] == b[0]:
		return
	}
	i := int(a[0])
	w.matrix[i*size+i] += x
	w.rows[i] |= 1 << i
	if len(b) == 0 {
		return
	}
	j := int(b[0])
	w.matrix[j*size+j] += x
	w.matrix[i*size+j] -= x
	w.matrix[j*size+i] -= x
	w.rows[i] |= 1 << j
	w.rows[j] |= 1<<i | 1<<j
}

func (w *network) spreadOver(rows, columns []int32, x float64, size int) {
	for _, r := range rows {
		row := w.matrix[int(r)*size : int(r)*size+size]
		for _, c := range columns {
			row[c] += x
			w.rows[r] |= 1 << c
		}
	}
}

// shareOut accounts for nodes that follow another and have a capacitance of
// their own: their offset lowers the states.
func (sol *solution) shareOut(w *network) {
	size := sol.k + sol.m
	for i := range sol.out {
		if sol.rep[i] == absent {
			continue
		}
		row := sol.share[i*sol.m : (i+1)*sol.m]
		upperAndLower(sol.chol, sol.m, row)
		for j, x := range row {
			if x == 0 {
				continue
			}
			g, y := w.matrix, sol.k+j
			for r := range size {
				g[r*size+i] -= x * g[r*size+y]
				w.rows[r] |= 1 << i
			}
			for c := range size {
				g[i*size+c] -= x * g[y*size+c]
				w.rows[i] |= 1 << c
			}
		}
	}
}

// factorRows eliminates the first k variables. What is left of the others is
// their Schur complement. It returns a variable without a pivot, or -1.
func (w *network) factorRows(k, size int) int {
	g := w.matrix
	for i := range k {
		w.scale[i] = g[i*size+i]
	}
	for i := range k {
		top := g[i*size : i*size+size]
		if p := top[i]; !(p > pivotFloor*w.scale[i]) || math.IsInf(p, 0) {
			return i
		}
		beyond := w.rows[i] &^ (2<<i - 1)
		inv := 1 / top[i]
		for left := beyond; left != 0; left &= left - 1 {
			r := bits.TrailingZeros64(left)
			l, row := top[r]*inv, g[r*size:r*size+size]
			w.rows[r] |= beyond
			for rest := left; rest != 0; rest &= rest - 1 {
				c := bits.TrailingZeros64(rest)
				row[c] -= l * top[c]
			}
		}
	}
	return -1
}

// keepRows stores the factors of the eliminated variables.
func (sol *solution) keepRows(w *network, mem *memory) {
	k, size, g := sol.k, sol.k+sol.m, w.matrix
	inside := uint64(1)<<k - 1
	if k == 64 {
		inside = math.MaxUint64
	}
	count := 0
	clear(w.below[:k])
	for i := range k {
		beyond := w.rows[i] &^ (2<<i - 1) & inside
		count += 2 * bits.OnesCount64(beyond)
		for ; beyond != 0; beyond &= beyond - 1 {
			w.below[bits.TrailingZeros64(beyond)] |= 1 << i
		}
	}
	lu := sparse{nil, mem.ints.take(2 * k), mem.ints.take(count), mem.floats.take(count), mem.floats.take(k)}
	next := int32(0)
	keep := func(j int, x float64) {
		lu.column[next], lu.value[next] = int32(j), x
		next++
	}
	for i := range k {
		lu.pivot[i] = g[i*size+i]
		for set := w.below[i]; set != 0; set &= set - 1 {
			j := bits.TrailingZeros64(set)
			keep(j, g[j*size+i]/lu.pivot[j])
		}
		lu.ends[2*i] = next
		for set := w.rows[i] &^ (2<<i - 1) & inside; set != 0; set &= set - 1 {
			j := bits.TrailingZeros64(set)
			keep(j, g[i*size+j])
		}
		lu.ends[2*i+1] = next
	}
	sol.lu = lu
}

// backSubstitute finds how the eliminated variables follow the states, and
// copies what is left of the matrix.
func (sol *solution) backSubstitute(w *network) {
	k, m, size, g := sol.k, sol.m, sol.k+sol.m, w.matrix
	for i := k - 1; i >= 0; i-- {
		row := sol.w[i*m : i*m+m]
		copy(row, g[i*size+k:(i+1)*size])
		from, to := sol.lu.ends[2*i], sol.lu.ends[2*i+1]
		for e, c := range sol.lu.column[from:to] {
			x := sol.lu.value[int(from)+e]
			for j, y := range sol.w[int(c)*m : int(c)*m+m] {
				row[j] -= x * y
			}
		}
		for j := range row {
			row[j] /= sol.lu.pivot[i]
		}
	}
	for i := range m {
		for j := i; j < m; j++ {
			x := g[(k+i)*size+k+j]
			sol.s[i*m+j], sol.s[j*m+i] = x, x
		}
	}
}
