package page

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/stretchr/testify/require"
	"image/png"

	"sinkproof/reports/record"
)

// poppler runs a tool of the Debian package poppler-utils on a PDF.
func poppler(t testing.TB, pdf []byte, tool string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(tool)
	require.NoError(t, err, "install the package poppler-utils")
	file := filepath.Join(t.TempDir(), "report.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	command := append([]string{}, args...)
	for i, a := range command {
		command[i] = strings.ReplaceAll(a, "FILE", file)
	}
	out, err := exec.Command(path, command...).Output()
	require.NoError(t, err)
	return out
}

func pdf(t testing.TB, run record.Run) []byte {
	t.Helper()
	out, err := NewReport(run, proof()).PDF()
	require.NoError(t, err)
	return out
}

// pdfText reads the words of a PDF back. Raw order is that of drawing: the
// cells of a row stay together.
func pdfText(t testing.TB, pdf []byte) string {
	t.Helper()
	text := string(poppler(t, pdf, "pdftotext", "-raw", "FILE", "-"))
	// Heads and feet stand between lines that belong together.
	text = regexp.MustCompile(`(?m)^(page \d+ of \d+|Charge port test report  ?· .*|record .* made by sinkproof.*)$`).ReplaceAllString(text, "")
	return text
}

func pages(t testing.TB, pdf []byte) int {
	t.Helper()
	m := regexp.MustCompile(`Pages:\s+(\d+)`).FindSubmatch(poppler(t, pdf, "pdfinfo", "FILE"))
	require.NotNil(t, m)
	n, err := strconv.Atoi(string(m[1]))
	require.NoError(t, err)
	return n
}

func TestPDFSaysWhatTheViewSays(t *testing.T) {
	for _, run := range []record.Run{richRun(), longRun()} {
		out := pdf(t, run)
		text := pdfText(t, out)
		requireWholeReport(t, NewReport(run, proof()), text)
		require.Contains(t, squeezed(text), proof().Head, "without the head a cut tail cannot be seen")
	}
}

func TestPDFOfACompleteScenarioHasAFewPages(t *testing.T) {
	out := pdf(t, longRun())
	n := pages(t, out)
	require.LessOrEqual(t, n, 8, "58 checks and 16 waveforms")
	require.Less(t, len(out), 150_000)
	raw := string(poppler(t, out, "pdftotext", "-raw", "FILE", "-"))
	for i := range n {
		require.Contains(t, raw, fmt.Sprintf("page %d of %d", i+1, n))
	}
}

func TestPDFIsDatedByItsRecord(t *testing.T) {
	info := string(poppler(t, pdf(t, richRun()), "pdfinfo", "-isodates", "FILE"))
	require.Contains(t, info, "2026-05-04T07:30:00")
	require.Contains(t, info, "LMP-000017")
	r := NewReport(richRun(), proof())
	r.Started = "yesterday"
	_, err := r.PDF()
	require.ErrorContains(t, err, `start "yesterday"`)
}

// word is a word of a PDF with its place.
type word struct {
	XMin float64 `xml:"xMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMin float64 `xml:"yMin,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

// wordsOnPages reads where each word of a PDF stands.
func wordsOnPages(t testing.TB, pdf []byte) (list []word) {
	t.Helper()
	var doc struct {
		Words []word `xml:"body>doc>page>word"`
	}
	d := xml.NewDecoder(bytes.NewReader(poppler(t, pdf, "pdftotext", "-bbox", "FILE", "-")))
	d.Strict, d.Entity = false, xml.HTMLEntity
	require.NoError(t, d.Decode(&doc))
	require.NotEmpty(t, doc.Words)
	return doc.Words
}

// Whatever the texts are, no word leaves the sheet.
func TestNothingRunsOffTheSheet(t *testing.T) {
	endless := richRun()
	endless.Checks[2].Why = strings.Repeat("word and word ", 2000)
	endless.Reason, endless.Verdict, endless.Bin = strings.Repeat("x", 9000), record.None, record.BinRetest
	endless.Notes[0].Text = strings.Repeat("y ", 6000)
	for name, run := range map[string]record.Run{"rich": richRun(), "long": longRun(), "nasty": nasty(richRun()), "endless": endless} {
		t.Run(name, func(t *testing.T) {
			for _, w := range wordsOnPages(t, pdf(t, run)) {
				require.True(t, w.XMin >= marginLeft-1 && w.XMax <= sheetWidth-marginRight+2,
					"%q from %.0f to %.0f", w.Text, w.XMin, w.XMax)
				require.True(t, w.YMin >= 20 && w.YMax <= sheetHeight-15, "%q at %.0f", w.Text, w.YMin)
			}
		})
	}
}

// A text that is longer than a page goes on at the next one.
func TestEndlessTextsArePrintedWhole(t *testing.T) {
	run := richRun()
	run.Checks[2].Why = strings.Repeat("lorem ", 3000) + "end-of-why"
	run.Notes[0].Text = strings.Repeat("ipsum ", 6000) + "end-of-note"
	text := pdfText(t, pdf(t, run))
	require.Contains(t, text, "end-of-note")
	require.Equal(t, 2, strings.Count(text, "end-of-why"), "in the box and in the table")
	require.Equal(t, 2*3000, strings.Count(text, "lorem"))
}

func TestPDFShowsLettersThatTheFontLacks(t *testing.T) {
	run := richRun()
	run.Supplier = "板 Łódź Ω 😀"
	text := pdfText(t, pdf(t, run))
	require.Contains(t, text, "‹U+677F› Łódź Ω ‹U+1F600›")
}

// The code is read from the printed page, as a scanner would.
func TestCodeOnTheSheetReadsBack(t *testing.T) {
	out := poppler(t, pdf(t, richRun()), "pdftoppm", "-r", "300", "-f", "1", "-l", "1", "-png",
		// The upper right corner, in dots.
		"-x", "2000", "-y", "190", "-W", "420", "-H", "400", "FILE")
	img, err := png.Decode(bytes.NewReader(out))
	require.NoError(t, err)
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	result, err := datamatrix.NewDataMatrixReader().Decode(bitmap, nil)
	require.NoError(t, err)
	require.Equal(t, NewReport(richRun(), proof()).Code, result.GetText())
}
