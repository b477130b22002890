package page

// column is one column of a table on a sheet.
type column struct {
	title string
	width float64
}

// cell is the text of a cell and a quieter text below it.
type cell struct {
	text, small string
	bold        bool
	tone        Tone
}

const (
	cellSize  = 8.0
	cellLead  = 10.4
	smallSize = 6.8
	smallLead = 8.8
	cellPad   = 3.0
)

// checkColumns are the columns of the table of checks; their widths add up to
// the body of the sheet.
func checkColumns() []column {
	return []column{{"#", 20}, {"Question", 142}, {"In front of", 88}, {"Value", 88}, {"Limits and their source", bodyWidth - 20 - 142 - 88 - 88 - 60}, {"Answer", 60}}
}

// tableHead sets the titles of the columns.
func (s *sheet) tableHead(columns []column) {
	s.font(cellSize, "B")
	s.colour(inkText)
	x := marginLeft
	for _, c := range columns {
		s.pdf.Text(x+cellPad, s.y+cellSize+1, c.title)
		x += c.width
	}
	s.y += cellLead + 4
	s.pdf.SetDrawColor(inkText.rgb())
	s.pdf.SetLineWidth(1)
	s.pdf.Line(marginLeft, s.y, sheetWidth-marginRight, s.y)
}

// tableRow sets one row, on a new page under the titles again where it does
// not fit.
func (s *sheet) tableRow(columns []column, cells []cell, tone Tone) {
	text, small, height := s.layout(columns, cells)
	if s.room(height) {
		s.tableHead(columns)
	}
	s.shade(tone, height)
	x := marginLeft
	for i, c := range columns {
		s.setCell(x+cellPad, cells[i], text[i], small[i])
		x += c.width
	}
	s.y += height
	s.rule(s.y, 0.5)
}

// layout wraps every cell and returns the height of the row.
func (s *sheet) layout(columns []column, cells []cell) (text, small [][]string, height float64) {
	for i, c := range columns {
		s.cellFont(cells[i])
		t := s.wrap(cells[i].text, c.width-2*cellPad)
		s.font(smallSize, "")
		q := s.wrap(cells[i].small, c.width-2*cellPad)
		text, small = append(text, t), append(small, q)
		height = max(height, float64(len(t))*cellLead+float64(len(q))*smallLead+2*cellPad)
	}
	return text, small, height
}

func (s *sheet) cellFont(c cell) {
	style := ""
	if c.bold {
		style = "B"
	}
	s.font(cellSize, style)
}

func (s *sheet) setCell(x float64, c cell, text, small []string) {
	y := s.y + cellPad
	s.cellFont(c)
	s.colour(c.tone.tint())
	for _, l := range text {
		s.pdf.Text(x, y+cellSize, l)
		y += cellLead
	}
	s.font(smallSize, "")
	s.colour(quiet)
	for _, l := range small {
		s.pdf.Text(x, y+smallSize, l)
		y += smallLead
	}
}

// shade fills the row's ground where it needs to be found quickly.
func (s *sheet) shade(tone Tone, height float64) {
	switch tone {
	case Bad:
		s.pdf.SetFillColor(badWash.rgb())
	case Open:
		s.pdf.SetFillColor(opnWash.rgb())
	default:
		return
	}
	s.pdf.Rect(marginLeft, s.y, bodyWidth, height, "F")
}
