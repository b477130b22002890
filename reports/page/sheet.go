package page

import (
	"bytes"
	"fmt"
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
	marginTop    = 54.0
	marginBottom = 46.0
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
	s.pdf.AliasNbPages(pagesAlias)
	plot.AddFonts(s.pdf)
	s.turn()
	return s, nil
}

// pagesAlias stands for the number of pages until that is known.
const pagesAlias = "{pages}"

// turn begins a new page with its head and foot.
func (s *sheet) turn() {
	s.pdf.AddPage()
	s.font(8, "")
	s.colour(quiet)
	page := fmt.Sprintf("page %d of %s", s.pdf.PageNo(), pagesAlias)
	// The alias is wider than the number that will stand for it.
	room := s.pdf.GetStringWidth("page 99 of 99")
	s.pdf.Text(sheetWidth-marginRight-room, 34, page)
	s.pdf.Text(marginLeft, 34, s.clipped(s.head, bodyWidth-room-12))
	s.rule(40, 0.5)
	s.font(7.5, "")
	s.pdf.Text(marginLeft, sheetHeight-26, s.clipped(s.foot, bodyWidth))
	s.colour(inkText)
	s.y = marginTop
}

// clipped shortens a text to a width, visibly.
func (s *sheet) clipped(text string, width float64) string {
	if s.pdf.GetStringWidth(text) <= width {
		return text
	}
	return s.wrap(text, width-s.pdf.GetStringWidth("…"))[0] + "…"
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
	quiet   tint = 0x545D66
	hair    tint = 0xD5DADE
	wash    tint = 0xF5F7F8
	good    tint = 0x1B6B3A
	bad     tint = 0xA3271C
	open    tint = 0x7D5200
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

func (s *sheet) fill(t tint, x, y, width, height float64) {
	s.pdf.SetFillColor(t.rgb())
	s.pdf.Rect(x, y, width, height, "F")
}

// wrap breaks a text in the current font. (fpdf's SplitText also breaks at
// no-break spaces.)
func (s *sheet) wrap(text string, width float64) []string {
	return plot.Wrap(text, width, s.pdf.GetStringWidth)
}

// heading sets a section's title on the page of what follows, which needs the
// height keep.
func (s *sheet) heading(text string, keep float64) {
	s.y += 11
	s.room(20 + keep)
	s.font(11.5, "B")
	s.colour(inkText)
	s.pdf.Text(marginLeft, s.y+10, text)
	s.y += 18
}

// words is a text with how it is set.
type words struct {
	text  string
	size  float64
	style string
	tint  tint
}

// lead is the distance from line to line.
func (w words) lead() float64 { return w.size * 1.36 }

// set sets a text at the cursor, turning the page between lines where it must,
// in lines that begin at indent.
func (s *sheet) set(w words, indent float64) {
	lines := s.begin(w, indent)
	for _, l := range lines {
		s.room(w.lead())
		s.font(w.size, w.style)
		s.colour(w.tint)
		s.pdf.Text(marginLeft+indent, s.y+w.size, l)
		s.y += w.lead()
	}
}

// begin turns the page where a text must not begin on this one, and returns its
// lines: a short one stays whole.
func (s *sheet) begin(w words, indent float64) []string {
	s.font(w.size, w.style)
	lines := s.wrap(w.text, bodyWidth-indent)
	if len(lines) <= 4 {
		s.room(float64(len(lines)) * w.lead())
	} else {
		s.room(w.lead())
	}
	return lines
}

// paragraph sets a text with an optional mark before it, on the page of its first
// line.
func (s *sheet) paragraph(mark, text string, size float64, t tint) {
	w := words{text: text, size: size, tint: t}
	if mark == "" {
		s.set(w, 0)
		s.y += 2
		return
	}
	s.font(size, "")
	indent := max(13, s.pdf.GetStringWidth(mark)+5)
	s.begin(w, indent)
	s.font(size, "")
	s.colour(t)
	s.pdf.Text(marginLeft, s.y+size, mark)
	s.set(w, indent)
	s.y += 1.5
}

// bytes closes the document.
func (s *sheet) bytes() ([]byte, error) {
	var out bytes.Buffer
	if err := s.pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("page: write PDF: %w", err)
	}
	return out.Bytes(), nil
}
