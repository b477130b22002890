package circuit

import "math"

// A mode is written as a growth from its start instead of a decay to its end
// when its rate is below slowRate, in 1/s, or its end beyond farVolts: a constant
// current heads for a voltage far outside before something else takes over, and
// the difference of two such numbers would leave only rounding. A capacitor with
// no resistance at all has no end to decay to.
const (
	slowRate = 1e-3
	farVolts = 100
)

// inverseLimit bounds the inverse of the unit eigenvectors of a network with a
// charger in constant voltage. Beyond it two modes are one for the purpose of
// arithmetic, and are set apart by separation: an error of some 1e-5 of the
// deviation from rest.
const (
	inverseLimit = 1e7
	separation   = 1e-6
)

// decompose finds the modes of the solution.
func (sol *solution) decompose(w *network) bool {
	m := sol.m
	// A = inv(L) S inv(L'), similar to inv(C) S and symmetric where S is.
	w.block = grow(w.block, 3*m*m)
	vectors, a, similar := w.block[:m*m], w.block[m*m:2*m*m], w.block[2*m*m:3*m*m]
	copy(similar, sol.s)
	if sol.apart {
		sol.scale(similar)
	} else {
		for j := 0; j < m; j++ {
			lowerSolve(sol.chol, m, similar[j:], m)
		}
		for i := 0; i < m; i++ {
			lowerSolve(sol.chol, m, similar[i*m:], 1)
		}
	}
	// f becomes inv(V) inv(L): rows solve x L = row, that is L' x' = row'.
	if sol.symmetric {
		symmetrize(similar, m)
		symmetricModes(similar, m, sol.f, sol.lambda)
		for i := range m {
			sol.upward(sol.f[i*m:], 1)
			for j, x := range sol.f[i*m : i*m+m] {
				vectors[j*m+i] = x
			}
		}
	} else {
		copy(a, similar)
		if !sol.generalModes(w, a, similar, vectors) {
			return false
		}
		for i := range m {
			sol.upward(sol.f[i*m:], 1)
			sol.upward(vectors[i:], m)
		}
	}
	sol.spread(vectors)
	// No mode reaches farther at a node that is gone than at those that it follows.
	sol.reaches(sol.order)
	sol.reaches(sol.out)
	sol.modal = true
	return true
}

// scale overwrites a by inv(L) a inv(L') where L is a diagonal.
func (sol *solution) scale(a []float64) {
	m := sol.m
	for i := range m {
		l, row := sol.chol[i*m+i], a[i*m:i*m+m]
		for j := range row {
			row[j] /= l * sol.chol[j*m+j]
		}
	}
}

// upward overwrites x, taken at the given stride, by inv(L') x.
func (sol *solution) upward(x []float64, stride int) {
	if !sol.apart {
		upperSolve(sol.chol, sol.m, x, stride)
		return
	}
	for i := range sol.m {
		x[i*stride] /= sol.chol[i*sol.m+i]
	}
}

func (sol *solution) reaches(nodes []int32) {
	m := sol.m
	reach := sol.reach[:m]
	for _, i := range nodes {
		for j, b := range sol.b[int(i)*m : int(i)*m+m] {
			reach[j] = max(reach[j], math.Abs(b))
		}
	}
}

func symmetrize(a []float64, m int) {
	for i := 0; i < m; i++ {
		for j := 0; j < i; j++ {
			x := (a[i*m+j] + a[j*m+i]) / 2
			a[i*m+j], a[j*m+i] = x, x
		}
	}
}

// generalModes fills lambda, the eigenvectors and, into f, their inverse.
func (sol *solution) generalModes(w *network, a, similar, vectors []float64) bool {
	m := sol.m
	w.spare = grow(w.spare, 2*m*m)
	swaps := make([]int32, m)
	for try := 0; try < 4; try++ {
		if !realModes(a, m, vectors, sol.lambda, w.spare[:m*m]) {
			return false
		}
		inverse := w.spare[:m*m]
		lu := w.spare[m*m:]
		copy(lu, vectors[:m*m])
		if factor(lu, m, swaps) < 0 {
			worst := 0.0
			column := make([]float64, m)
			for j := 0; j < m; j++ {
				for i := range column {
					column[i] = 0
				}
				column[j] = 1
				solve(lu, m, swaps, column)
				for i, x := range column {
					inverse[i*m+j] = x
					worst = max(worst, math.Abs(x))
				}
			}
			if worst < inverseLimit {
				copy(sol.f, inverse)
				return true
			}
		}
		copy(a, similar)
		for i := 0; i < m; i++ {
			a[i*m+i] *= 1 + separation*float64((i+1)*(try+1))
		}
	}
	return false
}

// spread carries the mode vectors (y = vectors z) to all nodes, v = b z: as lift does
// with voltages, for all modes at once.
func (sol *solution) spread(vectors []float64) {
	m, n := sol.m, int32(sol.n)
	row := func(node int32) []float64 { return sol.b[int(node)*m:][:m] }
	for i, node := range sol.out {
		d := row(node)
		clear(d)
		for j, w := range sol.w[i*m : i*m+m] {
			addRows(d, vectors[j*m:j*m+m], -w)
		}
	}
	for j, node := range sol.order {
		copy(row(node), vectors[j*m:])
	}
	for i := range sol.shares {
		e := &sol.shares[i]
		addRows(row(sol.order[e.state]), row(sol.out[e.at]), -e.value)
	}
	for j, node := range sol.order {
		if up := sol.parent[j]; up < n {
			addRows(row(node), row(up), 1)
		}
	}
	for _, i := range sol.followers {
		if r := sol.rep[i]; r < n {
			addRows(row(sol.out[i]), row(r), 1)
		}
	}
	sol.base.raiseRows(sol.b, m)
}

// addRows adds factor times one row to another.
func addRows(to, from []float64, factor float64) {
	from = from[:len(to)]
	for c := range to {
		to[c] += factor * from[c]
	}
}

// lift computes the voltages P y + D d of the nodes that are not gone into v. It
// overwrites y.
func (sol *solution) lift(y, d, v []float64) {
	n := int32(sol.n)
	for i, x := range d[:len(sol.out)] {
		v[sol.out[i]] = x
	}
	for i := range sol.shares {
		e := &sol.shares[i]
		y[e.state] -= e.value * d[e.at]
	}
	for j, node := range sol.order {
		x := y[j]
		if up := sol.parent[j]; up < n {
			x += v[up]
		}
		v[node] = x
	}
	for _, i := range sol.followers {
		if r := sol.rep[i]; r < n {
			v[sol.out[i]] += v[r]
		}
	}
}
