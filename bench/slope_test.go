package bench

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/chip/adc16x4"
)

// curveOf samples a function n times, every step seconds.
func curveOf(n int, step float64, f func(t float64) float64) curve {
	var c curve
	for i := range n {
		c.add(float64(i)*step, f(float64(i)*step))
	}
	return c
}

func TestSlopeOfAParabolaIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := rapid.Float64Range(5, 100).Draw(t, "slope at 0")
		a := -rapid.Float64Range(0, 0.4).Draw(t, "bend") * b / 0.02
		n := rapid.IntRange(5, 40).Draw(t, "n")
		c := curveOf(n, 0.02/float64(n), func(t float64) float64 { return 0.3 + b*t + a*t*t })
		at := 0.01
		got := slopeAt(c, 0.3+b*at+a*at*at)
		require.InEpsilon(t, b+2*a*at, got.perSecond, 1e-6)
		require.Equal(t, n, got.n)
	})
}

func TestSlopeOfAnExponentialNearTheLevel(t *testing.T) {
	// 0.1 mA into 4.7 µF with 100 kΩ: (10 V - v) / 0.47 s.
	c := curveOf(80, 1.163e-3, func(t float64) float64 { return 10 * (1 - math.Exp(-t/0.47)) })
	got := slopeAt(c.near(1.6, wideBand), 1.6)
	require.InEpsilon(t, (10-1.6)/0.47, got.perSecond, 0.002)
}

func TestSlopeUncertaintyAgreesWithMonteCarlo(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{4, 8, 20} {
		const runs = 4000
		var sum, sum2, claimed float64
		for range runs {
			c := curveOf(n, 1.163e-3, func(float64) float64 { return 0 })
			c.jitter = 20e-6
			for i := range c.t {
				true_ := c.t[i]
				c.v[i] = 20*true_ + 1e-3*rng.NormFloat64()
				c.t[i] = true_ + c.jitter*rng.NormFloat64()
			}
			got := lineAt(c)
			sum += got.perSecond
			sum2 += got.perSecond * got.perSecond
			claimed += got.std * got.std
		}
		std := math.Sqrt(sum2/runs - sq(sum/runs))
		// The residuals already hold the jitter once more: never below, and
		// above by no more than that.
		require.InEpsilon(t, std, math.Sqrt(claimed/runs), 0.2, "%d points", n)
	}
}

func TestSlopeOfTooFewPoints(t *testing.T) {
	require.True(t, math.IsNaN(lineAt(curve{}).perSecond))
	got := lineAt(curve{t: []float64{0, 1}, v: []float64{1, 3}, jitter: 0.1})
	require.InDelta(t, 2, got.perSecond, 1e-12)
	require.Positive(t, got.std, "two points have the jitter alone")
}

func TestSlopesAtOneLevelCancelAnyResistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		farads := rapid.Float64Range(1, 10).Draw(t, "µF") * 1e-6
		ohms := rapid.Float64Range(30e3, 1e6).Draw(t, "Ω")
		tau, end := farads*ohms, 0.1e-3*ohms
		rise := curveOf(400, 1.163e-3, func(t float64) float64 { return end * (1 - math.Exp(-t/tau)) }).within(lowerLevel, upperLevel)
		fall := curveOf(30, 1.163e-3, func(t float64) float64 { return 2.05 * math.Exp(-t/tau) })
		up, down, doubt := slopes(rise, fall)
		got := 0.1e-3 / (up.perSecond - down.perSecond)
		require.InDelta(t, farads, got, farads*0.01+0.1e-3*doubt/sq(up.perSecond-down.perSecond))
	})
}

func TestBoundHoldsAtEveryPhase(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		farads := rapid.Float64Range(5e-9, 100e-9).Draw(t, "F")
		late := rapid.Float64Range(0, 2e-3).Draw(t, "switch")
		period := adc16x4.SPS860.Period().Seconds()
		averaging := rapid.Bool().Draw(t, "averaging")
		v := func(at float64) float64 { return min(max(0.1e-3*(at-late)/farads, 0.05), 2.8) }
		var all curve
		for i := range sweeps {
			// As a sweep runs: the write takes 0.38 ms of the conversion.
			for from := -0.27e-3 - period*float64(i)/sweeps; from < 8e-3; from += 1.4e-3 {
				x := v(from + period/2)
				if averaging {
					x = 0
					for k := range 100 {
						x += v(from+period*(float64(k)+0.5)/100) / 100
					}
				}
				all.add(from, x)
			}
		}
		got := all.bound(0.1e-3)
		require.GreaterOrEqual(t, got, farads*0.98, "the level that is not reached counts, too")
		require.Less(t, got, farads*1.3+90e-9)
	})
}

func TestBoundWithoutARise(t *testing.T) {
	require.True(t, math.IsInf(curve{t: []float64{0, 1}, v: []float64{0.05, 0.06}}.bound(1e-4), 1))
	require.True(t, math.IsInf(curve{t: []float64{0, 1}, v: []float64{2.7, 2.8}}.bound(1e-4), 1))
}

func TestInsideDropsTheEnds(t *testing.T) {
	c := curveOf(50, 0.1e-3, func(t float64) float64 { return 600 * t })
	in := c.inside(2)
	margin := 600 * adc16x4.SPS860.Longest().Seconds() / 2
	require.GreaterOrEqual(t, least(in.v), margin)
	require.LessOrEqual(t, most(in.v), 2-margin)
	require.Empty(t, curve{}.inside(2).t)
}
