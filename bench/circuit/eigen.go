package circuit

import "math"

// symmetricModes finds the eigenvalues of the symmetric n by n matrix a, which
// is destroyed, and its eigenvectors as the rows of q.
//
// Method: cyclic Jacobi rotations (Golub and Van Loan, Matrix Computations,
// 8.5), chosen for its accuracy on graded matrices and because n is small.
func symmetricModes(a []float64, n int, q, lambda []float64) {
	identity(q, n)
	for sweep := 0; sweep < 50; sweep++ {
		if !jacobiSweep(a, n, q) {
			break
		}
	}
	for i := 0; i < n; i++ {
		lambda[i] = a[i*n+i]
	}
}

func identity(q []float64, n int) {
	for i := range q[:n*n] {
		q[i] = 0
	}
	for i := 0; i < n; i++ {
		q[i*n+i] = 1
	}
}

// jacobiSweep rotates every pair that still matters and tells whether any did.
func jacobiSweep(a []float64, n int, q []float64) bool {
	rotated := false
	for p := 0; p < n-1; p++ {
		qp := q[p*n : p*n+n]
		for r := p + 1; r < n; r++ {
			apr, app, arr := a[p*n+r], a[p*n+p], a[r*n+r]
			if apr*apr <= 0x1p-106*math.Abs(app*arr) {
				continue
			}
			rotated = true
			theta := (arr - app) / (2 * apr)
			t := 1 / (math.Abs(theta) + math.Sqrt(1+theta*theta))
			if theta < 0 {
				t = -t
			}
			c := 1 / math.Sqrt(1+t*t)
			s := t * c
			a[p*n+p], a[r*n+r] = app-t*apr, arr+t*apr
			a[p*n+r], a[r*n+p] = 0, 0
			for k := 0; k < n; k++ {
				if k != p && k != r {
					x, y := a[k*n+p], a[k*n+r]
					x, y = c*x-s*y, s*x+c*y
					a[k*n+p], a[p*n+k] = x, x
					a[k*n+r], a[r*n+k] = y, y
				}
			}
			qr := q[r*n:][:len(qp)]
			for k, x := range qp {
				y := qr[k]
				qp[k], qr[k] = c*x-s*y, s*x+c*y
			}
		}
	}
	return rotated
}

// realModes finds the eigenvalues of a general n by n matrix a, which is
// destroyed, and its right eigenvectors as the columns of v; w is n*n scratch.
// It returns false if an eigenvalue is complex.
//
// Method: reduction to Hessenberg form and QR steps with a real Wilkinson shift
// (Golub and Van Loan, Matrix Computations, 7.4 and 7.5), by plane rotations.
func realModes(a []float64, n int, v, lambda, w []float64) bool {
	identity(w, n)
	for k := 0; k < n-2; k++ {
		for i := n - 1; i >= k+2; i-- {
			if a[i*n+k] != 0 {
				c, s := rotation(a[(i-1)*n+k], a[i*n+k])
				rotateRows(a, n, i-1, i, c, s)
				rotateColumns(a, n, i-1, i, c, s)
				rotateColumns(w, n, i-1, i, c, s)
				a[i*n+k] = 0
			}
		}
	}
	if !schur(a, n, w) {
		return false
	}
	for i := 0; i < n; i++ {
		lambda[i] = a[i*n+i]
	}
	triangularVectors(a, n, w, v)
	return true
}

// rotation returns c and s with -s*x + c*y = 0.
func rotation(x, y float64) (c, s float64) {
	r := math.Hypot(x, y)
	if r == 0 {
		return 1, 0
	}
	return x / r, y / r
}

func rotateRows(a []float64, n, i, j int, c, s float64) {
	x, y := a[i*n:i*n+n], a[j*n:j*n+n]
	for k := range x {
		x[k], y[k] = c*x[k]+s*y[k], c*y[k]-s*x[k]
	}
}

func rotateColumns(a []float64, n, i, j int, c, s float64) {
	for k := 0; k < n; k++ {
		x, y := a[k*n+i], a[k*n+j]
		a[k*n+i], a[k*n+j] = c*x+s*y, c*y-s*x
	}
}

// schur turns the Hessenberg matrix a into an upper triangle and applies the
// same rotations to w.
func schur(a []float64, n int, w []float64) bool {
	norm := 0.0
	for _, x := range a[:n*n] {
		norm = max(norm, math.Abs(x))
	}
	for hi, tries := n-1, 0; hi > 0; tries++ {
		lo := hi
		for lo > 0 {
			near := math.Abs(a[lo*n+lo]) + math.Abs(a[(lo-1)*n+lo-1])
			if math.Abs(a[lo*n+lo-1]) <= 0x1p-52*max(near, 0x1p-52*norm) {
				a[lo*n+lo-1] = 0
				break
			}
			lo--
		}
		switch {
		case lo == hi:
			hi, tries = hi-1, 0
		case lo == hi-1:
			if !splitPair(a, n, w, lo) {
				return false
			}
			hi, tries = hi-2, 0
		case tries > 100:
			return false
		default:
			shift := wilkinson(a, n, hi)
			if tries%11 == 10 {
				shift += math.Abs(a[hi*n+hi-1])
			}
			qrStep(a, n, w, lo, hi, shift)
		}
	}
	return true
}

// wilkinson returns the eigenvalue of the last 2 by 2 block that is nearest to
// its last entry, or that entry if they are complex.
func wilkinson(a []float64, n, hi int) float64 {
	p, q := a[(hi-1)*n+hi-1], a[hi*n+hi]
	half := (p - q) / 2
	disc := half*half + a[(hi-1)*n+hi]*a[hi*n+hi-1]
	if disc < 0 {
		return q
	}
	root := math.Copysign(math.Sqrt(disc), half)
	if half+root == 0 {
		return q
	}
	return q - a[(hi-1)*n+hi]*a[hi*n+hi-1]/(half+root)
}

// splitPair makes the 2 by 2 block at k triangular. It fails if its eigenvalues
// are complex by more than rounding.
func splitPair(a []float64, n int, w []float64, k int) bool {
	p, q, r, t := a[k*n+k], a[k*n+k+1], a[(k+1)*n+k], a[(k+1)*n+k+1]
	half := (p - t) / 2
	disc := half*half + q*r
	if disc < 0 {
		if disc < -1e-13*(p*p+t*t) {
			return false
		}
		disc = 0
	}
	root := math.Copysign(math.Sqrt(disc), half)
	// The eigenvalue t + half + root has the vector (half + root, r), whose
	// first entry is a sum without cancellation.
	c, s := rotation(half+root, r)
	rotateRows(a, n, k, k+1, c, s)
	rotateColumns(a, n, k, k+1, c, s)
	rotateColumns(w, n, k, k+1, c, s)
	a[(k+1)*n+k] = 0
	return true
}

// qrStep does one shifted QR step on the block lo..hi of a, as a similarity of
// the whole matrix.
func qrStep(a []float64, n int, w []float64, lo, hi int, shift float64) {
	x, y := a[lo*n+lo]-shift, a[(lo+1)*n+lo]
	for k := lo; k < hi; k++ {
		c, s := rotation(x, y)
		rotateRows(a, n, k, k+1, c, s)
		rotateColumns(a, n, k, k+1, c, s)
		rotateColumns(w, n, k, k+1, c, s)
		if k > lo {
			a[(k+1)*n+k-1] = 0
		}
		if k < hi-1 {
			x, y = a[(k+1)*n+k], a[(k+2)*n+k]
		}
	}
}

// triangularVectors writes the eigenvectors of W T W', T upper triangular, as
// unit columns of v.
func triangularVectors(t []float64, n int, w, v []float64) {
	x := make([]float64, n)
	norm := 0.0
	for _, e := range t[:n*n] {
		norm = max(norm, math.Abs(e))
	}
	for j := 0; j < n; j++ {
		x[j] = 1
		for i := j - 1; i >= 0; i-- {
			sum := 0.0
			for k := i + 1; k <= j; k++ {
				sum += t[i*n+k] * x[k]
			}
			gap := t[j*n+j] - t[i*n+i]
			if math.Abs(gap) < 0x1p-52*norm {
				gap = 0x1p-52 * norm
			}
			if sum != 0 {
				sum /= gap
			}
			x[i] = sum
		}
		length := 0.0
		for i := 0; i < n; i++ {
			sum := 0.0
			for k := 0; k <= j; k++ {
				sum += w[i*n+k] * x[k]
			}
			v[i*n+j] = sum
			length += sum * sum
		}
		length = 1 / math.Sqrt(length)
		for i := 0; i < n; i++ {
			v[i*n+j] *= length
		}
	}
}
