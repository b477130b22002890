package chart

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/quality"
)

// TestFalseAlarmsBySimulation: a rule's run length against a walk of points; the
// second way knows nothing of chains or integral equations.
func TestFalseAlarmsBySimulation(t *testing.T) {
	source := rand.New(rand.NewPCG(11, 7))
	for r := TwoOfThree; r < ruleCount; r++ {
		const walks = 400
		total := 0.0
		for range walks {
			total += float64(walk(source, r))
		}
		want := total / walks
		// The spread of a run length is about its mean: four standard errors.
		require.InEpsilon(t, want, 1/r.FalseAlarms(), 4/math.Sqrt(walks), r.String())
	}
	require.InEpsilon(t, 370.398, 1/BeyondLimits.FalseAlarms(), 1e-6)
}

// walk returns the number of points to the first alarm of the rule. It keeps as
// many points from block to block as a rule looks back.
func walk(source *rand.Rand, r Rule) int {
	const back, block = 20, 200
	z, before := make([]float64, 0, back+block), 0
	for {
		for range block {
			z = append(z, source.NormFloat64())
		}
		if at := r.Broken(z, z); len(at) > 0 {
			return before + at[0]
		}
		before += len(z) - back
		z = append(z[:0], z[len(z)-back:]...)
	}
}

// TestRunsOfNeighboursByHand: without a monotone run of three a series goes up
// and down by turns, of which there are 2E(n) among n! orders (Euler's zigzag
// numbers, generating function sec + tan); without a turn it is one of two.
func TestRunsOfNeighboursByHand(t *testing.T) {
	require.InEpsilon(t, 2*(1/math.Cos(1)+math.Tan(1))-2, neighbours(3, false), 1e-10)
	require.InEpsilon(t, 2*math.E-2, neighbours(3, true), 1e-10)
}

func TestRulesTogetherAlarmSooner(t *testing.T) {
	all, err := RunLength(WesternElectric(), 0)
	require.NoError(t, err)
	for _, r := range WesternElectric() {
		require.Less(t, all, 1/r.FalseAlarms(), r.String())
	}
	shifted, err := RunLength(Nelson()[:2], 1)
	require.NoError(t, err)
	require.Less(t, shifted, 44.0)
	mirrored, err := RunLength(Nelson()[:2], -1)
	require.NoError(t, err)
	require.InEpsilon(t, shifted, mirrored, 1e-9)

	_, err = RunLength([]Rule{SixSteady, BeyondLimits}, 0)
	require.ErrorIs(t, err, quality.ErrSample)
	_, err = RunLength(nil, 0)
	require.ErrorIs(t, err, quality.ErrSample)
	_, err = RunLength([]Rule{SixSteady}, 1)
	require.ErrorContains(t, err, "six-steady")
}

// TestMirrorBreaksTheSameRules: the rules know no up and down, and no unit.
func TestMirrorBreaksTheSameRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.SliceOfN(rapid.Float64Range(-3.5, 3.5), 1, 60).Draw(t, "z")
		other, values := make([]float64, len(z)), make([]float64, len(z))
		for i, v := range z {
			other[i], values[i] = -v, -8*v
		}
		for r := BeyondLimits; r < ruleCount; r++ {
			require.Equal(t, r.Broken(z, z), r.Broken(other, values), r.String())
			for _, at := range r.Broken(z, z) {
				require.True(t, at >= 1 && at <= len(z))
			}
		}
	})
}

func TestPointsOnLinesBreakNothing(t *testing.T) {
	on := func(v float64, n int) []float64 {
		z := make([]float64, n)
		for i := range z {
			z[i] = v
		}
		return z
	}
	for name, c := range map[string]struct {
		rule Rule
		z    []float64
	}{
		"on the limit": {BeyondLimits, on(3, 5)}, "on 2 sigma": {TwoOfThree, on(2, 9)}, "on 1 sigma": {FourOfFive, on(1, 9)},
		"on the centre": {NineOnOneSide, on(0, 20)}, "not within": {FifteenWithin, on(1, 20)}, "not beyond": {EightBeyond, on(-1, 20)},
		"level": {SixSteady, on(0.5, 20)}, "level too": {FourteenAlternating, on(0.5, 20)},
	} {
		require.Empty(t, c.rule.Broken(c.z, c.z), name)
	}
	require.Equal(t, []int{8, 9, 10}, EightOnOneSide.Broken(on(0.1, 10), nil))
	require.Equal(t, []int{15, 16}, FifteenWithin.Broken(on(0, 16), nil))
}

func TestUnequalSubgroups(t *testing.T) {
	groups := [][]float64{{5.0, 5.2, 5.1}, {5.1, 4.9}, {5.0, 5.3, 5.1, 5.2}, {5.05}}
	p, err := Variables(XbarR, groups, WesternElectric())
	require.NoError(t, err)
	require.True(t, math.IsNaN(p.Location.Lower), "limits differ from point to point")
	require.InDelta(t, p.Mean, p.Location.Centre, 1e-12)
	require.Len(t, p.Spread.Points, 3, "one value has no range")
	wide, narrow := p.Location.Points[3], p.Location.Points[2]
	require.InDelta(t, 2*(narrow.Upper-p.Mean), wide.Upper-p.Mean, 1e-9, "a mean of four lies twice as close")
	c, err := AttributesAround(0.1, NP, []float64{1, 9}, []float64{20, 50}, []Rule{BeyondLimits})
	require.NoError(t, err)
	require.True(t, math.IsNaN(c.Centre) && math.IsNaN(c.Upper))
	require.Equal(t, []int(nil), c.Out())
}

func TestProcessWithoutSpread(t *testing.T) {
	p, err := Variables(XbarS, [][]float64{{2, 2}, {2, 2}}, WesternElectric())
	require.NoError(t, err)
	require.Empty(t, p.Location.Out())
	b := Baseline{Mean: 2, Sigma: 0}
	q, err := b.Variables(Individuals, [][]float64{{2, 2.1}}, []Rule{BeyondLimits})
	require.NoError(t, err)
	require.Equal(t, []int{2}, q.Location.Out())
	require.Equal(t, []Rule{BeyondLimits}, q.Location.Points[1].Violations)
}

func TestChartsThatCannotBeDrawn(t *testing.T) {
	for name, c := range map[string]struct {
		f    func() error
		says string
	}{
		"no subgroup":     {func() error { _, err := Variables(XbarR, nil, nil); return err }, "no subgroup"},
		"empty subgroup":  {func() error { _, err := Variables(XbarR, [][]float64{{1, 2}, {}}, nil); return err }, "subgroup 2"},
		"single values":   {func() error { _, err := Variables(XbarR, [][]float64{{1}, {2}}, nil); return err }, "no subgroup holds two"},
		"one value":       {func() error { _, err := Variables(Individuals, [][]float64{{1}}, nil); return err }, "1 values"},
		"no baseline":     {func() error { _, err := (Baseline{math.NaN(), 1}).Variables(XbarR, [][]float64{{1}}, nil); return err }, "baseline of mean NaN"},
		"no counts":       {func() error { _, err := Attributes(C, nil, nil, nil); return err }, "counts"},
		"half a fault":    {func() error { _, err := Attributes(C, []float64{1.5}, nil, nil); return err }, "count 1 is 1.5"},
		"negative":        {func() error { _, err := Attributes(C, []float64{1, -2}, nil, nil); return err }, "count 2 is -2"},
		"sizes lack":      {func() error { _, err := Attributes(U, []float64{1, 2}, []float64{4}, nil); return err }, "2 counts, but 1 sizes"},
		"size of 0":       {func() error { _, err := Attributes(U, []float64{1}, []float64{0}, nil); return err }, "size 1 is 0"},
		"more bad than n": {func() error { _, err := Attributes(P, []float64{6}, []float64{5}, nil); return err }, "count 1 is 6 of 5"},
		"rate above 1":    {func() error { _, err := AttributesAround(1.2, P, []float64{1}, []float64{5}, nil); return err }, "rate 1.2"},
		"no such kind":    {func() error { _, err := Attributes(Count(7), []float64{1}, nil, nil); return err }, "kind 7"},
		"EWMA without":    {func() error { _, err := Moving(nil, 0, 1, 0.2, 3); return err }, "0 values"},
		"EWMA weight":     {func() error { _, err := Moving([]float64{1}, 0, 1, 1.2, 3); return err }, "weight 1.2"},
		"CUSUM without":   {func() error { _, err := Cumulate(nil, 0, 1, 5); return err }, "0 values"},
		"CUSUM no limit":  {func() error { _, err := Cumulate([]float64{1}, 0, 1, 0); return err }, "decision 0"},
		"unknown rule":    {func() error { _, err := ParseRule("seven"); return err }, `no run rule "seven"`},
	} {
		t.Run(name, func(t *testing.T) { require.ErrorContains(t, c.f(), c.says) })
	}
}

func TestRuleNames(t *testing.T) {
	for r := BeyondLimits; r < ruleCount; r++ {
		back, err := ParseRule(r.String())
		require.NoError(t, err)
		require.Equal(t, r, back)
	}
	require.Equal(t, "rule 44", Rule(44).String())
}

func TestMemoryLimits(t *testing.T) {
	require.InEpsilon(t, 2.7, MovingWidth(0.1, MovingRunLength(0.1, 2.7, 0)), 1e-9)
	require.InEpsilon(t, LimitsRunLength(3, 1), MovingRunLength(1, 3, 1), 1e-6, "a weight of 1 remembers nothing")
	c, err := Cumulate([]float64{0, -3, -3, -3}, 0, 0.5, 4)
	require.NoError(t, err)
	require.Equal(t, []int{3, 4}, c.Out())
	require.Equal(t, -5.0, c.Points[2].Value)
	for _, v := range []float64{MovingRunLength(0, 3, 0), CusumRunLength(0.5, 0, 0), MovingWidth(0.2, 1), CusumRunLength(math.NaN(), 1, 0)} {
		require.True(t, math.IsNaN(v))
	}
	require.True(t, math.IsNaN(Of(1).A) && math.IsNaN(Of(1).A3) && math.IsNaN(Of(0).D4))
}

func BenchmarkRunLengthOfFourRules(b *testing.B) {
	for b.Loop() {
		if _, err := RunLength(WesternElectric(), 0); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkVariables(b *testing.B) {
	groups := make([][]float64, 10_000)
	source := rand.New(rand.NewPCG(1, 1))
	for i := range groups {
		groups[i] = []float64{source.NormFloat64(), source.NormFloat64(), source.NormFloat64(), source.NormFloat64(), source.NormFloat64()}
	}
	for b.Loop() {
		if _, err := Variables(XbarR, groups, Nelson()); err != nil {
			b.Fatal(err)
		}
	}
}
