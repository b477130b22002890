package page

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/page/plot"
)

// sampleTakt is a study with something of everything.
func sampleTakt(rounds int) Takt {
	t := Takt{
		Title: "Charge path: Lamp", Lead: "A good unit takes 9.1 s.", Caution: "Two units were judged differently.",
		Tally:    []TallyRow{{"8.8 s", "planned, mean of 60 good units", Plain}, {"6.9 %", "above the floor", Good}},
		Runs:     []TaktRun{{"Order of the file", []float64{2, 1, 0.5}, "3.500 s"}, {"Floor", []float64{2, 0.4, 0}, "2.400 s"}},
		Findings: []Row{{"Order", "no order costs less"}},
		Facts:    []Row{{"Scenario file", "charge-path 1"}},
		Method:   []string{"Every stretch of a run has one cause."},
		Floor:    []TaktPart{{"supply debounces and rises", "tCCDebounce + tVBUSON, the middle of each", "9", "285.0 ms", "2564.8 ms"}},
		Started:  "2026-01-05T06:00:00Z",
		Nests:    []TaktNest{{"4 nests at 400 kHz", "408", "1561", "3.82", "14.1 %", "55.4 %", "every unit is judged as it is alone", Good}},
	}
	for _, c := range [][3]string{{"supply debounces and rises", "2000.0 ms", "2000.1 ms"}, {"supply lets go", "1000.2 ms", "400.3 ms"}, {"bus transfers", "500.4 ms", "0.0 ms"}} {
		t.Causes = append(t.Causes, TaktCause{c[0], c[1:]})
	}
	staircase := TaktChart{Title: "A typical run", Span: float64(rounds)}
	for i := range rounds {
		name := fmt.Sprintf("round[%d]", i+1)
		at := float64(i)
		staircase.Rows = append(staircase.Rows, TaktRow{Label: name, Text: fmt.Sprintf("%d / 900 ms", 1000+i),
			Bars: []TaktBar{{at, at + 0.6, 0}, {at + 0.6, at + 1, 1}}, Floor: []TaktBar{{0, 0.6, 0}, {0.6, 0.9, 1}}})
		t.Rounds = append(t.Rounds, TaktRound{Name: name, Title: fmt.Sprintf("Round number %d", i+1), Took: fmt.Sprintf("%d.5 ms", 1000+i), Floor: "900.0 ms",
			Over: fmt.Sprintf("%d.5 ms", 100+i), Operations: "3", Largest: "supply lets go, 400.0 ms", Tone: Open})
	}
	aligned := staircase
	aligned.Title, aligned.Aligned, aligned.Span = "Round by round, from 0", true, 1
	t.Charts = []TaktChart{staircase, aligned}
	return t
}

// tells lists what a reader of the study must find.
func tells(t Takt) []string {
	list := []string{t.Title, t.Lead, t.Caution, "Simulated bench"}
	for _, r := range append(append([]Row{}, t.Facts...), t.Findings...) {
		list = append(list, r.Label, r.Text)
	}
	for _, x := range t.Tally {
		list = append(list, x.Figure, x.Label)
	}
	for _, r := range t.Runs {
		list = append(list, r.Label, r.Text)
	}
	for _, c := range t.Causes {
		list = append(append(list, c.Name), c.Sums...)
	}
	for _, c := range t.Charts {
		list = append(list, c.Title, c.Note())
		for _, r := range c.Rows {
			list = append(list, r.Label, r.Text)
		}
	}
	for _, r := range t.Rounds {
		list = append(list, r.Title, r.Name, r.Took, r.Floor, r.Over, r.Largest)
	}
	for _, x := range t.Nests {
		list = append(list, x.Bus, x.One, x.All, x.Times, x.OneLoad, x.Load, x.Note)
	}
	for _, f := range t.Floor {
		list = append(list, f.Cause, f.How, f.Each, f.Sum)
	}
	return append(list, t.Method...)
}

func TestTaktPageAndSheetSayTheSame(t *testing.T) {
	k := sampleTakt(4)
	html, err := k.HTML()
	require.NoError(t, err)
	sheet, err := k.PDF()
	require.NoError(t, err)
	_, onPage := parsed(t, html)
	onSheet := squeezed(pdfText(t, sheet))
	for _, want := range tells(k) {
		require.Contains(t, squeezed(onPage), squeezed(want), "page")
		require.Contains(t, onSheet, squeezed(plot.Printable(want)), "sheet")
	}
}

func TestTaktGivesTheSameBytes(t *testing.T) {
	k := sampleTakt(4)
	for _, make := range []func(Takt) ([]byte, error){Takt.HTML, Takt.PDF} {
		one, err := make(k)
		require.NoError(t, err)
		two, err := make(k)
		require.NoError(t, err)
		require.Equal(t, one, two)
	}
	require.Equal(t, sampleTakt(4), k, "making pages leaves the view as it is")
}

// TestManyRoundsTurnThePage: nothing runs off the sheet or is lost.
func TestManyRoundsTurnThePage(t *testing.T) {
	k := sampleTakt(90)
	require.Len(t, k.Charts[0].pieces(), 3)
	sheet, err := k.PDF()
	require.NoError(t, err)
	text := squeezed(pdfText(t, sheet))
	for _, r := range k.Charts[0].Rows {
		require.Contains(t, text, squeezed(r.Text))
	}
	for _, w := range wordsOnPages(t, sheet) {
		require.GreaterOrEqual(t, w.XMin, marginLeft-0.5, w.Text)
		require.LessOrEqual(t, w.XMax, sheetWidth-marginRight+0.5, w.Text)
		require.LessOrEqual(t, w.YMax, sheetHeight-10, w.Text)
	}
}

func TestTaktTextsCannotBecomeMarkup(t *testing.T) {
	k := sampleTakt(2)
	const evil = `<script>alert("x")</script>&'`
	k.Title, k.Charts[0].Rows[0].Label, k.Runs[0].Label, k.Causes[0].Name = evil, evil, evil, evil
	html, err := k.HTML()
	require.NoError(t, err)
	elements, _ := parsed(t, html)
	figures := 0
	for _, e := range elements {
		require.NotEqual(t, "script", e.name)
		if e.name == "svg" {
			figures++
			require.NotEmpty(t, e.attrs["aria-label"])
		}
	}
	require.Equal(t, 4, figures, "legend, sums and two charts, each with its name")
}

func TestTaktOfNothing(t *testing.T) {
	k := Takt{Title: "Nothing", Started: "2026-01-05T06:00:00Z"}
	_, err := k.HTML()
	require.NoError(t, err)
	_, err = k.PDF()
	require.NoError(t, err)
	k.Started = "yesterday"
	_, err = k.PDF()
	require.Error(t, err)
}

// recorded keeps the bars that a figure draws.
type recorded struct {
	svgDrawing
	bars [][4]float64
}

func (r *recorded) rect(x, y, width, height float64, _ tint) {
	r.bars = append(r.bars, [4]float64{x, y, width, height})
}
func (r *recorded) line(_, _, _, _, _ float64, _ tint)                       {}
func (r *recorded) text(_, _, _ float64, _ string, _ tint, _ side, _ string) {}

// TestBarsStandAtTheirPlaceInTime: one second is as wide everywhere, a round
// that is aligned begins at 0, and the line of its floor begins with it.
func TestBarsStandAtTheirPlaceInTime(t *testing.T) {
	k := sampleTakt(4)
	second := (bodyWidth - taktLabel - taktText) / 4
	var staircase, aligned recorded
	k.Charts[0].sketch().draw(&staircase)
	k.Charts[1].sketch().draw(&aligned)
	require.Len(t, staircase.bars, 4*4)
	first := staircase.bars[8] // of the third round
	require.InDelta(t, taktLabel+2*second, first[0], 1e-9)
	require.InDelta(t, 0.6*second, first[2], 1e-9)
	require.InDelta(t, taktLabel+2*second, staircase.bars[10][0], 1e-9, "the floor begins with the round")
	require.InDelta(t, taktLabel, aligned.bars[8][0], 1e-9)
	require.InDelta(t, 0.6*4*second, aligned.bars[8][2], 1e-9, "its axis ends with the longest round")
}

func TestStepsOfAnAxis(t *testing.T) {
	for span, want := range map[float64]float64{9.1: 1, 0.95: 0.1, 11: 2, 29.5: 5, 1.13: 0.2} {
		require.InDelta(t, want, taktStep(span), 1e-12, "%g s", span)
	}
}
