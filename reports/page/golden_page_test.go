package page

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/chart"
	"sinkproof/reports/record"
)

// sampleGolden is a golden unit with thirty runs, whose resistance moves at the
// end by a tenth of what the scenario allows.
func sampleGolden(t testing.TB) Golden {
	t.Helper()
	rules := []chart.Rule{chart.BeyondLimits, chart.EightOnOneSide}
	var runs []GoldenRun
	rd, volts := make([]float64, 30), make([]float64, 30)
	about := []float64{0.3, -0.8, 1.0, -0.4, 0.6, -1.1, 0.2}
	for i := range rd {
		rd[i], volts[i] = 5100+about[i%7], 4.98+about[(i+3)%7]/1000
		if i > 22 {
			rd[i] += float64(i-22) * 0.7
		}
		o := record.Opening{Started: record.Instant(time.Date(2026, 5, 4+i, 6, 0, 0, 0, time.UTC))}
		runs = append(runs, GoldenRun{Opening: o, Answer: record.AsExpected})
	}
	runs[28].Answer, runs[28].Deviations = record.Deviates, []string{"check rd-cc1: 5.1060 kΩ is outside 5.0950 kΩ to 5.1050 kΩ"}
	runs[10].Answer, runs[10].Deviations = record.NoAnswer, []string{"lid <open>"}
	drift := []GoldenDrift{
		{Check: "vbus", Title: "VBUS", Unit: "V", Values: volts},
		{Check: "rd-cc1", Title: "Termination at CC1", Unit: "Ω", Values: rd, Expected: &record.ExpectedValue{Check: "rd-cc1", Unit: "Ω", Lower: 5095, Upper: 5105}},
		{Check: "late", Title: "Asked of late", Unit: "s", Values: []float64{1, 2}},
	}
	for i := range drift[:2] {
		d := &drift[i]
		b, err := chart.Estimate(chart.Individuals, [][]float64{d.Values[:20]})
		require.NoError(t, err)
		pair, err := b.Variables(chart.Individuals, [][]float64{d.Values}, rules)
		require.NoError(t, err)
		d.Baseline, d.Chart, d.Spread, d.Moves = 20, pair.Location, pair.Spread, len(pair.Location.Out()) > 0
	}
	return NewGolden(record.Golden{
		ID: "01890a5d-ac96-774b-bcce-b302099a805a", Bench: record.Bench{Name: "bench 3", Kind: record.Hardware, Program: "0.1.0"},
		Made: "2026-05-04T06:00:00Z", By: "A. <Engineer>", Serial: "GOLD-1", Product: "lamp", Title: "good board",
		Expected: record.Expected{Verdict: record.Pass, Values: []record.ExpectedValue{*drift[1].Expected}}, ValidS: 43_200,
	}, runs, drift, rules)
}

func TestAGoldenUnitThatMovesIsSeen(t *testing.T) {
	g := sampleGolden(t)
	require.Equal(t, Bad, g.Tone)
	require.Contains(t, g.Lead, "28 of 30 runs answered as expected")
	require.Contains(t, g.Lead, "Readings move: rd-cc1.")
	require.Equal(t, []Tone{Bad, Good, Plain}, []Tone{g.Series[0].Tone, g.Series[1].Tone, g.Series[2].Tone})
	require.Contains(t, g.Series[0].Line, "It moves: beyond limits at run 28")
	require.Contains(t, g.Series[2].Line, "too few")
	html, err := g.HTML()
	require.NoError(t, err)
	text := string(html)
	for _, want := range []string{"GOLD-1", "A. &lt;Engineer&gt;", "DEVIATES", "lid &lt;open&gt;", "5.0950 kΩ to 5.1050 kΩ", "<svg", "12 h"} {
		require.Contains(t, text, want)
	}
	require.NotContains(t, text, "<script")
	again, err := sampleGolden(t).HTML()
	require.NoError(t, err)
	require.Equal(t, text, string(again), "same input, same bytes")
	pdf, err := g.PDF()
	require.NoError(t, err)
	second, err := sampleGolden(t).PDF()
	require.NoError(t, err)
	require.Equal(t, pdf, second)
}

func TestAGoldenUnitThatMovedOnceSaysSo(t *testing.T) {
	values := []float64{1, 2, 1, 2, 1, 2, 9, 1, 2}
	b, err := chart.Estimate(chart.Individuals, [][]float64{values[:6]})
	require.NoError(t, err)
	pair, err := b.Variables(chart.Individuals, [][]float64{values}, []chart.Rule{chart.BeyondLimits})
	require.NoError(t, err)
	s := seriesOf(GoldenDrift{Unit: "V", Values: values, Baseline: 6, Chart: pair.Location, Spread: pair.Spread})
	require.Equal(t, Good, s.Tone)
	require.Contains(t, s.Line, "It moved (beyond limits at run 7, jump at run 7) and reads as before since.")
}

func TestFewNames(t *testing.T) {
	require.Equal(t, "a, b, c, d", fewNames([]string{"a", "b", "c", "d"}))
	require.Equal(t, "a, b, c and 2 more", fewNames([]string{"a", "b", "c", "d", "e"}))
}

func TestAGoldenUnitWithoutRuns(t *testing.T) {
	g := NewGolden(record.Golden{Serial: "G", Title: "x", Made: "2026-05-04T06:00:00Z", Bench: record.Bench{Kind: record.Twin}}, nil, nil, nil)
	require.Contains(t, g.Lead, "too few answers")
	html, err := g.HTML()
	require.NoError(t, err)
	require.Contains(t, string(html), "Simulated bench")
	_, err = g.PDF()
	require.NoError(t, err)
}

func TestReportsSayWhatTheBenchWasWorth(t *testing.T) {
	run := richRun()
	run.Bench.Unproven, run.Schema = "the golden board is with the supplier", record.RunSchema2
	r := NewReport(run, Proof{Hash: strings.Repeat("ab", 32)})
	s := record.Suspicion{Serial: "GOLD-1", Made: "2026-05-04T18:00:00Z", Why: []string{"check rd-cc1 failed: \u202eopen"}}
	r.Suspect(s, nil)
	r.Suspect(s, &record.Withdrawal{By: "Q. Engineer", Made: "2026-05-05T06:00:00Z", Reason: "its receptacle was dirty"})
	r.Prove(record.Golden{Title: "good board", Expected: record.Expected{Verdict: record.Pass}},
		record.GoldenRun{Answer: record.Deviates, Deviations: []string{"check rd-cc1 failed: open"}})
	html, err := r.HTML()
	require.NoError(t, err)
	for _, want := range []string{
		"Bench not proven.", "the golden board is with the supplier", "Under suspicion.", "‹U&#43;202E›open", "test the unit again",
		"A suspicion was withdrawn.", "Q. Engineer withdrew", "its receptacle was dirty", "Golden unit.", "IT DEVIATES",
	} {
		require.Contains(t, string(html), want)
	}
	require.NotContains(t, string(html), "Bin: rework", "a golden unit goes back to its place")
	require.Contains(t, string(html), "Put it back to its place")
	_, err = r.PDF()
	require.NoError(t, err)
	plain := NewReport(richRun(), Proof{Hash: strings.Repeat("ab", 32)})
	require.Empty(t, plain.Standing)
}

func ExampleNewGolden() {
	g := NewGolden(record.Golden{Serial: "GOLD-1", Title: "good board"}, nil, nil, nil)
	fmt.Println(g.Lead)
	// Output: 0 of 0 runs answered as expected. There are too few answers for a chart.
}
