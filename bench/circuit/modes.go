package circuit

import "math"

// slowRate is the rate, in 1/s, below which a mode is written as a growth from
// its start instead of a decay to its end: the end may be very far (a constant
// current into a cell) or not exist (a capacitor with no resistance at all).
const slowRate = 1e-3

// inverseLimit bounds the inverse of the unit eigenvectors of a network with a
// charger in constant voltage. Beyond it two modes are one for the purpose of
// arithmetic, and are set apart by separation.
const (
	inverseLimit = 1e7
	separation   = 1e-6
)

// decompose finds the modes of the solution.
func (sol *solution) decompose(w *network) bool {
	m := sol.m
	// A = inv(L) S inv(L'), similar to inv(C) S and symmetric where S is.
	for j := 0; j < m; j++ {
		lowerSolve(sol.chol, m, sol.s[j:], m)
	}
	for i := 0; i < m; i++ {
		lowerSolve(sol.chol, m, sol.s[i*m:], 1)
	}
	w.block = grow(w.block, 2*m*m)
	vectors, a := w.block[:m*m], w.block[m*m:2*m*m]
	if sol.symmetric {
		symmetrize(sol.s, m)
		symmetricModes(sol.s, m, vectors, sol.lambda)
		for i := 0; i < m; i++ {
			for j := 0; j < m; j++ {
				sol.f[i*m+j] = vectors[j*m+i]
			}
		}
	} else {
		copy(a, sol.s)
		if !sol.generalModes(w, a, vectors) {
			return false
		}
	}
	// f becomes inv(V) inv(L): rows solve x L = row, that is L' x' = row'.
	for i := 0; i < m; i++ {
		upperSolve(sol.chol, m, sol.f[i*m:], 1)
	}
	for j := 0; j < m; j++ {
		upperSolve(sol.chol, m, vectors[j:], m)
	}
	sol.spread(vectors)
	for j, rate := range sol.lambda {
		sol.slow[j] = rate < slowRate
	}
	sol.modal = true
	return true
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
func (sol *solution) generalModes(w *network, a, vectors []float64) bool {
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
					worst = math.Max(worst, math.Abs(x))
				}
			}
			if worst < inverseLimit {
				copy(sol.f, inverse)
				return true
			}
		}
		copy(a, sol.s)
		for i := 0; i < m; i++ {
			a[i*m+i] *= 1 + separation*float64((i+1)*(try+1))
		}
	}
	return false
}

// spread carries the mode vectors (y = vectors z) to all nodes: v = b z.
func (sol *solution) spread(vectors []float64) {
	m := sol.m
	for i, node := range sol.out {
		row := sol.b[int(node)*m : int(node)*m+m]
		for j := range row {
			sum := 0.0
			for l := 0; l < m; l++ {
				sum -= sol.w[i*m+l] * vectors[l*m+j]
			}
			row[j] = sum
		}
	}
	for i, node := range sol.order {
		row := sol.b[int(node)*m : int(node)*m+m]
		copy(row, vectors[i*m:i*m+m])
		if up := int(sol.parent[i]); up < sol.n {
			for j, x := range sol.b[up*m : up*m+m] {
				row[j] += x
			}
		}
	}
}
