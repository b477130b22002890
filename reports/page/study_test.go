package page

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/page/plot"
)

// sampleStudy is a study with everything in it.
func sampleStudy() Study {
	s := Study{
		Kind: "Capability", Title: "vbus in V, lamps <1>.csv", Lead: "How the values fit between 4.75 and 5.25.",
		Simulated: "Each lamp <1> was drawn.",
		Verdict:   "NO: Ppk is at least 0.9 at 97.5 % confidence, 1.33 is needed", Tone: Bad,
		Method: []string{"Cp: Montgomery, 8.3."}, Started: "2026-05-04T07:30:00Z",
	}
	f := plot.Figure{Title: "Histogram", X: plot.Axis{Name: "vbus", Unit: "V", Floating: true}, Y: plot.Axis{Name: "values"},
		Series: []plot.Series{{Name: "seen", Shape: plot.Bars, Ink: plot.Pale, Points: []plot.Point{{X: 4.9, Y: 3}, {X: 5, Y: 9}, {X: 5.1, Y: 4}}, Width: 0.1}}}
	for i := range 2 {
		table := StudyTable{Title: "Points at which a rule is broken", Note: "and 3 more",
			Columns: []StudyColumn{{"Point", true}, {"Subgroup", false}, {"Rules", false}}}
		for j := range 70 {
			table.Rows = append(table.Rows, StudyRow{[]string{fmt.Sprint(j), fmt.Sprintf("hour-%d", j), "beyond-limits"}, Bad})
		}
		s.Sections = append(s.Sections, StudySection{
			Title: fmt.Sprintf("lot %d", i+1), Lead: "A sentence about the lot.", Facts: []Row{{"values", "125"}, {"mean", "5.001"}},
			Tables: []StudyTable{table}, Figures: []StudyFigure{{f, false}, {f, true}, {f, true}, {f, true}},
		})
	}
	return s
}

// says are texts that must stand in every form of the study.
func (s Study) says() []string {
	list := []string{s.Kind, s.Title, s.Lead, "Simulated bench.", s.Simulated, "NO", "Ppk is at least", "Cp: Montgomery, 8.3.", "and 3 more"}
	for _, section := range s.Sections {
		list = append(list, section.Title, section.Lead, "125", "5.001", "Points at which a rule is broken", "hour-69", "seen", "vbus in V")
	}
	return list
}

func TestStudyPages(t *testing.T) {
	s := sampleStudy()
	html, err := s.HTML()
	require.NoError(t, err)
	pdf, err := s.PDF()
	require.NoError(t, err)
	again, err := s.PDF()
	require.NoError(t, err)
	require.Equal(t, pdf, again, "same study, same bytes")
	text := squeezed(strings.NewReplacer("&lt;", "<", "&gt;", ">").Replace(string(html)))
	printed := squeezed(pdfText(t, pdf))
	for _, w := range s.says() {
		require.Contains(t, text, squeezed(w))
		require.Contains(t, printed, squeezed(w))
	}
	require.NotContains(t, string(html), "<1>")
	require.NotContains(t, strings.ToLower(string(html)), "zgotmplz")
	require.Equal(t, 8, strings.Count(string(html), "<svg"))
	d := xml.NewDecoder(strings.NewReader(string(html)))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		if _, err := d.Token(); err != nil {
			require.ErrorIs(t, err, io.EOF)
			break
		}
	}
	require.Greater(t, pages(t, pdf), 3)
}

func TestStudyWithoutDate(t *testing.T) {
	s := sampleStudy()
	s.Started = ""
	first, err := s.PDF()
	require.NoError(t, err)
	again, err := s.PDF()
	require.NoError(t, err)
	require.Equal(t, first, again, "no clock in the bytes")
}

func TestStudyTextsAreVisible(t *testing.T) {
	s := sampleStudy()
	s.Title = "v\u202E\x01<script>alert(1)</script>.csv"
	s.Sections[0].Facts[0].Text = "\u202Eabc"
	html, err := s.HTML()
	require.NoError(t, err)
	require.NotContains(t, string(html), "<script")
	require.NotContains(t, string(html), "\u202E")
	require.Contains(t, string(html), "‹U&#43;202E›abc")
	_, err = s.PDF()
	require.NoError(t, err)
	require.Contains(t, s.Title, "\u202E", "the view itself stays")
}

func TestStudyTableFitsThePage(t *testing.T) {
	sheet, err := newSheet("t", "h", "f", undated)
	require.NoError(t, err)
	long := strings.Repeat("long ", 60)
	table := StudyTable{Columns: []StudyColumn{{"A", false}, {"B", true}, {"C", false}}, Rows: []StudyRow{{[]string{long, "1", long}, Plain}}}
	total := 0.0
	for _, c := range table.spaced().widths(sheet) {
		require.Greater(t, c.width, 2*cellSide)
		total += c.width
	}
	require.InDelta(t, bodyWidth, total, 0.5)
	narrow := StudyTable{Columns: []StudyColumn{{"A", false}}, Rows: []StudyRow{{[]string{"x"}, Plain}}}
	require.Less(t, narrow.widths(sheet)[0].width, 100.0, "a narrow table is not torn apart")
}

func TestStudyThatCannotBeDrawn(t *testing.T) {
	s := sampleStudy()
	s.Sections[0].Figures[0].Series = nil
	_, err := s.HTML()
	require.ErrorIs(t, err, plot.ErrNotDrawable)
	_, err = s.PDF()
	require.ErrorIs(t, err, plot.ErrNotDrawable)
}
