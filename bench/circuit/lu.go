package circuit

import "math"

// pivotFloor is the share of its column's largest entry below which a pivot is
// taken for rounding noise. Four units in the last place of float64; a leak of
// 1e-9 S beside a contact of 1e3 S leaves a pivot 2000 times larger.
const pivotFloor = 4 * 0x1p-52

// factor replaces the n by n row-major matrix a with its LU decomposition by
// partial pivoting and records the row swaps. It returns -1, or the column that
// had no pivot, in which case a is of no use.
//
// Method: Golub and Van Loan, Matrix Computations, 3.4.
func factor(a []float64, n int, swaps []int32) int {
	for k := 0; k < n; k++ {
		row, best, scale := k, 0.0, 0.0
		for i := 0; i < n; i++ {
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
			x, y := a[k*n:k*n+n], a[row*n:row*n+n]
			for j := range x {
				x[j], y[j] = y[j], x[j]
			}
		}
		eliminate(a, n, k)
	}
	return -1
}

// eliminate clears column k below the diagonal.
func eliminate(a []float64, n, k int) {
	top := a[k*n : k*n+n]
	inv := 1 / top[k]
	for i := k + 1; i < n; i++ {
		row := a[i*n : i*n+n]
		if row[k] == 0 {
			continue
		}
		l := row[k] * inv
		row[k] = l
		tail, above := row[k+1:], top[k+1:]
		for j, x := range above {
			tail[j] -= l * x
		}
	}
}

// solve overwrites x by the solution of A x = x for a factored A.
func solve(a []float64, n int, swaps []int32, x []float64) {
	for k := 0; k < n; k++ {
		if r := int(swaps[k]); r != k {
			x[k], x[r] = x[r], x[k]
		}
	}
	first := 0 // right sides are mostly zeros, which stay so down to the first other
	for first < n && x[first] == 0 {
		first++
	}
	for i := first + 1; i < n; i++ {
		sum := x[i]
		done := x[first:i]
		for j, l := range a[i*n+first : i*n+i] {
			sum -= l * done[j]
		}
		x[i] = sum
	}
	for i := n - 1; i >= 0; i-- {
		sum := x[i]
		known := x[i+1 : n]
		for j, u := range a[i*n+i+1 : i*n+n] {
			sum -= u * known[j]
		}
		x[i] = sum / a[i*n+i]
	}
}

// solveTransposed overwrites x by the solution of A' x = x for a factored A.
func solveTransposed(a []float64, n int, swaps []int32, x []float64) {
	for i := 0; i < n; i++ {
		sum := x[i]
		for j := 0; j < i; j++ {
			sum -= a[j*n+i] * x[j]
		}
		x[i] = sum / a[i*n+i]
	}
	for i := n - 2; i >= 0; i-- {
		sum := x[i]
		for j := i + 1; j < n; j++ {
			sum -= a[j*n+i] * x[j]
		}
		x[i] = sum
	}
	for k := n - 1; k >= 0; k-- {
		if r := int(swaps[k]); r != k {
			x[k], x[r] = x[r], x[k]
		}
	}
}

// cholesky replaces the lower triangle of the symmetric positive definite
// matrix c by its factor L with L L' = C, and clears the rest.
func cholesky(c []float64, n int) bool {
	for j := 0; j < n; j++ {
		for i := j; i < n; i++ {
			sum := c[i*n+j]
			for k := 0; k < j; k++ {
				sum -= c[i*n+k] * c[j*n+k]
			}
			if i > j {
				c[i*n+j] = sum / c[j*n+j]
				continue
			}
			if !(sum > 0) {
				return false
			}
			c[j*n+j] = math.Sqrt(sum)
		}
		for i := 0; i < j; i++ {
			c[i*n+j] = 0
		}
	}
	return true
}

// lowerSolve overwrites x, taken at the given stride, by inv(L) x.
func lowerSolve(l []float64, n int, x []float64, stride int) {
	for i := 0; i < n; i++ {
		sum := x[i*stride]
		for j := 0; j < i; j++ {
			sum -= l[i*n+j] * x[j*stride]
		}
		x[i*stride] = sum / l[i*n+i]
	}
}

// upperSolve overwrites x, taken at the given stride, by inv(L') x.
func upperSolve(l []float64, n int, x []float64, stride int) {
	for i := n - 1; i >= 0; i-- {
		sum := x[i*stride]
		for j := i + 1; j < n; j++ {
			sum -= l[j*n+i] * x[j*stride]
		}
		x[i*stride] = sum / l[i*n+i]
	}
}
