package coverage

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/quality/conformance"
	"sinkproof/reports/record"
)

// Published by Newcombe, Statistics in Medicine 17 (1998) 857, table I, as the
// exact method: .2527 to .3676 for 81 of 263, .0578 to .1617 for 15 of 148, 0
// to .1684 for 0 of 20, .0009 to .1776 for 1 of 29 (from memory; R 4.2.2
// agrees).
func TestRateHasTheExactInterval(t *testing.T) {
	for _, c := range []struct {
		count, of int
		low, high float64
	}{{81, 263, 0.2527, 0.3676}, {15, 148, 0.0578, 0.1617}, {0, 20, 0, 0.1684}, {1, 29, 0.0009, 0.1776}} {
		r := newRate(c.count, c.of, 0.95)
		require.InDelta(t, c.low, r.Low, 5e-5)
		require.InDelta(t, c.high, r.High, 5e-5)
		require.InDelta(t, float64(c.count)/float64(c.of), r.Share, 1e-15)
	}
	require.InDelta(t, 0.00368, newRate(0, 1000, 0.95).High, 5e-6, "nobody reads zero of a thousand as zero")
}

func limits(lower, upper float64) conformance.Limits {
	return conformance.Limits{Lower: lower, Upper: upper}
}

// TestGlobalRisks: the precision resistors of JCGM 106:2012, 9.5 (1500 Ω,
// limits ±0.2 Ω, spread 0.12 Ω, standard uncertainty 0.04 Ω; inputs from
// memory, not verified against a printed copy), without and with a guard band,
// and a production with 95 % within limits measured at a test uncertainty
// ratio of 4. Results computed with R 4.2.2.
func TestGlobalRisks(t *testing.T) {
	for name, c := range map[string]struct {
		production         Normal
		u                  float64
		tolerance, accepts conformance.Limits
		want               Risks
	}{
		"resistors, simple acceptance": {Normal{1500, 0.12}, 0.04, limits(1499.8, 1500.2), limits(1499.8, 1500.2),
			Risks{0.904419295454446, 0.886153701993424, 0.0189422067170413, 0.0372078001780631}},
		"resistors, guarded": {Normal{1500, 0.12}, 0.04, limits(1499.8, 1500.2), limits(1499.82, 1500.18),
			Risks{0.904419295454446, 0.845271076514768, 0.00987829152180097, 0.0690265104614796}},
		"uncertainty ratio 4": {Normal{0, 0.510204081632653}, 0.125, limits(-1, 1), limits(-1, 1),
			Risks{0.950004209703559, 0.943050452222978, 0.00858213614245984, 0.0155358936230414}},
	} {
		t.Run(name, func(t *testing.T) {
			got := risksOf(c.production, c.u, c.tolerance, c.accepts.Lower-c.tolerance.Lower)
			require.InDelta(t, c.want.Conforming, got.Conforming, 1e-9)
			require.InDelta(t, c.want.Accepted, got.Accepted, 1e-9)
			require.InDelta(t, c.want.Consumer, got.Consumer, 1e-9)
			require.InDelta(t, c.want.Producer, got.Producer, 1e-9)
		})
	}
}

// TestGlobalRisksAgreeWithCounting: units are drawn, measured and counted.
func TestGlobalRisksAgreeWithCounting(t *testing.T) {
	const n = 400_000
	production, u := Normal{10, 1}, 0.3
	tolerance, accepts := limits(8.5, math.Inf(1)), limits(8.9, math.Inf(1))
	want := risksOf(production, u, tolerance, accepts.Lower-tolerance.Lower)
	chance := rand.New(rand.NewPCG(7, 7))
	var got Risks
	for range n {
		truth := production.Mean + production.SD*chance.NormFloat64()
		read := truth + u*chance.NormFloat64()
		conforms, accepted := truth >= tolerance.Lower, read >= accepts.Lower
		if conforms {
			got.Conforming += 1.0 / n
		}
		if accepted {
			got.Accepted += 1.0 / n
		}
		switch {
		case conforms && !accepted:
			got.Producer += 1.0 / n
		case !conforms && accepted:
			got.Consumer += 1.0 / n
		}
	}
	within := func(want, got float64) { require.InDelta(t, want, got, 4*math.Sqrt(want*(1-want)/n)) }
	within(want.Conforming, got.Conforming)
	within(want.Accepted, got.Accepted)
	within(want.Consumer, got.Consumer)
	within(want.Producer, got.Producer)
}

// TestGlobalRisksAddUp: what is accepted conforms, or is the consumer's risk;
// a wider guard band moves risk from the consumer to the producer.
func TestGlobalRisksAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		production := Normal{rapid.Float64Range(-5, 5).Draw(t, "mean"), rapid.Float64Range(0.01, 3).Draw(t, "sd")}
		u := rapid.Float64Range(0.001, 1).Draw(t, "u")
		low := rapid.Float64Range(-8, 0).Draw(t, "low")
		tolerance := limits(low, low+rapid.Float64Range(0.5, 9).Draw(t, "width"))
		w := rapid.Float64Range(0, 0.2).Draw(t, "guard band")
		plain := risksOf(production, u, tolerance, 0)
		guarded := risksOf(production, u, tolerance, w)
		for _, r := range []Risks{plain, guarded} {
			require.InDelta(t, r.Accepted, r.Conforming-r.Producer+r.Consumer, 1e-9)
			for _, p := range []float64{r.Conforming, r.Accepted, r.Consumer, r.Producer} {
				require.GreaterOrEqual(t, p, -1e-12)
				require.LessOrEqual(t, p, 1+1e-12)
			}
		}
		require.LessOrEqual(t, guarded.Consumer, plain.Consumer+1e-9)
		require.GreaterOrEqual(t, guarded.Producer, plain.Producer-1e-9)
	})
}

func TestGlobalRisksOfNoSpread(t *testing.T) {
	require.True(t, math.IsNaN(risksOf(Normal{1, 0}, 0.1, limits(0, 2), 0).Consumer))
	require.True(t, math.IsNaN(risksOf(Normal{1, 1}, 0, limits(0, 2), 0).Producer))
}

// TestJudgeAgain: the decisions of ILAC-G8:09/2019 with w = r U: 0, ½ and 1 U,
// two-sided and one-sided. Readings stand clear of the acceptance limits by
// more than rounding.
func TestJudgeAgain(t *testing.T) {
	inf := math.Inf(1)
	for name, c := range map[string]struct {
		low, high, u, r float64
		values          []float64
		pass            []bool
	}{
		"two-sided, r 1":   {4.9, 5.1, 0.012, 1, []float64{5, 5.087, 5.0995, 5.105, 5.113, 4.93}, []bool{true, true, false, false, false, true}},
		"two-sided, r 0":   {4.9, 5.1, 0.012, 0, []float64{5, 5.087, 5.0995, 5.105, 5.113, 4.93}, []bool{true, true, true, false, false, true}},
		"upper only, r 1":  {-inf, 10, 0.5, 1, []float64{9.2, 9.5, 9.7, 10.2, 10.6}, []bool{true, true, false, false, false}},
		"two-sided, r 0.5": {0, 1, 0.1, 0.5, []float64{0.04, 0.05, 0.5, 0.96, 1.04}, []bool{false, true, true, false, false}},
	} {
		for i, x := range c.values {
			h := held{value: x, u: c.u, low: c.low, high: c.high}
			require.Equal(t, c.pass[i], h.judge(c.r, 0) == record.Passed, "%s: %g", name, x)
		}
	}
}

// TestJudgeAgainBoundsAndMeetingBands: a bound stands for all values on its
// side; where guard bands meet only a clear violation can be told.
func TestJudgeAgainBoundsAndMeetingBands(t *testing.T) {
	h := func(value, u float64, bound string) *held {
		return &held{value: value, u: u, bound: bound, low: 1, high: 2}
	}
	require.Equal(t, record.Failed, h(2.5, 0, record.AtLeast).judge(0, 0))
	require.Equal(t, record.Unanswered, h(1.5, 0, record.AtLeast).judge(0, 0))
	require.Equal(t, record.Failed, h(0.5, 0, record.AtMost).judge(0, 0))
	require.Equal(t, record.Passed, (&held{value: 5, bound: record.AtLeast, low: 1, high: math.Inf(1)}).judge(1, 0))
	require.Equal(t, record.Unanswered, h(1.5, 0.6, "").judge(1, 0))
	require.Equal(t, record.Failed, h(2.7, 0.6, "").judge(1, 0))
	require.Equal(t, record.Failed, h(0.3, 0.6, "").judge(1, 0))
	require.Equal(t, record.Passed, h(2.1, 0.01, "").judge(1, 0.1), "a limit of 2 moved to 2.2")
	require.Equal(t, record.Failed, h(1.05, 0.01, "").judge(1, -0.1), "a limit of 1 moved to 1.1")
	unsettled := holdOf(record.Check{Answer: record.Failed, Value: &record.Value{Value: 1.5, U: 0.01}, Lower: &record.Limit{Value: 1}}, record.Decision{Guard: 1})
	require.Equal(t, record.Failed, unsettled.answer(0, 0.5), "it failed because it was not steady, whatever the limits")
}

func TestSets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const size = 70
		in := rapid.SliceOfNDistinct(rapid.IntRange(0, size-1), 0, size, rapid.ID[int]).Draw(t, "places")
		s := setOf(size, in)
		require.ElementsMatch(t, in, s.places())
		for i := range size {
			require.Equal(t, slices.Contains(in, i), s.has(i))
		}
	})
}

func TestBase(t *testing.T) {
	require.Equal(t, "c-attach", base("c-attach[default, normal]"))
	require.Equal(t, "back-feed", base("back-feed"))
}
