package gauge

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/quality"
)

// simulated draws a crossed study from known components.
func simulated(r *rand.Rand, appraisers, parts, trials int, ev, av, both, pv float64) Study {
	var readings []Reading
	part := make([]float64, parts)
	for i := range part {
		part[i] = pv * r.NormFloat64()
	}
	for a := range appraisers {
		own := av * r.NormFloat64()
		for p := range parts {
			cell := 10 + own + part[p] + both*r.NormFloat64()
			for range trials {
				readings = append(readings, Reading{fmt.Sprint(p), fmt.Sprint(a), cell + ev*r.NormFloat64()})
			}
		}
	}
	s, err := Arrange(readings)
	if err != nil {
		panic(err) // a balanced study was drawn
	}
	return s
}

// TestSumsAddUp: the lines of an analysis add to the total, whatever the data.
func TestSumsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		o, p, n := rapid.IntRange(1, 4).Draw(t, "o"), rapid.IntRange(2, 8).Draw(t, "p"), rapid.IntRange(2, 4).Draw(t, "n")
		a := simulated(r, o, p, n, 1, 1, 1, 2).Analyze(Pooling, 0.95)
		l := a.Table
		require.InEpsilon(t, l.Total.SS, l.Part.SS+l.Appraiser.SS+l.Interaction.SS+l.Repeatability.SS, 1e-11)
		require.Equal(t, l.Total.DF, l.Part.DF+l.Appraiser.DF+l.Interaction.DF+l.Repeatability.DF)
		require.InEpsilon(t, a.TV*a.TV, a.GRR*a.GRR+a.PV*a.PV, 1e-12)
		require.GreaterOrEqual(t, a.GRR, a.EV)
	})
}

// TestIntervalsCover: 90 % intervals hold the true components at least about
// nine times in ten.
func TestIntervalsCover(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 12))
	const rounds = 300
	truth := Components{EV: 0.2, AV: 0.3, Interaction: 0.25, PV: 1}.withTotals()
	hits := map[string]float64{}
	for range rounds {
		i := simulated(r, 6, 10, 3, truth.EV, truth.AV, truth.Interaction, truth.PV).Analyze(1, 0.9).Intervals
		for name, c := range map[string]struct {
			quality.Interval
			truth float64
		}{"EV": {i.EV, truth.EV}, "AV": {i.AV, truth.AV}, "interaction": {i.Interaction, truth.Interaction},
			"GRR": {i.GRR, truth.GRR}, "PV": {i.PV, truth.PV}, "TV": {i.TV, truth.TV}} {
			if c.Contains(c.truth) {
				hits[name] += 1.0 / rounds
			}
		}
	}
	require.Len(t, hits, 6)
	for name, h := range hits {
		require.Greater(t, h, 0.84, name)
		require.Less(t, h, 0.98, name)
	}
}

// TestMethodsAgree: with many parts both ways find the truth.
func TestMethodsAgree(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 3))
	s := simulated(r, 8, 60, 4, 0.1, 0.4, 0, 1)
	a, m := s.Analyze(0, 0.95), s.AverageRange()
	require.InEpsilon(t, a.EV, m.EV, 0.05)
	require.InEpsilon(t, a.PV, m.PV, 0.25)
	require.InEpsilon(t, 0.1, a.EV, 0.1)
	require.InEpsilon(t, 1, a.PV, 0.25)
	require.True(t, a.Intervals.EV.Contains(a.EV) && a.Intervals.GRR.Contains(a.GRR))
}

func TestOneAppraiser(t *testing.T) {
	s := simulated(rand.New(rand.NewPCG(1, 1)), 1, 12, 3, 0.1, 5, 0, 1)
	a := s.Analyze(Pooling, 0.95)
	require.Zero(t, a.AV)
	require.Zero(t, a.Interaction)
	require.True(t, math.IsNaN(a.InteractionP()))
	require.Equal(t, a.EV, a.GRR)
	require.False(t, a.Intervals.AV.Defined())
	require.Equal(t, a.Intervals.EV, a.Intervals.GRR)
	m := s.AverageRange()
	require.Zero(t, m.AV)
	require.Zero(t, m.K2)
}

func TestGaugeWithoutSpread(t *testing.T) {
	s, err := Arrange([]Reading{{"1", "A", 3}, {"1", "A", 3}, {"2", "A", 5}, {"2", "A", 5}, {"1", "B", 3}, {"1", "B", 3}, {"2", "B", 5}, {"2", "B", 5}})
	require.NoError(t, err)
	a := s.Analyze(Pooling, 0.95)
	require.Zero(t, a.GRR)
	whole, exact := a.NDC()
	require.Zero(t, whole)
	require.True(t, math.IsInf(exact, 1))
	flat, err := Arrange([]Reading{{"1", "A", 3}, {"1", "A", 3}, {"2", "A", 3}, {"2", "A", 3}})
	require.NoError(t, err)
	b := flat.Analyze(Pooling, 0.95)
	require.True(t, math.IsNaN(b.GRRPercent()))
	_, exact = b.NDC()
	require.True(t, math.IsNaN(exact))
	require.True(t, math.IsNaN(b.GRRPercentTolerance(0)))
}

func TestStudiesThatCannotBeAnalyzed(t *testing.T) {
	full := []Reading{{"1", "A", 1}, {"1", "A", 2}, {"2", "A", 3}, {"2", "A", 4}}
	for name, c := range map[string]struct {
		readings []Reading
		is       error
		says     string
	}{
		"empty":           {nil, quality.ErrSample, "0 parts"},
		"one part":        {full[:2], quality.ErrSample, "1 parts"},
		"one trial":       {[]Reading{full[0], full[2]}, quality.ErrSample, "1 trial"},
		"a trial lacking": {full[:3], ErrUnbalanced, `appraiser "A" measured part "2" 1 times, but "A" part "1" 2 times`},
		"not crossed":     {append([]Reading{{"3", "B", 1}, {"3", "B", 2}}, full...), ErrUnbalanced, `measured part "1" 0 times`},
		"a hole":          {[]Reading{full[0], {"1", "A", math.NaN()}}, quality.ErrSample, "reading 2 is NaN"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Arrange(c.readings)
			require.ErrorIs(t, err, c.is)
			require.ErrorContains(t, err, c.says)
		})
	}
}

// TestFleiss: ten units, fourteen judges, five classes; kappa .210 (Fleiss
// kappa's common worked example; table from memory, the kappa agrees).
func TestFleiss(t *testing.T) {
	table := [][]int{{0, 0, 0, 0, 14}, {0, 2, 6, 4, 2}, {0, 0, 3, 5, 6}, {0, 3, 9, 2, 0}, {2, 2, 8, 1, 1},
		{7, 7, 0, 0, 0}, {3, 2, 6, 3, 0}, {2, 5, 3, 2, 2}, {6, 5, 2, 1, 0}, {0, 2, 2, 3, 7}}
	a, err := Fleiss(table, 0.95)
	require.NoError(t, err)
	require.InDelta(t, 0.378, a.Observed, 5e-4)
	require.InDelta(t, 0.213, a.Chance, 5e-4)
	require.InDelta(t, 0.210, a.Kappa, 5e-4)
	perfect, err := Fleiss([][]int{{3, 0}, {0, 3}, {3, 0}}, 0.95)
	require.NoError(t, err)
	require.InDelta(t, 1, perfect.Kappa, 1e-12)
}

func TestCohenOfChanceAndOfIdentity(t *testing.T) {
	a, err := Cohen([][]int{{25, 25}, {25, 25}}, 0.95)
	require.NoError(t, err)
	require.InDelta(t, 0, a.Kappa, 1e-12)
	b, err := Cohen([][]int{{30, 0}, {0, 70}}, 0.95)
	require.NoError(t, err)
	require.InDelta(t, 1, b.Kappa, 1e-12)
	require.InDelta(t, 0, b.SE, 1e-9)
	same, err := Cohen([][]int{{9, 0}, {0, 0}}, 0.95)
	require.NoError(t, err)
	require.True(t, math.IsNaN(same.Kappa), "one class only: chance explains all")
}

func TestTablesThatCannotBeJudged(t *testing.T) {
	for name, c := range map[string]struct {
		f     func([][]int, float64) (Agreement, error)
		table [][]int
		says  string
	}{
		"one class":      {Cohen, [][]int{{3}}, "1 classes"},
		"ragged":         {Cohen, [][]int{{3, 1}, {2}}, "row 2 has 1 columns"},
		"negative":       {Cohen, [][]int{{3, -1}, {2, 2}}, "count -1 in row 1, column 2"},
		"nothing judged": {Cohen, [][]int{{0, 0}, {0, 0}}, "no unit"},
		"no units":       {Fleiss, nil, "0 units"},
		"other number":   {Fleiss, [][]int{{2, 1}, {1, 1}}, "unit 2 was judged 2 times, the first 3 times"},
		"more classes":   {Fleiss, [][]int{{2, 1}, {1, 1, 1}}, "unit 2: count 1 in class 3"},
		"single judge":   {Fleiss, [][]int{{1, 0}}, "judged 1 times"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := c.f(c.table, 0.95)
			require.ErrorContains(t, err, c.says)
		})
	}
}

func TestStability(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	var times []float64
	var drifting, steady [][]float64
	for day := range 20 {
		times = append(times, float64(day))
		var d, s []float64
		for range 4 {
			d = append(d, 5+0.002*float64(day)+0.01*r.NormFloat64())
			s = append(s, 5+0.01*r.NormFloat64())
		}
		drifting, steady = append(drifting, d), append(steady, s)
	}
	a, err := Stability(times, drifting, 0.95)
	require.NoError(t, err)
	require.True(t, a.Drift.Slope.Contains(0.002))
	require.Less(t, a.Drift.Slope.P, 1e-4)
	require.Less(t, a.Sessions.P, 0.01)
	b, err := Stability(times, steady, 0.95)
	require.NoError(t, err)
	require.Greater(t, b.Drift.Slope.P, 0.01)
	require.Greater(t, b.Sessions.P, 0.01)
}

func TestSeriesThatCannotBeFitted(t *testing.T) {
	_, err := Stability([]float64{1}, nil, 0.95)
	require.ErrorContains(t, err, "1 times, but 0 sessions")
	_, err = Stability([]float64{1, 1}, [][]float64{{1, 2}, {2, 3}}, 0.95)
	require.ErrorContains(t, err, "a line needs two places")
	_, err = Stability([]float64{1, 2}, [][]float64{{1, 2}, {}}, 0.95)
	require.ErrorContains(t, err, "session 2")
	_, err = Linearity([]float64{1, 2}, [][]float64{{1, 2}}, 0.95)
	require.ErrorContains(t, err, "2 references, but readings of 1")
	_, err = Linearity([]float64{1, 2}, [][]float64{{1, 2}, {1}}, 0.95)
	require.ErrorContains(t, err, "at reference 2")
	_, err = Bias([]float64{1}, 1, 0.95)
	require.ErrorIs(t, err, quality.ErrSample)
	o, err := Bias([]float64{2, 2}, 2, 0.95)
	require.NoError(t, err)
	require.True(t, math.IsNaN(o.T) && math.IsNaN(o.P), "no spread, no bias: nothing to test")
}

func BenchmarkAnalyze(b *testing.B) {
	s := simulated(rand.New(rand.NewPCG(1, 1)), 3, 10, 3, 1, 1, 1, 3)
	for b.Loop() {
		s.Analyze(Pooling, 0.95)
	}
}
