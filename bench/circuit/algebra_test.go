package circuit

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// drawMatrix draws entries over six decades with a diagonal that dominates
// only sometimes.
func drawMatrix(t *rapid.T, n int) []float64 {
	a := make([]float64, n*n)
	for i := range a {
		sign := 1.0
		if rapid.Bool().Draw(t, "sign") {
			sign = -1
		}
		a[i] = sign * math.Pow(10, rapid.Float64Range(-3, 3).Draw(t, "log"))
	}
	return a
}

func TestLUAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "n")
		a := drawMatrix(t, n)
		// A dominant entry per row, but not on the diagonal: pivoting must find it.
		shift := rapid.IntRange(0, n-1).Draw(t, "shift")
		for i := 0; i < n; i++ {
			a[i*n+(i+shift)%n] = 2000 * float64(n)
		}
		b := drawMatrix(t, n)[:n]
		var lu mat.LU
		lu.Factorize(mat.NewDense(n, n, append([]float64(nil), a...)))
		for _, transposed := range []bool{false, true} {
			var want mat.VecDense
			require.NoError(t, lu.SolveVecTo(&want, transposed, mat.NewVecDense(n, append([]float64(nil), b...))))
			f, swaps, x := append([]float64(nil), a...), make([]int32, n), append([]float64(nil), b...)
			require.Equal(t, -1, factor(f, n, swaps))
			if transposed {
				solveTransposed(f, n, swaps, x)
			} else {
				solve(f, n, swaps, x)
			}
			scale := mat.Norm(&want, math.Inf(1))
			for i := range x {
				require.InDelta(t, want.AtVec(i), x[i], 1e-14*lu.Cond()*scale)
			}
		}
	})
}

// Leaving out zeros changes no digit: the sparse solution is compared with the
// dense one, which is compared with gonum above.
func TestSparseFactorsSolveToTheSameDigits(t *testing.T) {
	s := &Sim{stores: newStores()}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.SampledFrom([]int{1, 2, 5, 9, 63, 64, 65, 130}).Draw(t, "n")
		a, b := make([]float64, n*n), make([]float64, n)
		draw := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for range 3 * n {
			a[draw.IntN(n*n)] = math.Pow(10, 6*draw.Float64()-3)
		}
		for range 1 + draw.IntN(n) {
			b[draw.IntN(n)] = draw.NormFloat64()
		}
		shift := rapid.IntRange(0, n-1).Draw(t, "shift")
		for i := range n {
			a[i*n+(i+shift)%n] = 2000 * float64(n)
		}
		var filled pattern
		filled.clear(n)
		for i, x := range a {
			if x != 0 {
				filled.add(i/n, i%n)
			}
		}
		swaps, swapped, x := make([]int32, n), make([]int32, n), append([]float64(nil), b...)
		again := append([]float64(nil), a...)
		require.Equal(t, -1, factor(a, n, swaps))
		require.Equal(t, -1, factorSparse(again, n, swapped, &filled))
		require.Equal(t, a, again)
		require.Equal(t, swaps, swapped)
		lu := s.stores.own.keepFactors(again, n, swaps, &filled)
		solve(a, n, swaps, b)
		lu.solve(x)
		require.Equal(t, b, x)
		s.rewind(New())
	})
}

func TestDescendingIsStable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.IntRange(0, 5), 0, 40).Draw(t, "values")
		x := make([]branch, len(values))
		for i, v := range values {
			x[i] = branch{value: float64(v), index: int32(i)}
		}
		want := slices.Clone(x)
		slices.SortStableFunc(want, func(a, b branch) int { return cmp.Compare(b.value, a.value) })
		descending(x)
		require.Equal(t, want, x)
	})
}

func TestLUFindsTheColumnWithoutPivot(t *testing.T) {
	a := []float64{1, 2, 3, 2, 4, 6.5, 3, 6, 1}
	require.Equal(t, 1, factor(a, 3, make([]int32, 3)))
	require.Equal(t, 0, factor([]float64{0}, 1, make([]int32, 1)))
	require.Equal(t, 0, factor([]float64{math.NaN()}, 1, make([]int32, 1)))
	require.Equal(t, 0, factor([]float64{math.Inf(1)}, 1, make([]int32, 1)))
}

// spd draws a symmetric positive definite matrix.
func spd(t *rapid.T, n int) []float64 {
	m := drawMatrix(t, n)
	a := make([]float64, n*n)
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			for k := 0; k < n; k++ {
				a[i*n+j] += m[i*n+k] * m[j*n+k]
			}
		}
		a[i*n+i] += 1
	}
	return a
}

func TestCholeskyAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "n")
		a := spd(t, n)
		var want mat.Cholesky
		require.True(t, want.Factorize(mat.NewSymDense(n, append([]float64(nil), a...))))
		var l mat.TriDense
		want.LTo(&l)
		require.True(t, cholesky(a, n))
		for i := 0; i < n; i++ {
			for j := 0; j <= i; j++ {
				require.InDelta(t, l.At(i, j), a[i*n+j], 1e-9*l.At(i, i)+1e-6*math.Abs(l.At(i, j)))
			}
		}
	})
	require.False(t, cholesky([]float64{1, 2, 2, 1}, 2))
}

func TestSymmetricModesAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 10).Draw(t, "n")
		a := spd(t, n)
		var eig mat.EigenSym
		require.True(t, eig.Factorize(mat.NewSymDense(n, append([]float64(nil), a...)), false))
		q, lambda := make([]float64, n*n), make([]float64, n)
		work := append([]float64(nil), a...)
		rows := make([]float64, n*n)
		symmetricModes(work, n, rows, lambda)
		for i := range rows {
			q[i%n*n+i/n] = rows[i]
		}
		checkModes(t, a, q, lambda, eig.Values(nil), 1e-12)
	})
}

// checkModes proves A q = lambda q and compares the sorted eigenvalues.
func checkModes(t *rapid.T, a, q, lambda, want []float64, tolerance float64) {
	n := len(lambda)
	scale := 0.0
	for _, x := range a {
		scale = math.Max(scale, math.Abs(x))
	}
	for j := 0; j < n; j++ {
		for i := 0; i < n; i++ {
			sum := -lambda[j] * q[i*n+j]
			for k := 0; k < n; k++ {
				sum += a[i*n+k] * q[k*n+j]
			}
			require.InDelta(t, 0, sum, 100*tolerance*scale*float64(n))
		}
		nearest := math.Inf(1)
		for _, w := range want {
			nearest = math.Min(nearest, math.Abs(w-lambda[j]))
		}
		require.LessOrEqual(t, nearest, 100*tolerance*scale*float64(n))
	}
}

// A similarity of a diagonal matrix has known real eigenvalues, symmetric or not.
func TestRealModesOfKnownEigenvalues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "n")
		want := make([]float64, n)
		d := mat.NewDiagDense(n, want)
		for i := range want {
			want[i] = float64(i+1) * rapid.Float64Range(0.8, 1.2).Draw(t, "eigenvalue")
			d.SetDiag(i, want[i])
		}
		v := mat.NewDense(n, n, nil)
		for i := 0; i < n; i++ {
			for j := 0; j < n; j++ {
				v.Set(i, j, rapid.Float64Range(-0.4, 0.4).Draw(t, "v"))
			}
			v.Set(i, i, 3)
		}
		var inverse, a, tmp mat.Dense
		require.NoError(t, inverse.Inverse(v))
		tmp.Mul(v, d)
		a.Mul(&tmp, &inverse)
		data := make([]float64, 0, n*n)
		for i := 0; i < n; i++ {
			data = append(data, mat.Row(nil, i, &a)...)
		}
		q, lambda := make([]float64, n*n), make([]float64, n)
		require.True(t, realModes(append([]float64(nil), data...), n, q, lambda, make([]float64, n*n)))
		checkModes(t, data, q, lambda, want, 1e-11)
	})
}

func TestRealModesRefuseARotation(t *testing.T) {
	a := []float64{1, 2, 0, -2, 1, 0, 0, 0, 5}
	require.False(t, realModes(a, 3, make([]float64, 9), make([]float64, 3), make([]float64, 9)))
}

// Against sampling: the first crossing of a random sum of decays is where a
// fine scan sees the first change of sign, and none where it sees none.
func TestFirstCrossingAgainstScan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.IntRange(1, 6).Draw(t, "modes")
		sol := &solution{run: run{rates: make([]float64, m), acts: make([]int32, m), slow: make([]bool, m)}}
		l := &live{beta: make([]float64, m)}
		sum := 0.0
		for j := 0; j < m; j++ {
			sol.rates[j] = math.Pow(10, rapid.Float64Range(-1, 4).Draw(t, "log rate"))
			l.beta[j] = rapid.Float64Range(-5, 5).Draw(t, "beta")
			sum += l.beta[j]
		}
		l.fixed = rapid.Float64Range(0, 5).Draw(t, "start") - sum
		var k seeker
		k.begin(sol, 0, 100)
		got := k.first(l)
		decay := make([]float64, m)
		at := func(x float64) float64 {
			sol.decays(x, decay)
			return k.value(decay)
		}
		for x := 1e-6; x <= 100; x *= 1.003 {
			if x > got {
				require.InDelta(t, 0, at(got), 1e-9, "claimed crossing at %g", got)
				return
			}
			require.GreaterOrEqual(t, at(x), -1e-12, "missed a crossing before %g", x)
		}
	})
}

// Two crossings close together that a scan in decades would step over.
func TestFirstCrossingOfADip(t *testing.T) {
	// 1 - 4 (exp(-t) - exp(-2t)) touches zero at t = ln 2; a hair less dips below.
	for _, c := range []struct{ fixed, want float64 }{
		{1 - 1e-6, math.Log(2) - math.Sqrt(1e-6)},
		{1 + 1e-9, math.Inf(1)},
	} {
		sol := &solution{run: run{rates: []float64{1, 2}, acts: []int32{0, 1}, slow: make([]bool, 2)}}
		var k seeker
		k.begin(sol, 0, 1e6)
		got := k.first(&live{fixed: c.fixed, beta: []float64{-4, 4}})
		if math.IsInf(c.want, 1) {
			require.Equal(t, c.want, got)
			continue
		}
		require.InDelta(t, c.want, got, 2e-6)
	}
}
