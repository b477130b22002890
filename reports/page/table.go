package page

import "slices"

// columnOf is one column of a table on a sheet.
type columnOf struct {
	title string
	width float64
	right bool
}

// cell is the text of a cell and a quieter text below it.
type cell struct {
	text, small string
	bold        bool
	tone        Tone
}

// The measures of a table.
const (
	cellSize  = 7.8
	cellLead  = 9.9
	smallSize = 6.8
	smallLead = 8.6
	cellPad   = 1.7
	cellSide  = 3.0
)

// checkColumns are the columns of the table of checks; their widths add up to
// the body of the sheet.
func checkColumns() []columnOf {
	return []columnOf{
		{title: "No.", width: 24, right: true}, {title: "Question", width: bodyWidth - 24 - 92 - 124 - 54},
		{title: "Value", width: 92}, {title: "Limits", width: 124}, {title: "Answer", width: 54},
	}
}

// grid is a table on a sheet.
type grid struct {
	*sheet
	columns []columnOf
	// group is the sub-heading in force, repeated on a new page.
	group, groupNote string
}

// head sets the titles of the columns.
func (g *grid) head() {
	g.font(cellSize, "B")
	g.colour(inkText)
	x := marginLeft
	for _, c := range g.columns {
		g.text(x, g.y+cellSize+1, c, c.title)
		x += c.width
	}
	g.y += cellLead + 3
	g.pdf.SetDrawColor(inkText.rgb())
	g.pdf.SetLineWidth(0.9)
	g.pdf.Line(marginLeft, g.y, sheetWidth-marginRight, g.y)
}

// text sets a line into a column, at the side on which it stands.
func (g *grid) text(x, y float64, c columnOf, t string) {
	if c.right {
		g.pdf.Text(x+c.width-cellSide-g.pdf.GetStringWidth(t), y, t)
		return
	}
	g.pdf.Text(x+cellSide, y, t)
}

// begin sets the sub-heading of a group, on the page of its first row.
func (g *grid) begin(title, note string, first []cell) {
	g.group, g.groupNote = title, note
	_, height := g.layout(first)
	if g.room(groupHeight + min(height, fullRow)) {
		g.head()
	}
	g.subHeading("")
}

const groupHeight = 14.0

func (g *grid) subHeading(again string) {
	base := g.y + groupHeight - 3.2
	g.font(cellSize, "B")
	g.colour(inkText)
	text := g.clipped(g.group, bodyWidth*0.7)
	g.pdf.Text(marginLeft+cellSide, base, text)
	x := marginLeft + cellSide + g.pdf.GetStringWidth(text) + 6
	g.font(smallSize, "")
	g.colour(quiet)
	g.pdf.Text(x, base, g.clipped(g.groupNote+again, sheetWidth-marginRight-x))
	g.y += groupHeight
	g.pdf.SetDrawColor(quiet.rgb())
	g.pdf.SetLineWidth(0.5)
	g.pdf.Line(marginLeft, g.y, sheetWidth-marginRight, g.y)
}

// row sets one row, on a new page under the titles again where it does not
// fit. What is higher than a page goes on at the next one.
func (g *grid) row(cells []cell, tone Tone) {
	rest, height := g.layout(cells)
	if g.room(min(height, fullRow)) {
		g.again()
	}
	for {
		now := make([][]cellLine, len(rest))
		height = 0
		for i := range rest {
			now[i], rest[i] = split(rest[i], sheetHeight-marginBottom-g.y-2*cellPad)
			height = max(height, heightOf(now[i])+2*cellPad)
		}
		g.paint(cells, now, tone, height)
		if heightOf(slices.Concat(rest...)) == 0 {
			return
		}
		g.turn()
		g.again()
	}
}

// fullRow is the height of a row that fills a page under its titles.
const fullRow = sheetHeight - marginTop - marginBottom - 2*groupHeight

// again repeats titles and sub-heading on a new page.
func (g *grid) again() {
	g.head()
	g.subHeading(" (continued)")
}

// cellLine is a line of a cell.
type cellLine struct {
	text  string
	small bool
}

func (l cellLine) lead() float64 {
	if l.small {
		return smallLead
	}
	return cellLead
}

func heightOf(lines []cellLine) float64 {
	sum := 0.0
	for _, l := range lines {
		sum += l.lead()
	}
	return sum
}

// split parts lines into those that fit a height, at least one, and the rest.
func split(lines []cellLine, height float64) (now, rest []cellLine) {
	for i, l := range lines {
		if height -= l.lead(); height < 0 && i > 0 {
			return lines[:i], lines[i:]
		}
	}
	return lines, nil
}

// layout wraps every cell and returns the height of the row.
func (g *grid) layout(cells []cell) (lines [][]cellLine, height float64) {
	for i, c := range g.columns {
		var list []cellLine
		g.cellFont(cells[i])
		for _, t := range g.wrap(cells[i].text, c.width-2*cellSide) {
			list = append(list, cellLine{t, false})
		}
		g.font(smallSize, "")
		for _, t := range g.wrap(cells[i].small, c.width-2*cellSide) {
			list = append(list, cellLine{t, true})
		}
		lines = append(lines, list)
		height = max(height, heightOf(list)+2*cellPad)
	}
	return lines, height
}

func (g *grid) cellFont(c cell) {
	style := ""
	if c.bold {
		style = "B"
	}
	g.font(cellSize, style)
}

// paint draws the lines of a row at the cursor and moves it below them.
func (g *grid) paint(cells []cell, lines [][]cellLine, tone Tone, height float64) {
	g.shade(tone, height)
	x := marginLeft
	for i, c := range g.columns {
		y := g.y + cellPad
		for _, l := range lines[i] {
			size := cellSize
			g.cellFont(cells[i])
			g.colour(cells[i].tone.tint())
			if l.small {
				size = smallSize
				g.font(size, "")
				g.colour(quiet)
			}
			g.text(x, y+size, c, l.text)
			y += l.lead()
		}
		x += c.width
	}
	g.y += height
	g.rule(g.y, 0.4)
}

// shade fills the row's ground where it needs to be found quickly.
func (g *grid) shade(tone Tone, height float64) {
	switch tone {
	case Bad:
		g.fill(badWash, marginLeft, g.y, bodyWidth, height)
	case Open:
		g.fill(opnWash, marginLeft, g.y, bodyWidth, height)
	}
}
