package circuit

import (
	"math"
	"math/bits"
)

// mostCondensed is how many variables a word of bits holds. The twin's largest
// island has some twenty; a larger one goes the way of reduce.
const mostCondensed = 64

// condenses tells whether condense serves a solution.
func (sol *solution) condenses() bool { return sol.symmetric && sol.k+sol.m <= mostCondensed }

// condense is assemble, transform and reduce in one for an island without
// controls. The conductances between eliminated variables and states are then
// one symmetric positive definite matrix of a dozen rows, which is factored
// without a search for pivots (Golub and Van Loan, Matrix Computations, 4.2:
// Gaussian elimination is stable there).
func (sol *solution) condense(w *network) int {
	size := sol.k + sol.m
	w.matrix = grow(w.matrix, size*size)
	clear(w.matrix)
	w.compose(sol)
	// The weakest go in first so that they are not lost one by one.
	for i := len(w.edges) - 1; i >= 0; i-- {
		w.stamp(&w.edges[i], size)
	}
	sol.eachShare(w, func(i, j int, x float64) { addRow(w.matrix, size, sol.k+j, i, -x) })
	if bad := sol.factorRows(w); bad >= 0 {
		return int(sol.out[bad])
	}
	sol.backSubstitute(w)
	return -1
}

// compose finds for each node the variables whose sum is its voltage, as a set of
// bits: eliminated ones by their index, states after them.
func (w *network) compose(sol *solution) {
	n, k := int32(sol.n), sol.k
	w.terms = w.terms[:0]
	for range n + 1 {
		w.terms = append(w.terms, 0)
	}
	for i, node := range sol.out {
		w.terms[node] = 1 << i
	}
	for j, node := range sol.order { // parents first
		w.terms[node] = 1 << (k + j)
		if up := sol.parent[j]; up < n {
			w.terms[node] |= w.terms[up]
		}
	}
	for _, i := range sol.followers {
		w.terms[sol.out[i]] |= w.terms[sol.rep[i]]
	}
}

// stamp adds a conductance between two nodes to the matrix. What moves both ends
// alike is left out before, and not as the difference of two large numbers.
func (w *network) stamp(e *branch, size int) {
	a, b := w.terms[e.a], w.terms[e.b]
	plus, minus := a&^b, b&^a
	w.spreadOver(plus, plus, minus, e.value, size)
	w.spreadOver(minus, minus, plus, e.value, size)
}

// spreadOver adds x to some rows in the columns of one set, and takes it off in those
// of another.
func (w *network) spreadOver(rows, plus, minus uint64, x float64, size int) {
	for ; rows != 0; rows &= rows - 1 {
		first := bits.TrailingZeros64(rows) * size
		row := w.matrix[first : first+size]
		for set := plus; set != 0; set &= set - 1 {
			row[bits.TrailingZeros64(set)] += x
		}
		for set := minus; set != 0; set &= set - 1 {
			row[bits.TrailingZeros64(set)] -= x
		}
	}
}

// addRow adds row and column from of a symmetric matrix, times a factor, to row and
// column to.
func addRow(g []float64, size, from, to int, factor float64) {
	for i := range size {
		g[i*size+to] += factor * g[i*size+from]
	}
	row, into := g[from*size:from*size+size], g[to*size:to*size+size]
	for i, x := range row {
		into[i] += factor * x
	}
}

// factorRows eliminates the first k variables and keeps their rows. What is left of
// the others is their Schur complement. It returns a variable without a pivot, or -1.
func (sol *solution) factorRows(w *network) int {
	k, size, g := sol.k, sol.k+sol.m, w.matrix
	w.spare = grow(w.spare, k)
	for i := range k {
		w.spare[i] = g[i*size+i]
	}
	for i := range k {
		top := g[i*size : i*size+size]
		if p := top[i]; !(p > pivotFloor*w.spare[i]) || math.IsInf(p, 0) {
			return i
		}
		inv := 1 / top[i]
		for r := i + 1; r < size; r++ {
			if top[r] == 0 {
				continue
			}
			l := top[r] * inv
			row := g[r*size+r : r*size+size]
			for c, x := range top[r:] {
				row[c] -= l * x
			}
		}
		copy(sol.upper[i*k+i:i*k+k], top[i:k])
		sol.upper[i*k+i] = inv
	}
	return -1
}

// backSubstitute finds how the eliminated variables follow the states, and
// copies what is left of the matrix.
func (sol *solution) backSubstitute(w *network) {
	k, m, size, g := sol.k, sol.m, sol.k+sol.m, w.matrix
	for i := k - 1; i >= 0; i-- {
		row, top := sol.w[i*m:i*m+m], g[i*size:i*size+size]
		copy(row, top[k:])
		for c := i + 1; c < k; c++ {
			if x := top[c]; x != 0 {
				for j, y := range sol.w[c*m : c*m+m] {
					row[j] -= x * y
				}
			}
		}
		inv := 1 / top[i]
		for j := range row {
			row[j] *= inv
		}
	}
	for i := range m {
		for j := i; j < m; j++ {
			x := g[(k+i)*size+k+j]
			sol.s[i*m+j], sol.s[j*m+i] = x, x
		}
	}
}

// settleOut overwrites currents into the eliminated variables by their offsets with
// all states at zero.
func (sol *solution) settleOut(x []float64) {
	if sol.upper == nil {
		sol.lu.solve(x)
		return
	}
	k := sol.k
	for i, y := range x {
		if y == 0 {
			continue
		}
		top := sol.upper[i*k : i*k+k]
		y *= top[i]
		for j := i + 1; j < len(top); j++ {
			x[j] -= y * top[j]
		}
	}
	for i := k - 1; i >= 0; i-- {
		top := sol.upper[i*k : i*k+k]
		sum := x[i]
		for j := i + 1; j < len(top); j++ {
			sum -= top[j] * x[j]
		}
		x[i] = sum * top[i]
	}
}
