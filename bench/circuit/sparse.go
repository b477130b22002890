package circuit

// sparse is an LU decomposition without its zeros. The nodes of a bench hang on
// two or three neighbours each, so that nine tenths of the factors are zeros;
// leaving them out changes no digit of a solution.
type sparse struct {
	swaps  []int32
	ends   []int32 // by row: where its part of L ends in columns, then that of U
	column []int32
	value  []float64
	pivot  []float64 // the diagonal of U
}

// keepFactors stores the decomposition that factor has left in the n by n
// matrix a.
func (s *Sim) keepFactors(a []float64, n int, swaps []int32) sparse {
	count := -n // pivots are never zero
	for _, x := range a[:n*n] {
		if x != 0 {
			count++
		}
	}
	lu := sparse{s.ints.take(n), s.ints.take(2 * n), s.ints.take(count), s.floats.take(count), s.floats.take(n)}
	copy(lu.swaps, swaps)
	next := int32(0)
	for i := range n {
		for j, x := range a[i*n : i*n+n] {
			switch {
			case j == i:
				lu.pivot[i], lu.ends[2*i] = x, next
			case x != 0:
				lu.column[next], lu.value[next] = int32(j), x
				next++
			}
		}
		lu.ends[2*i+1] = next
	}
	return lu
}

// solve overwrites x by the solution of A x = x. Right sides are mostly zeros,
// which stay so down to the first other.
func (lu *sparse) solve(x []float64) {
	for k, r := range lu.swaps {
		x[k], x[r] = x[r], x[k]
	}
	first := 0
	for first < len(x) && x[first] == 0 {
		first++
	}
	for i := first + 1; i < len(x); i++ {
		x[i] = lu.less(x[i], lu.ends[2*i-1], lu.ends[2*i], x)
	}
	for i := len(x) - 1; i >= 0; i-- {
		x[i] = lu.less(x[i], lu.ends[2*i], lu.ends[2*i+1], x) / lu.pivot[i]
	}
}

// less subtracts from sum the entries from one place to another times x.
func (lu *sparse) less(sum float64, from, to int32, x []float64) float64 {
	values := lu.value[from:to]
	for k, j := range lu.column[from:to] {
		sum -= values[k] * x[j]
	}
	return sum
}
