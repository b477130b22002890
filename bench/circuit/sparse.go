package circuit

import (
	"math"
	"math/bits"
)

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

// pattern tells which entries of a square matrix may differ from zero: a row
// of bits per row of the matrix.
type pattern struct {
	words int // per row
	bits  []uint64
}

func (p *pattern) clear(n int) {
	p.words = (n + 63) / 64
	if cap(p.bits) < n*p.words {
		p.bits = make([]uint64, 2*n*p.words)
	}
	p.bits = p.bits[:n*p.words]
	clear(p.bits)
}

func (p *pattern) row(i int) []uint64 { return p.bits[i*p.words : (i+1)*p.words] }
func (p *pattern) add(i, j int)       { p.bits[i*p.words+j/64] |= 1 << (j % 64) }
func (p *pattern) has(i, j int) bool  { return p.bits[i*p.words+j/64]>>(j%64)&1 != 0 }

// factorSparse is factor for a matrix that is zero outside of a pattern, which
// grows by what the elimination fills in.
func factorSparse(a []float64, n int, swaps []int32, p *pattern) int {
	for k := range n {
		row, best, scale := k, 0.0, 0.0
		for i := range n {
			if !p.has(i, k) {
				continue
			}
			x := math.Abs(a[i*n+k])
			if x > scale {
				scale = x
			}
			if i >= k && x > best {
				row, best = i, x
			}
		}
		if !(best > pivotFloor*scale) || math.IsInf(best, 0) {
			return k
		}
		swaps[k] = int32(row)
		if row != k {
			swap(a[k*n:k*n+n], a[row*n:row*n+n])
			swap(p.row(k), p.row(row))
		}
		p.eliminate(a, n, k)
	}
	return -1
}

func swap[T any](x, y []T) {
	for j := range x {
		x[j], y[j] = y[j], x[j]
	}
}

// eliminate clears column k below the diagonal.
func (p *pattern) eliminate(a []float64, n, k int) {
	top := a[k*n : k*n+n]
	inv := 1 / top[k]
	for i := k + 1; i < n; i++ {
		if !p.has(i, k) {
			continue
		}
		row := a[i*n : i*n+n]
		l := row[k] * inv
		row[k] = l
		into := p.row(i)
		for w, set := range p.row(k) {
			if set &= after(k, w); set == 0 {
				continue
			}
			into[w] |= set
			for ; set != 0; set &= set - 1 {
				j := w*64 + bits.TrailingZeros64(set)
				row[j] -= l * top[j]
			}
		}
	}
}

// after masks the columns beyond k in word w.
func after(k, w int) uint64 {
	switch {
	case w > k/64:
		return math.MaxUint64
	case w < k/64:
		return 0
	}
	return math.MaxUint64 << (k % 64) << 1
}

// keepFactors stores the decomposition that factorSparse has left in the n by n
// matrix a.
func (m *memory) keepFactors(a []float64, n int, swaps []int32, p *pattern) sparse {
	count := -n // the pivots are kept apart
	for _, set := range p.bits {
		count += bits.OnesCount64(set)
	}
	lu := sparse{m.ints.take(n), m.ints.take(2 * n), m.ints.take(count), m.floats.take(count), m.floats.take(n)}
	copy(lu.swaps, swaps)
	next := int32(0)
	for i := range n {
		for w, set := range p.row(i) {
			for ; set != 0; set &= set - 1 {
				j := w*64 + bits.TrailingZeros64(set)
				if j == i {
					lu.pivot[i], lu.ends[2*i] = a[i*n+i], next
					continue
				}
				lu.column[next], lu.value[next] = int32(j), a[i*n+j]
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
