package page

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"sinkproof/reports/page/plot"
)

// The sheet: A4 in points, with margins that a hole punch respects.
const (
	sheetWidth   = 595.28
	sheetHeight  = 841.89
	marginLeft   = 50.0
	marginRight  = 40.0
	marginTop    = 58.0
	marginBottom = 52.0
	bodyWidth    = sheetWidth - marginLeft - marginRight
)

// sheet is a PDF under construction: a cursor that moves down and turns the
// page before anything would be cut.
type sheet struct {
	pdf *fpdf.Fpdf
	y   float64
	// head and foot stand on every page.
	head, foot string
}

// newSheet starts a document whose bytes depend on nothing but its content:
// dates from the record, catalogue sorted.
func newSheet(title, head, foot, started string) (*sheet, error) {
	at, err := time.Parse(time.RFC3339Nano, started)
	if err != nil {
		return nil, fmt.Errorf("page: start %q of the record: %w", started, err)
	}
	s := &sheet{pdf: fpdf.New("P", "pt", "A4", ""), head: head, foot: foot}
	s.pdf.SetCatalogSort(true)
	s.pdf.SetCreationDate(at.UTC())
	s.pdf.SetModificationDate(at.UTC())
	s.pdf.SetProducer("sinkproof", true)
	s.pdf.SetTitle(title, true)
	s.pdf.SetLang("en")
	s.pdf.SetAutoPageBreak(false, 0)
	s.pdf.SetMargins(marginLeft, marginTop, marginRight)
	s.pdf.AliasNbPages("{pages}")
	plot.AddFonts(s.pdf)
	s.turn()
	return s, nil
}

// turn begins a new page with its head and foot.
func (s *sheet) turn() {
	s.pdf.AddPage()
	s.font(8, "")
	s.colour(quiet)
	s.pdf.Text(marginLeft, 34, s.head)
	s.right(sheetWidth-marginRight, 34, fmt.Sprintf("page %d of {pages}", s.pdf.PageNo()))
	s.rule(40, 0.5)
	s.font(7.5, "")
	s.pdf.Text(marginLeft, sheetHeight-28, s.foot)
	s.colour(inkText)
	s.y = marginTop
}

// room turns the page unless the height fits below the cursor.
func (s *sheet) room(height float64) bool {
	if s.y+height <= sheetHeight-marginBottom {
		return false
	}
	s.turn()
	return true
}

// tint is a colour by its hexadecimal value.
type tint uint32

// The tints of the sheet; the same as in the style sheet of the pages.
const (
	inkText tint = 0x1D2329
	quiet   tint = 0x5A636C
	hair    tint = 0xD5DADE
	wash    tint = 0xF5F7F8
	good    tint = 0x1B6B3A
	bad     tint = 0xA3271C
	open    tint = 0x8A5A00
	badWash tint = 0xFBEEEC
	opnWash tint = 0xFDF6E7
)

func (t tint) rgb() (r, g, b int) { return int(t >> 16), int(t>>8) & 0xFF, int(t) & 0xFF }

func (t Tone) tint() tint {
	switch t {
	case Good:
		return good
	case Bad:
		return bad
	case Open:
		return open
	}
	return inkText
}

func (s *sheet) font(size float64, style string) { s.pdf.SetFont(plot.Family, style, size) }

func (s *sheet) colour(t tint) { s.pdf.SetTextColor(t.rgb()) }

func (s *sheet) rule(y, width float64) {
	s.pdf.SetDrawColor(hair.rgb())
	s.pdf.SetLineWidth(width)
	s.pdf.Line(marginLeft, y, sheetWidth-marginRight, y)
}

func (s *sheet) right(x, y float64, text string) {
	// The alias stands for at most three digits; its own width would push the
	// text to the left.
	s.pdf.Text(x-s.pdf.GetStringWidth("page 99 of 99"), y, text)
}

// heading sets a section's title and keeps it with the lines that follow.
func (s *sheet) heading(text string) {
	s.y += 12
	s.room(60)
	s.font(12, "B")
	s.colour(inkText)
	s.pdf.Text(marginLeft, s.y+10, text)
	s.y += 19
}

// wrap breaks a text into lines of a width in the current font, at spaces and
// at its own line ends. A word that is wider than the line is broken inside.
// (fpdf's SplitText also breaks at no-break spaces.)
func (s *sheet) wrap(text string, width float64) []string {
	if text == "" {
		return nil
	}
	var lines []string
	for _, part := range strings.Split(text, "\n") {
		line := ""
		for _, word := range strings.Split(part, " ") {
			if line != "" && s.pdf.GetStringWidth(line+" "+word) <= width {
				line += " " + word
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			for s.pdf.GetStringWidth(word) > width && len([]rune(word)) > 1 {
				cut := s.fit(word, width)
				lines, word = append(lines, word[:cut]), word[cut:]
			}
			line = word
		}
		lines = append(lines, line)
	}
	return lines
}

// fit returns the number of bytes of a text that stay within a width, at
// least one rune.
func (s *sheet) fit(text string, width float64) int {
	last := 0
	for i := range text {
		if i > 0 && s.pdf.GetStringWidth(text[:i]) > width {
			break
		}
		last = i
	}
	return max(last, len(string([]rune(text)[:1])))
}

// paragraph sets a wrapped text with an optional mark before it.
func (s *sheet) paragraph(mark, text string, size float64, t tint) {
	indent := 0.0
	if mark != "" {
		indent = 13
	}
	s.font(size, "")
	lines := s.wrap(text, bodyWidth-indent)
	lead := size * 1.38
	s.room(float64(len(lines)) * lead)
	s.font(size, "")
	s.colour(t)
	s.pdf.Text(marginLeft, s.y+size, mark)
	for _, l := range lines {
		s.pdf.Text(marginLeft+indent, s.y+size, l)
		s.y += lead
	}
	s.y += 2.5
}

// facts sets label and text in two columns.
func (s *sheet) facts(rows []Row) {
	const size, lead, label = 8.5, 11.8, 92.0
	for _, r := range rows {
		s.font(size, "")
		lines := s.wrap(r.Text, bodyWidth-label)
		names := s.wrap(r.Label, label-8)
		s.room(float64(max(len(lines), len(names))) * lead)
		s.font(size, "")
		for i, n := range names {
			s.colour(quiet)
			s.pdf.Text(marginLeft, s.y+size+float64(i)*lead, n)
		}
		s.colour(inkText)
		for i, l := range lines {
			s.pdf.Text(marginLeft+label, s.y+size+float64(i)*lead, l)
		}
		s.y += float64(max(len(lines), len(names)))*lead + 1
	}
}

// bytes closes the document.
func (s *sheet) bytes() ([]byte, error) {
	var out bytes.Buffer
	if err := s.pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("page: write PDF: %w", err)
	}
	return out.Bytes(), nil
}
