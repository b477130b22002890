package page

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/record"
)

func blank(t testing.TB) *sheet {
	t.Helper()
	s, err := newSheet("title", "head", "foot", "2026-05-04T07:30:00Z")
	require.NoError(t, err)
	return s
}

// printed returns the text of each page.
func printed(t testing.TB, s *sheet) []string {
	t.Helper()
	out, err := s.bytes()
	require.NoError(t, err)
	return pageTexts(t, out)
}

func pageTexts(t testing.TB, pdf []byte) []string {
	t.Helper()
	text := string(poppler(t, pdf, "pdftotext", "-raw", "FILE", "-"))
	return strings.Split(strings.TrimSuffix(text, "\f"), "\f")
}

func TestEveryPageHasHeadFootAndNumber(t *testing.T) {
	s := blank(t)
	for range 11 {
		s.turn()
	}
	pages := printed(t, s)
	require.Len(t, pages, 12)
	for i, text := range pages {
		require.Contains(t, text, "head")
		require.Contains(t, text, "foot")
		require.Contains(t, text, fmt.Sprintf("page %d of 12", i+1))
	}
}

func TestRoomTurnsThePageOnlyWhereItMust(t *testing.T) {
	s := blank(t)
	require.False(t, s.room(sheetHeight-marginTop-marginBottom))
	require.True(t, s.room(sheetHeight-marginTop-marginBottom+0.1))
	require.Equal(t, 2, s.pdf.PageNo())
	require.Equal(t, marginTop, s.y)
}

func TestHeadingStaysWithWhatFollows(t *testing.T) {
	s := blank(t)
	s.y = sheetHeight - marginBottom - 60
	s.heading("Alone", 100)
	require.Equal(t, 2, s.pdf.PageNo(), "100 points of content would not have fitted below")
	s.y = sheetHeight - marginBottom - 60
	s.heading("Together", 10)
	require.Equal(t, 2, s.pdf.PageNo())
}

func TestLongHeadsAreShortenedVisibly(t *testing.T) {
	s, err := newSheet("t", strings.Repeat("head ", 90), strings.Repeat("foot", 90), "2026-05-04T07:30:00Z")
	require.NoError(t, err)
	out, err := s.bytes()
	require.NoError(t, err)
	for _, w := range wordsOnPages(t, out) {
		require.LessOrEqual(t, w.XMax, sheetWidth-marginRight+1)
	}
	require.Equal(t, 2, strings.Count(pageTexts(t, out)[0], "…"))
}

// A paragraph of four lines or less is not torn apart; a longer one may be.
func TestShortParagraphsStayWhole(t *testing.T) {
	s := blank(t)
	s.y = sheetHeight - marginBottom - 25
	s.paragraph("•", strings.Repeat("lorem ipsum ", 20), 8.5, inkText)
	pages := printed(t, s)
	require.NotContains(t, pages[0], "lorem")
	require.NotContains(t, pages[0], "•", "the mark stands with its text")
	require.Equal(t, 20, strings.Count(pages[1], "lorem"))
	s = blank(t)
	s.y = sheetHeight - marginBottom - 40
	s.paragraph("", strings.Repeat("lorem ipsum ", 200), 8.5, inkText)
	pages = printed(t, s)
	require.Equal(t, 200, strings.Count(pages[0], "lorem")+strings.Count(pages[1], "lorem"))
	require.NotZero(t, strings.Count(pages[0], "lorem"))
}

func TestFactsAreInOnePieceEach(t *testing.T) {
	s := blank(t)
	long := strings.Repeat("word ", 30) + "end"
	s.facts([]Row{{"First", long}, {"Second", "short"}, {"Third", "alone"}}, 2)
	text := squeezed(printed(t, s)[0])
	require.Contains(t, text, "First"+squeezed(long)+"Secondshort")
	require.Contains(t, text, "Thirdalone")
}

func TestFactsLongerThanAPageGoOn(t *testing.T) {
	s := blank(t)
	s.facts([]Row{{"Long", strings.Repeat("word ", 4000) + "end"}, {"Next", "fact"}}, 1)
	pages := printed(t, s)
	require.Greater(t, len(pages), 2)
	count := 0
	for _, p := range pages {
		count += strings.Count(p, "word")
	}
	require.Equal(t, 4000, count)
	require.Contains(t, pages[len(pages)-1], "fact")
}

func sampleGrid(t testing.TB) *grid {
	g := &grid{sheet: blank(t), columns: checkColumns()}
	g.head()
	return g
}

func rowOf(number, title, why string) []cell {
	return CheckRow{Title: title, Why: why, Value: "5.1 kΩ", Limits: "≥ 4.6 kΩ " + number, Accepted: "≥ 4.61 kΩ", Answer: "pass", Tone: Good}.cells()
}

func TestColumnsFillTheSheet(t *testing.T) {
	sum := 0.0
	for _, c := range checkColumns() {
		sum += c.width
	}
	require.InDelta(t, bodyWidth, sum, 1e-9)
}

func TestRowsStayWholeUnderTheirTitles(t *testing.T) {
	g := sampleGrid(t)
	g.begin("A group", "group-name", rowOf("0", "q", ""))
	for i := range 90 {
		g.row(rowOf(fmt.Sprintf("[%d]", i), fmt.Sprintf("question number %d begins here and goes on to its end %d", i, i), "because"), Good)
	}
	pages := printed(t, g.sheet)
	require.Greater(t, len(pages), 2)
	for i, p := range pages {
		require.Contains(t, p, "Question", "titles on every page")
		require.Contains(t, p, "A group")
		require.Equal(t, i > 0, strings.Contains(p, "group-name (continued)"))
		require.Equal(t, strings.Count(p, "question"), strings.Count(squeezed(p), "toitsend"), "no row is torn apart")
		require.Equal(t, strings.Count(p, "question"), strings.Count(p, "because"))
	}
}

func TestAGroupIsNotLeftAlone(t *testing.T) {
	g := sampleGrid(t)
	g.y = sheetHeight - marginBottom - groupHeight - 5
	g.begin("A group", "name", rowOf("0", "q", ""))
	g.row(rowOf("0", "the question", ""), Good)
	pages := printed(t, g.sheet)
	require.NotContains(t, pages[0], "A group")
	require.Contains(t, pages[1], "A group")
	require.Contains(t, pages[1], "the question")
}

func TestSplitKeepsEveryLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []cellLine
		for range rapid.IntRange(0, 30).Draw(t, "lines") {
			lines = append(lines, cellLine{"x", rapid.Bool().Draw(t, "small")})
		}
		room := rapid.Float64Range(-10, 300).Draw(t, "room")
		now, rest := split(lines, room)
		require.Equal(t, len(lines), len(now)+len(rest))
		if len(lines) > 0 {
			require.NotEmpty(t, now, "each page takes at least one line, or printing would not end")
		}
		if len(now) > 1 {
			require.LessOrEqual(t, heightOf(now), room+1e-9)
		}
		if len(rest) > 0 {
			require.Greater(t, heightOf(now)+rest[0].lead(), room)
		}
	})
}

func TestSentencesOfTheBox(t *testing.T) {
	s := blank(t)
	r := NewReport(richRun(), proof())
	r.verdict(s)
	text := printed(t, s)[0]
	require.Contains(t, text, "FAIL\n")
	require.Contains(t, plainSpaces(text), "FAIL Termination at CC2: ≥ 1 MΩ, limit 4.59 kΩ to 5.61 kΩ [3]")
	require.Contains(t, plainSpaces(text), "check 3, rd-cc2: at least 1 MΩ is above 5.61 kΩ. As a consequence check 5 failed, and check 6 could not be answered.")
	require.Contains(t, text, "unanswered Through a marked cable")
	require.Less(t, strings.Index(text, "FAIL Termination"), strings.Index(text, "unanswered"))
}

func TestAPassHasNoTrouble(t *testing.T) {
	run := richRun()
	run.Verdict, run.Bin, run.Reason, run.Checks, run.Suspects = record.Pass, record.BinPass, "", run.Checks[:2], nil
	r := NewReport(run, proof())
	require.Empty(t, r.Trouble)
	require.Empty(t, r.Rework)
	text := strings.Join(pageTexts(t, pdf(t, run)), " ")
	require.NotContains(t, text, "What to rework")
	require.NotContains(t, text, "FAIL")
	_, page := parsed(t, html(t, run))
	require.NotContains(t, page, "What to rework")
	require.NotContains(t, page, "FAIL")
}

func TestASparseRecordHasNoEmptySections(t *testing.T) {
	run := richRun()
	run.Checks, run.Notes, run.Waveforms, run.NotObservable, run.Suspects = run.Checks[:1], nil, nil, nil, nil
	run.Checks[0].Lower, run.Checks[0].Upper = nil, nil
	run.Lot, run.Supplier, run.AllowedBy, run.Attempt, run.Nest = "", "", "", 1, 0
	for name, text := range map[string]string{"PDF": pdfText(t, pdf(t, run)), "HTML": string(html(t, run))} {
		t.Run(name, func(t *testing.T) {
			for _, section := range []string{"Sources of the limits", "What else happened", "Waveforms", "What to rework", "Supplier", "Allowed by", "nest"} {
				require.NotContains(t, text, section)
			}
			require.Contains(t, text, "Nothing of this scenario")
		})
	}
}
