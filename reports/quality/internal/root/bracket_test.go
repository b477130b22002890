package root

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestInFindsKnownZeros(t *testing.T) {
	cases := map[string]struct {
		f         func(float64) float64
		low, high float64
		want      float64
	}{
		"a line":           {func(x float64) float64 { return x - 3 }, 0, 10, 3},
		"a falling line":   {func(x float64) float64 { return 3 - x }, 0, 10, 3},
		"cube, flat there": {func(x float64) float64 { return x * x * x }, -1, 2, 0},
		"cosine, pi/2":     {math.Cos, 0, 3, math.Pi / 2},
		"steep":            {func(x float64) float64 { return math.Exp(50*x) - 2 }, -1, 1, math.Ln2 / 50},
		"a step":           {func(x float64) float64 { return math.Copysign(1, x-0.25) }, 0, 1, 0.25},
		"zero at the end":  {func(x float64) float64 { return x }, 0, 1, 0},
		"no zero: nearer":  {func(x float64) float64 { return x + 1 }, 0, 1, 0},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			require.InDelta(t, c.want, In(c.f, c.low, c.high), 1e-15+1e-15*math.Abs(c.want)+cubeSlack(name))
		})
	}
}

// cubeSlack: a zero that is 0 itself has no relative precision to end the search.
func cubeSlack(name string) float64 {
	if name == "cube, flat there" {
		return 1e-55
	}
	return 0
}

func TestInRefusesNaN(t *testing.T) {
	require.True(t, math.IsNaN(In(math.Log, -1, 2)))
}

func TestInProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zero := rapid.Float64Range(-1e3, 1e3).Draw(t, "zero")
		power := rapid.SampledFrom([]float64{0.2, 1, 3}).Draw(t, "power")
		f := func(x float64) float64 { return math.Copysign(math.Pow(math.Abs(x-zero), power), x-zero) }
		require.InDelta(t, zero, In(f, -2e3, 3e3), 1e-12)
	})
}

// TestInIsQuick: a probability costs tens of microseconds, so that an inverse
// must not take sixty of them.
func TestInIsQuick(t *testing.T) {
	calls := 0
	f := func(x float64) float64 { calls++; return math.Erf(x) - 0.7 }
	require.InDelta(t, math.Erfinv(0.7), In(f, -5, 20), 1e-15)
	require.Less(t, calls, 25)
}

func TestBeyond(t *testing.T) {
	require.InDelta(t, 1e6, Beyond(func(x float64) float64 { return x - 1e6 }, 0, 1), 1e-9)
	require.True(t, math.IsInf(Beyond(func(float64) float64 { return 1 }, 0, 1), 1))
}

func TestFirst(t *testing.T) {
	require.Equal(t, 7, First(func(k int) bool { return k*k >= 49 }, 0, 100))
	require.Equal(t, 0, First(func(int) bool { return true }, 0, 100))
	require.Equal(t, 101, First(func(int) bool { return false }, 0, 100))
}

func ExampleFirst() {
	fmt.Println(First(func(n int) bool { return 1<<n > 1000 }, 0, 60))
	// Output: 10
}
