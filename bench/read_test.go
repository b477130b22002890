package bench_test

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
)

// near demands that a reading agrees with the truth within its own expanded
// uncertainty, and that this is no larger than it has to be.
func near(t *testing.T, r bench.Reading, truth, mostU float64) {
	t.Helper()
	require.Equal(t, quantity.Exact, r.Value.Bound)
	require.InDelta(t, truth, r.Value.SI, r.Value.U().SI, "%s", r.Value)
	require.Less(t, r.Value.U().SI, mostU, "%s", r.Value)
	require.NoError(t, r.Value.Validate())
}

func TestReadEveryChannelOfAChargingUnit(t *testing.T) {
	r, b := charging(t, bench.Options{})
	ctx := context.Background()
	require.NoError(t, r.Pause(ctx, 20*time.Millisecond))
	get := func(name string) bench.Reading {
		got, err := r.Read(ctx, name, bench.ReadOptions{})
		require.NoError(t, err)
		return got
	}
	// The board's own numbers: 5.1 V behind 0.5 Ω with 100 kΩ on it.
	near(t, get("vbus"), b.v, 0.02)
	near(t, get("vref"), 2.5, 0.01)
	near(t, get("ibus"), 0.4+b.v/100e3, 0.003)
	near(t, get("temperature"), 273.15+25, 1.5)
	require.InDelta(t, 0, get("light").Value.SI, 0.001)
}

func TestReadTakesTheRangeOfTheState(t *testing.T) {
	b := newBoard(t)
	b.unit = unit{farads: 1e-6, draws: 0.03}
	r := NewRig(t, b, bench.Options{})
	ctx := context.Background()
	r.Pass("probe-vbus")
	var u [2]float64
	for i, rng := range []string{"high", "low"} {
		require.NoError(t, r.Enter(ctx, to("legacy-a", "range", rng)))
		require.NoError(t, r.Pause(ctx, 20*time.Millisecond))
		got, err := r.Read(ctx, "ibus", bench.ReadOptions{Periods: 2})
		require.NoError(t, err)
		near(t, got, 0.03, 0.001)
		u[i] = got.Value.U().SI
	}
	require.Greater(t, u[0], 2*u[1], "the low range is the finer one")
}

func TestReadSaturated(t *testing.T) {
	t.Run("a current beyond the monitor is a bound", func(t *testing.T) {
		r, b := charging(t, bench.Options{})
		b.unit.draws = 0.95
		require.NoError(t, r.Pause(context.Background(), 20*time.Millisecond))
		got, err := r.Read(context.Background(), "ibus", bench.ReadOptions{})
		require.NoError(t, err)
		require.Equal(t, quantity.AtLeast, got.Value.Bound)
		require.True(t, got.Saturated)
		require.Equal(t, 0.8, got.Value.SI, "the top of the channel")
	})
	t.Run("a range that is too narrow is widened", func(t *testing.T) {
		r, b := charging(t, bench.Options{})
		got, err := r.Read(context.Background(), "vbus", bench.ReadOptions{Expect: volts(0.3)})
		require.NoError(t, err)
		near(t, got, b.v, 0.02)
	})
}

func TestReadAveragesOverWholeMainsPeriods(t *testing.T) {
	r, b := charging(t, bench.Options{})
	ctx := context.Background()
	require.NoError(t, r.Pause(ctx, 20*time.Millisecond))
	first := b.now
	got, err := r.Read(ctx, "vbus", bench.ReadOptions{Periods: 3, Expect: volts(5.5)})
	require.NoError(t, err)
	require.InDelta(t, 60e-3, (b.now - first).Seconds(), 8e-3)
	require.InDelta(t, (first + 30*time.Millisecond).Seconds(), got.At.Seconds(), 5e-3, "the middle")
	part := part(t, got.Value, "repeatability")
	require.Greater(t, part.DOF, 24.0)
	require.Equal(t, "t", part.Dist)
}

// part finds the one contribution whose source contains a text.
func part(t *testing.T, m quantity.Measured, text string) quantity.Contribution {
	t.Helper()
	for _, c := range m.Parts {
		if strings.Contains(c.Source, text) {
			return c
		}
	}
	require.Fail(t, "no contribution", "%s in %v", text, m.Parts)
	return quantity.Contribution{}
}

func TestBudgetOfADividedVoltage(t *testing.T) {
	r, b := charging(t, bench.Options{})
	require.NoError(t, r.Pause(context.Background(), 20*time.Millisecond))
	got, err := r.Read(context.Background(), "vbus", bench.ReadOptions{})
	require.NoError(t, err)
	v := got.Value.SI
	// JCGM 100:2008, 4.3.7: a tolerance is uniform, std = a/√3. Equal
	// resistors share a change of one by half.
	require.InEpsilon(t, 0.0015*v/math.Sqrt(3), math.Abs(part(t, got.Value, "adc1 gain").Share()), 1e-9)
	require.InEpsilon(t, 0.3e-3*2/math.Sqrt(3), math.Abs(part(t, got.Value, "adc1 offset").Share()), 1e-3)
	require.InEpsilon(t, 0.001*v/2/math.Sqrt(3), math.Abs(part(t, got.Value, "r_vbus_top tolerance").Share()), 1e-3)
	require.InEpsilon(t, 0.001*v/2/math.Sqrt(3), math.Abs(part(t, got.Value, "r_vbus_bot tolerance").Share()), 1e-3)
	require.Negative(t, part(t, got.Value, "r_vbus_bot tolerance").Sens*part(t, got.Value, "r_vbus_top tolerance").Sens)
	require.InDelta(t, b.v, v, got.Value.U().SI)
	_, err = r.Read(context.Background(), "vbus", bench.ReadOptions{})
	require.NoError(t, err)
}

func TestReadTermination(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		name, pull string
		rd         float64
		mostU      float64 // 0 where a bound is wanted
	}{
		// Facts, section 7.7: at 10 kΩ and 3.3 V the converter alone is good
		// for 0.25 %; the ratio cancels its gain and leaves the resistors.
		{"5.1 kΩ at 10 kΩ", "10 kΩ", 5100, 0.005 * 5100},
		{"5.1 kΩ at 36 kΩ", "36 kΩ", 5100, 0.006 * 5100},
		{"10 kΩ", "10 kΩ", 10e3, 0.006 * 10e3},
		{"51 kΩ", "36 kΩ", 51e3, 0.01 * 51e3},
		{"510 Ω", "10 kΩ", 510, 0.02 * 510},
		{"a short", "10 kΩ", 0.01, 6},
		{"open", "36 kΩ", 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBoard(t)
			b.unit.rd1 = c.rd
			r := NewRig(t, b, bench.Options{})
			r.Pass("probe-vbus")
			require.NoError(t, r.Enter(ctx, to("probe-cc1", "pullup", c.pull)))
			got, err := r.Read(ctx, "rd1", bench.ReadOptions{})
			require.NoError(t, err)
			if c.mostU == 0 {
				require.Equal(t, quantity.AtLeast, got.Value.Bound)
				require.True(t, got.Saturated)
				require.Greater(t, got.Value.SI, 400e3)
				return
			}
			near(t, got, c.rd, c.mostU)
			for _, p := range got.Value.Parts {
				if p.Source == "adc1 gain" {
					require.InDelta(t, 0, p.Share(), 1e-9*c.rd, "the gain cancels")
				}
			}
		})
	}
}

func TestReadTerminationNeedsOnePullUp(t *testing.T) {
	r := NewRig(t, newBoard(t), bench.Options{})
	var f *bench.Fault
	_, err := r.Read(context.Background(), "rd1", bench.ReadOptions{})
	require.ErrorAs(t, err, &f)
	require.Equal(t, "rd1", f.Thing)
	require.NoError(t, r.Err())
	_, err = r.Read(context.Background(), "moon", bench.ReadOptions{})
	require.ErrorAs(t, err, &f)
}

// TestTerminationAgreesWithMonteCarlo draws every cause of the shipped rig from
// the wiring's limits, with one gain for both readings, and computes R as the
// bench does from what the drawn rig would show.
func TestTerminationAgreesWithMonteCarlo(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		rd     float64
		pull   float64
		option string
	}{{5100, 10e3, "10 kΩ"}, {5100, 36e3, "36 kΩ"}, {51e3, 36e3, "36 kΩ"}, {510, 10e3, "10 kΩ"}} {
		b := newBoard(t)
		b.unit.rd1 = c.rd
		r := NewRig(t, b, bench.Options{})
		r.Pass("probe-vbus")
		require.NoError(t, r.Enter(ctx, to("probe-cc1", "pullup", c.option)))
		got, err := r.Read(ctx, "rd1", bench.ReadOptions{})
		require.NoError(t, err)

		noise := [2]float64{part(t, got.Value, "vprobe #").Std, 0}
		var step [2]float64
		for _, p := range got.Value.Parts {
			switch {
			case strings.HasPrefix(p.Source, "vprobe") && strings.HasSuffix(p.Source, "repeatability"):
				noise[0] = p.Std
			case strings.HasPrefix(p.Source, "cc1") && strings.HasSuffix(p.Source, "repeatability"):
				noise[1] = p.Std
			case strings.HasPrefix(p.Source, "vprobe") && strings.HasSuffix(p.Source, "step"):
				step[0] = p.Std * math.Sqrt(12)
			case strings.HasPrefix(p.Source, "cc1") && strings.HasSuffix(p.Source, "step"):
				step[1] = p.Std * math.Sqrt(12)
			}
		}
		require.Equal(t, step[0], step[1], "one range for both, so that the gain is one")
		rng := rand.New(rand.NewPCG(7, 11))
		u := func(half float64) float64 { return half * (2*rng.Float64() - 1) }
		const n = 100_000
		sum, sum2 := 0.0, 0.0
		for range n {
			gain, offset := 1+u(0.0015), u(0.3e-3)
			pull := c.pull * (1 + u(0.001))
			top, bot := 510e3*(1+u(0.001)), 510e3*(1+u(0.001))
			railTop, railBot := 510e3*(1+u(0.001)), 510e3*(1+u(0.001))
			pin := 3.3 / pull / (1/pull + 1/c.rd + 1/(top+bot))
			tap := pin*bot/(top+bot)*gain + offset + noise[1]*rng.NormFloat64() + u(step[1]/2)
			rail := 3.3*railBot/(railTop+railBot)*gain + offset + noise[0]*rng.NormFloat64() + u(step[0]/2)
			v, vs := 2*tap, 2*rail
			x := 1 / ((vs-v)/v/c.pull - 1/1.02e6)
			sum += x
			sum2 += x * x
		}
		mean := sum / n
		std := math.Sqrt(sum2/n - mean*mean)
		require.InEpsilon(t, std, got.Value.Std(), 0.05, "%g Ω at %s", c.rd, c.option)
	}
}
