package golden_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/reports/quality/chart"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/proving/golden"
)

// runs are n runs of a golden unit with one resistance each, in ohms.
func runs(values ...float64) []golden.Run {
	var list []golden.Run
	for i, v := range values {
		o := record.Opening{ID: fmt.Sprint("run-", i+1), Started: record.Instant(morning().Add(time.Duration(i) * 12 * time.Hour))}
		list = append(list, golden.Run{Opening: o, Answer: record.AsExpected, Record: record.Run{Opening: o, Checks: []record.Check{
			{Name: "rd", Title: "Termination", Value: &record.Value{Value: v, Unit: "Ω", U: 10}},
			{Name: "cold", Title: "Stays cold"},
			{Name: "leak", Title: "Leak", Value: &record.Value{Value: 1, Unit: "A", Bound: record.AtMost}},
		}}})
	}
	return list
}

// steady values scatter about 5100 and neither rise nor stay on a side.
func steady(n int) []float64 {
	about := []float64{0.3, -0.8, 1.0, -0.4, 0.6, -1.1, 0.2}
	list := make([]float64, n)
	for i := range list {
		list[i] = 5100 + about[i%len(about)]
	}
	return list
}

func TestDriftOfARigThatStaysAndOfOneThatMoves(t *testing.T) {
	g := record.Golden{Serial: "G-1", Expected: record.Expected{Values: []record.ExpectedValue{{Check: "rd", Unit: "Ω", Lower: 5090, Upper: 5110}}}}
	list, err := golden.Drift(g, runs(steady(30)...))
	require.NoError(t, err)
	require.Len(t, list, 1, "bounds and checks without a value make no series")
	s := list[0]
	require.Equal(t, "rd", s.Check)
	require.Len(t, s.Points, 30)
	require.Equal(t, 20, s.Baseline)
	require.Equal(t, 5090.0, s.Expected.Lower)
	require.False(t, s.Moves())

	// The limits are those of the first twenty alone, worked out here: mean ±
	// 2.66 times the mean moving range (NIST/SEMATECH e-Handbook, 6.3.2.2).
	mean, ranges := 0.0, 0.0
	for i, p := range s.Points[:20] {
		mean += p.Value / 20
		if i > 0 {
			d := p.Value - s.Points[i-1].Value
			ranges += max(d, -d) / 19
		}
	}
	require.InDelta(t, mean, s.Chart.Centre, 1e-9)
	require.InDelta(t, mean+2.66*ranges, s.Chart.Upper, 1e-2)

	moved := steady(30)
	for i := 20; i < 30; i++ {
		moved[i] += 0.6 * float64(i-19) // within every limit of the scenario
	}
	list, err = golden.Drift(g, runs(moved...))
	require.NoError(t, err)
	require.True(t, list[0].Moves())
	out := list[0].Chart.Out()
	require.NotEmpty(t, out)
	require.Greater(t, out[0], 20)
	require.Contains(t, list[0].Chart.Points[29].Violations, chart.BeyondLimits)
}

// A converter that gives the same code for months makes no chart without width:
// U is 10 Ω, so that the limits lie 3 · 0.1 · 5 Ω away.
func TestReadingsThatAreAllAlike(t *testing.T) {
	values := make([]float64, 12)
	for i := range values {
		values[i] = 5100
	}
	values[10] = 5101.4
	list, err := golden.Drift(record.Golden{}, runs(values...))
	require.NoError(t, err)
	require.InDelta(t, 5101.5, list[0].Chart.Points[0].Upper, 0.2)
	values[10] = 5103
	r := runs(values...)
	r[10].Answer = record.Deviates
	list, err = golden.Drift(record.Golden{}, r)
	require.NoError(t, err)
	require.InDelta(t, 5101.5, list[0].Chart.Points[0].Upper, 1e-9)
	require.Equal(t, []int{11}, list[0].Chart.Out())
}

// One code that differs once leaves all others on one side of the mean: that is no
// move, and eight on one side by more than a tenth of the uncertainty (0.5 Ω) are.
func TestOneCodeBesideTheOthersIsNoMove(t *testing.T) {
	for off, moves := range map[float64]bool{-0.4: false, 0: false, 0.4: false, 0.8: true} {
		values := slices.Repeat([]float64{5100}, 12)
		values[0] -= 0.03
		for range 10 {
			values = append(values, 5100+off)
		}
		r := runs(values...)
		for i := range r[12:] {
			r[12+i].Answer = record.Deviates // so that they are no baseline
		}
		list, err := golden.Drift(record.Golden{}, r)
		require.NoError(t, err)
		require.Equal(t, moves, list[0].Moves(), "%g Ω: %v", off, list[0].Chart.Out())
		require.InDelta(t, 5100+off, list[0].Chart.Points[21].Value, 1e-9, "what was read is drawn")
	}
}

// A rig that was mended does not move for ever.
func TestWhatIsLongPastMovesNoMore(t *testing.T) {
	for after, moves := range map[int]bool{8: true, 11: false} {
		values := steady(21 + after)
		values[20] = 5110
		list, err := golden.Drift(record.Golden{}, runs(values...))
		require.NoError(t, err)
		require.Contains(t, list[0].Chart.Out(), 21)
		require.Equal(t, moves, list[0].Moves(), after)
	}
}

// Answers that deviate are charted and do not widen the limits.
func TestDeviationsAreNoBaseline(t *testing.T) {
	values := steady(10)
	values[4] = 6000
	r := runs(values...)
	r[4].Answer = record.Deviates
	list, err := golden.Drift(record.Golden{}, r)
	require.NoError(t, err)
	require.Equal(t, 9, list[0].Baseline)
	require.Equal(t, []int{5}, list[0].Chart.Out())
}

func TestFewRunsMakeNoChart(t *testing.T) {
	list, err := golden.Drift(record.Golden{}, runs(steady(4)...))
	require.NoError(t, err)
	require.Len(t, list[0].Points, 4)
	require.Zero(t, list[0].Baseline)
	require.False(t, list[0].Moves())
	list, err = golden.Drift(record.Golden{}, nil)
	require.NoError(t, err)
	require.Empty(t, list)
}

func TestExpectationsNameChecksOfTheScenario(t *testing.T) {
	rig, err := fixtures.Shipped("bench-one")
	require.NoError(t, err)
	prod, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	file, err := scenarios.Shipped("charge-path")
	require.NoError(t, err)
	sc, diags := scenarios.Load(file, rig.Rig, prod)
	require.NoError(t, diags.Err())
	require.NoError(t, golden.Proven(record.Expected{Fails: []string{"rd-cc1"}, MayFail: []string{"rd-cc2"}}, sc))
	err = golden.Proven(record.Expected{Fails: []string{"rd-cc3"}}, sc)
	require.ErrorIs(t, err, golden.ErrExpected)
	require.ErrorContains(t, err, "rd-cc")
	err = golden.Proven(record.Expected{Values: []record.ExpectedValue{{Check: "nothing"}}}, sc)
	require.ErrorIs(t, err, golden.ErrExpected)
}

func TestExpectationsFromARecord(t *testing.T) {
	r := runs(5000)[0].Record
	r.Verdict = record.Fail
	r.Checks[1].Answer = record.Failed
	e, err := golden.As(r)
	require.NoError(t, err)
	require.Equal(t, record.Expected{Verdict: record.Fail, Fails: []string{"cold"}}, e)
	r.Verdict = record.None
	_, err = golden.As(r)
	require.ErrorIs(t, err, golden.ErrExpected)

	v, err := golden.Around(r, "rd", 0.01)
	require.NoError(t, err)
	require.Equal(t, record.ExpectedValue{Check: "rd", Unit: "Ω", Lower: 4950, Upper: 5050}, v)
	r.Checks[0].Value.Value = -2
	v, err = golden.Around(r, "rd", 0.5)
	require.NoError(t, err)
	require.Less(t, v.Lower, v.Upper)
	for _, name := range []string{"cold", "leak", "none"} {
		_, err = golden.Around(r, name, 0.01)
		require.ErrorIs(t, err, golden.ErrExpected, name)
	}
}
