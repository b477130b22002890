package page

import (
	"reflect"

	"sinkproof/reports/page/plot"
)

// undated is the date of a document whose data have none: its bytes must not
// depend on the clock.
const undated = "1970-01-01T00:00:00Z"

// PDF returns the study for printing.
func (s Study) PDF() ([]byte, error) {
	s = clone(reflect.ValueOf(s)).Interface().(Study)
	replace(reflect.ValueOf(&s).Elem(), plot.Printable)
	started := s.Started
	if started == "" {
		started = undated
	}
	sheet, err := newSheet(s.Kind+": "+s.Title, s.Kind+"  ·  "+s.Title, "made by sinkproof; the same values give the same page", started)
	if err != nil {
		return nil, err
	}
	s.printHead(sheet)
	for _, section := range s.Sections {
		if err := section.print(sheet); err != nil {
			return nil, err
		}
	}
	if len(s.Method) > 0 {
		sheet.heading("How this was computed", 30)
		for _, m := range s.Method {
			sheet.paragraph("•", m, 8, inkText)
		}
	}
	return sheet.bytes()
}

// printHead sets title, verdict and lead.
func (s Study) printHead(sheet *sheet) {
	sheet.font(9.5, "")
	sheet.colour(quiet)
	sheet.pdf.Text(marginLeft, sheet.y+12, s.Kind)
	sheet.y += 16
	sheet.set(words{s.Title, 17, "B", inkText}, 0)
	sheet.y += 6
	if s.Simulated != "" {
		sheet.box(open, "Simulated bench. "+s.Simulated)
	}
	if answer, why := s.answered(); s.Verdict != "" {
		bar := s.Tone.tint()
		sheet.strip(bar, 6)
		sheet.stripped(bar, words{answer, 20, "B", bar})
		sheet.stripped(bar, words{why, 9.5, "", inkText})
		sheet.strip(bar, 7)
		sheet.y += 8
	}
	sheet.set(words{s.Lead, 10, "", inkText}, 0)
	sheet.y += 4
}

// print sets a section: facts, pictures, tables.
func (s StudySection) print(sheet *sheet) error {
	if s.Title != "" {
		sheet.heading(s.Title, s.opening())
	}
	if s.Lead != "" {
		sheet.paragraph("", s.Lead, 9, inkText)
	}
	if len(s.Facts) > 0 {
		sheet.y += 4
		sheet.facts(s.Facts, 1)
		sheet.y += 8
	}
	if err := sheet.pictures(s.Figures); err != nil {
		return err
	}
	for _, t := range s.Tables {
		t.print(sheet)
	}
	return nil
}

// opening is the height of what must stand on the page of the title: the facts
// and the first picture.
func (s StudySection) opening() float64 {
	height := 60 + 13*float64(len(s.Facts))
	if len(s.Figures) > 0 {
		_, first := s.Figures[0].size()
		height += first
	}
	return min(height, 500)
}

// pictures draws figures below each other, halves in pairs.
func (s *sheet) pictures(list []StudyFigure) error {
	const gap = 8.0
	for i := 0; i < len(list); i++ {
		f := list[i]
		width, height := f.size()
		s.room(height + gap)
		if err := f.Draw(s.pdf, marginLeft, s.y, width, height); err != nil {
			return err
		}
		if f.Half && i+1 < len(list) && list[i+1].Half {
			i++
			if err := list[i].Draw(s.pdf, marginLeft+bodyWidth-width, s.y, width, height); err != nil {
				return err
			}
		}
		s.y += height + gap
	}
	return nil
}

// print sets the table with columns as wide as they need.
func (t StudyTable) print(sheet *sheet) {
	if t.Title != "" {
		sheet.y += 6
		sheet.room(60)
		sheet.set(words{t.Title, 9.5, "B", inkText}, 0)
		sheet.y += 2
	}
	t = t.spaced()
	g := &grid{sheet: sheet, columns: t.widths(sheet)}
	sheet.room(40)
	g.head()
	for _, r := range t.Rows {
		cells := make([]cell, len(r.Cells))
		for i, c := range r.Cells {
			cells[i] = cell{text: c, tone: Plain}
		}
		lines, height := g.layout(cells)
		if g.room(height) {
			g.head()
		}
		g.paint(cells, lines, r.Tone, height)
	}
	sheet.y += 4
	if t.Note != "" {
		sheet.paragraph("", t.Note, 8, quiet)
	}
	sheet.y += 4
}

// spaced puts an empty column between figures and a text after them, which
// would touch.
func (t StudyTable) spaced() StudyTable {
	out := StudyTable{Title: t.Title, Note: t.Note, Rows: make([]StudyRow, len(t.Rows))}
	for i, c := range t.Columns {
		gap := i > 0 && !c.Right && t.Columns[i-1].Right
		if gap {
			out.Columns = append(out.Columns, StudyColumn{Right: true})
		}
		out.Columns = append(out.Columns, c)
		for j, r := range t.Rows {
			if gap {
				out.Rows[j].Cells = append(out.Rows[j].Cells, "")
			}
			out.Rows[j].Cells = append(out.Rows[j].Cells, r.Cells[i])
			out.Rows[j].Tone = r.Tone
		}
	}
	return out
}

// widths measures the columns. What is left of the body goes to the texts;
// where the body is too narrow the widest columns give way.
func (t StudyTable) widths(sheet *sheet) []columnOf {
	columns := make([]columnOf, len(t.Columns))
	total, texts := 0.0, 0
	for i, c := range t.Columns {
		columns[i] = columnOf{title: c.Title, right: c.Right}
		sheet.font(cellSize, "B")
		width := sheet.pdf.GetStringWidth(c.Title)
		sheet.font(cellSize, "")
		for _, r := range t.Rows {
			width = max(width, sheet.pdf.GetStringWidth(r.Cells[i]))
		}
		columns[i].width = width + 2*cellSide + 6
		total += columns[i].width
		if !c.Right {
			texts++
		}
	}
	for total > bodyWidth {
		widest := 0
		for i := range columns {
			if columns[i].width > columns[widest].width {
				widest = i
			}
		}
		cut := min(total-bodyWidth, columns[widest].width*0.1)
		columns[widest].width -= cut
		total -= cut
		if cut < 1e-6 {
			break
		}
	}
	spare := min(bodyWidth-total, 60*float64(texts))
	for i := range columns {
		if !columns[i].right && texts > 0 {
			columns[i].width += spare / float64(texts)
		}
	}
	return columns
}
