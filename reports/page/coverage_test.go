package page

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/page/plot"
)

// sampleCoverage is a study with something of everything.
func sampleCoverage(classes int) Coverage {
	c := Coverage{
		Title: "Charge path: Lamp", Lead: "Of 2500 good units none was rejected.", Caution: "It was interrupted after 90 of 100 units.",
		Tally:    []TallyRow{{"0", "of 2500 good units rejected", Good}, {"3", "of 7500 faulty units escaped", Bad}},
		Facts:    []Row{{"Scenario file", "charge-path 1"}},
		Findings: []Row{{"Redundant", "keeps-awake, c-advertised"}},
		Hidden:   []Row{{"its port is not dual-role", "drp-rd-cc1"}},
		Method:   []string{"Intervals are exact."},
		Started:  "2026-01-05T06:00:00Z",
		Limits: []CoverageLimit{
			{Label: "rd-cc1", In: -0.05, Out: 0.5, OutOpen: true, InText: "rejects at −5 %", OutText: "nothing escapes"},
			{Label: "vbus-capacitance", In: -0.5, Out: 0.4, InOpen: true, InText: "nothing rejected", OutText: "escapes at +40 %"},
		},
		Checks: []CoverageCheck{
			{Name: "rd-cc1", Title: "Termination at CC1", Rounds: "1", Caught: "375", Alone: "12", Good: "0", Standing: "needed", Only: "without it would escape: rd-10k (12)"},
			{Name: "keeps-awake", Title: "It keeps a supply awake", Rounds: "1", Caught: "20", Alone: "0", Good: "0", Standing: "redundant", Tone: Open},
		},
		Characteristics: []CoverageTrait{{Title: "Termination", Check: "rd-cc1", Limits: "4.59 kΩ to 5.61 kΩ", Good: "5.10 kΩ ± 80 Ω",
			Uncertainty: "11 Ω", Ratio: "1.05", Consumer: "0 of 168, ≤ 2.2 %", Producer: "1 of 168, 0.02 % to 3.3 %", Computed: "0.1 % and 0.2 %"}},
	}
	points := []plot.Point{{X: 0, Y: 0}, {X: 1, Y: 0.1}, {X: 3, Y: 4}}
	for _, title := range []string{"Good units rejected", "Faulty units that pass", "rd-cc1"} {
		c.Curves = append(c.Curves, plot.Figure{Title: title, X: plot.Axis{Name: "guard factor r"}, Y: plot.Axis{Name: "%"}, Curve: points,
			Marks: []plot.Mark{{Label: "this scenario", X: 1}}, Levels: []plot.Level{{Label: "95 % bound", Y: 0.15}}})
	}
	c.Heat.Columns = []string{"vbus-not-shorted", "rd-cc1", "cross-cc1", "end-of-charge"}
	for i := range classes {
		label := fmt.Sprintf("fault number %d", i+1)
		c.Rates = append(c.Rates, CoverageRate{Label: label, Share: float64(i) / 900, Low: float64(i) / 1000, High: 0.01 + float64(i)/800,
			Text: fmt.Sprintf("%d of 375, ≤ 1 %%", i), CaughtBy: fmt.Sprintf("%d checks", i+1), Tone: Plain})
		c.Heat.Rows = append(c.Heat.Rows, CoverageHeatRow{Label: label, Cells: []CoverageCell{
			{}, {Share: 1, Alone: i == 0}, {Share: 0.004}, {Share: 0.9996},
		}})
	}
	return c
}

// says lists what a reader of the study must find.
func says(c Coverage) []string {
	list := []string{c.Title, c.Lead, c.Caution, "Simulated bench"}
	for _, r := range append(append(c.Facts, c.Findings...), c.Hidden...) {
		list = append(list, r.Label, r.Text)
	}
	for _, r := range c.Rates {
		list = append(list, r.Label, r.Text, r.CaughtBy)
	}
	list = append(list, c.Heat.Columns...)
	for _, l := range c.Limits {
		list = append(list, l.Label, l.InText, l.OutText)
	}
	for _, x := range c.Checks {
		list = append(list, x.Title, x.Name, x.Caught, x.Standing, x.Only)
	}
	for _, x := range c.Characteristics {
		list = append(list, x.Title, x.Limits, x.Good, x.Uncertainty, x.Ratio, x.Consumer, x.Producer, x.Computed)
	}
	for _, f := range c.Curves {
		list = append(list, f.Title)
	}
	return append(list, c.Method...)
}

func TestCoveragePageAndSheetSayTheSame(t *testing.T) {
	c := sampleCoverage(5)
	html, err := c.HTML()
	require.NoError(t, err)
	sheet, err := c.PDF()
	require.NoError(t, err)
	_, onPage := parsed(t, html)
	onSheet := squeezed(pdfText(t, sheet))
	for _, want := range says(c) {
		require.Contains(t, squeezed(onPage), squeezed(want), "page")
		require.Contains(t, onSheet, squeezed(plot.Printable(want)), "sheet")
	}
	// Never 0 or 100 for what is not.
	for _, text := range []string{"100", "99", "1"} {
		require.Contains(t, onPage, text)
	}
}

func TestCoverageGivesTheSameBytes(t *testing.T) {
	c := sampleCoverage(5)
	for _, make := range []func(Coverage) ([]byte, error){Coverage.HTML, Coverage.PDF} {
		one, err := make(c)
		require.NoError(t, err)
		two, err := make(c)
		require.NoError(t, err)
		require.Equal(t, one, two)
	}
	require.Equal(t, sampleCoverage(5), c, "making pages leaves the view as it is")
}

// TestManyClassesTurnThePage: with every pair of faults the figures are cut
// into pieces, and nothing runs off the sheet or is lost.
func TestManyClassesTurnThePage(t *testing.T) {
	c := sampleCoverage(190)
	sheet, err := c.PDF()
	require.NoError(t, err)
	require.Greater(t, pages(t, sheet), 8)
	text := squeezed(pdfText(t, sheet))
	for _, r := range c.Rates {
		require.Contains(t, text, squeezed(r.Text))
	}
	for _, w := range wordsOnPages(t, sheet) {
		require.GreaterOrEqual(t, w.XMin, marginLeft-0.5, w.Text)
		require.LessOrEqual(t, w.XMax, sheetWidth-marginRight+0.5, w.Text)
		require.LessOrEqual(t, w.YMax, sheetHeight-10, w.Text)
	}
	require.Len(t, heatMaps(c.Heat), 5)
}

// TestCoverageTextsCannotBecomeMarkup: neither in the page nor in its figures.
func TestCoverageTextsCannotBecomeMarkup(t *testing.T) {
	c := sampleCoverage(2)
	const evil = `<script>alert("x")</script>&'`
	c.Title, c.Rates[0].Label, c.Heat.Columns[0], c.Limits[0].Label = evil, evil, evil, evil
	html, err := c.HTML()
	require.NoError(t, err)
	require.NotContains(t, string(html), "<script")
	elements, _ := parsed(t, html)
	for _, e := range elements {
		require.NotEqual(t, "script", e.name)
		require.NotContains(t, e.attrs["href"]+e.attrs["src"], "http")
	}
	_, err = c.PDF()
	require.NoError(t, err)
}

// TestCoverageFiguresAreNamed: whoever hears the page hears what each shows.
func TestCoverageFiguresAreNamed(t *testing.T) {
	html, err := sampleCoverage(3).HTML()
	require.NoError(t, err)
	elements, _ := parsed(t, html)
	figures := 0
	for _, e := range elements {
		if e.name == "svg" {
			figures++
			require.NotEmpty(t, e.attrs["aria-label"])
		}
	}
	require.Equal(t, 6, figures)
}

func TestCoverageOfNothing(t *testing.T) {
	c := Coverage{Title: "Nothing", Started: "2026-01-05T06:00:00Z"}
	_, err := c.HTML()
	require.NoError(t, err)
	_, err = c.PDF()
	require.NoError(t, err)
	c.Started = "yesterday"
	_, err = c.PDF()
	require.Error(t, err)
}

func TestShareText(t *testing.T) {
	for share, want := range map[float64]string{1: "100", 0.9999: "99", 0.5: "50", 0.004: "1", 0.016: "2"} {
		require.Equal(t, want, shareText(share))
	}
}

func TestSigned(t *testing.T) {
	require.Equal(t, "as written", Signed(0))
	require.Equal(t, "+0.5\u00a0%", Signed(0.005))
	require.Equal(t, "−20\u00a0%", Signed(-0.2))
}

// TestMixGoesFromOneTintToTheOther, darker with every step: shares are told
// apart in grey print.
func TestMixGoesFromOneTintToTheOther(t *testing.T) {
	require.Equal(t, heatNone, mix(heatNone, heatAll, 0))
	require.Equal(t, heatAll, mix(heatNone, heatAll, 1))
	last := math.Inf(1)
	for i := range 21 {
		grey := luminance(channels(t, mix(heatNone, heatAll, float64(i)/20).hex()[1:]))
		require.Less(t, grey, last)
		last = grey
	}
}

// TestWordsInCellsCanBeRead: ink on every tint has the contrast that large
// print needs (WCAG 2.2, 1.4.3: 3 to 1).
func TestWordsInCellsCanBeRead(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		share := rapid.Float64Range(0.001, 1).Draw(r, "share")
		ink := inkText
		if share > whiteFrom {
			ink = 0xFFFFFF
		}
		a, b := luminance(channels(t, ink.hex()[1:])), luminance(channels(t, mix(heatNone, heatAll, share).hex()[1:]))
		require.GreaterOrEqual(r, (max(a, b)+0.05)/(min(a, b)+0.05), 3.0, "share %g", share)
	})
}

func BenchmarkCoverage(b *testing.B) {
	c := sampleCoverage(21)
	for b.Loop() {
		_, err := c.PDF()
		require.NoError(b, err)
	}
}
