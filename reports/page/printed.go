package page

import (
	"strconv"

	"sinkproof/reports/page/plot"
)

// PDF returns the report for printing and for the archive.
func (r Report) PDF() ([]byte, error) {
	r = r.printable()
	s, err := newSheet(r.Title+", "+r.Serial, r.Title+"  ·  serial "+r.Serial,
		plot.Printable("record "+short(r.Hash)+"  ·  made by sinkproof from the signed record"), r.Started)
	if err != nil {
		return nil, err
	}
	if err := r.opening(s); err != nil {
		return nil, err
	}
	r.printFindings(s)
	r.printRework(s)
	s.heading("Identity", 30)
	s.facts(r.Identity, 2)
	r.printChecks(s)
	r.printHidden(s)
	if len(r.Notes) > 0 {
		s.heading("What else happened", 15)
		s.facts(r.Notes, 1)
	}
	if err := r.printFigures(s); err != nil {
		return nil, err
	}
	s.heading("Evidence", float64(len(r.Evidence))*factSize*1.5)
	s.facts(r.Evidence, 1)
	s.y += 4
	s.paragraph("", verification, 8, inkText)
	s.heading("Cautions", 30)
	for _, c := range Cautions() {
		s.paragraph("•", c, 8, inkText)
	}
	return s.bytes()
}

// opening sets the title, the DataMatrix and the verdict.
func (r Report) opening(s *sheet) error {
	const codeSide = 74.0
	if err := s.code(r.Code, sheetWidth-marginRight-codeSide, s.y, codeSide); err != nil {
		return err
	}
	s.font(9.5, "")
	s.colour(quiet)
	s.pdf.Text(marginLeft, s.y+12, r.Title)
	s.font(19, "B")
	s.colour(inkText)
	lines := s.wrap(r.Serial, bodyWidth-codeSide-20)
	for i, l := range lines {
		s.pdf.Text(marginLeft, s.y+36+float64(i)*21, l)
	}
	s.y += max(codeSide, 28+float64(len(lines))*21) + 10
	if r.Twin {
		s.box(open, "Simulated bench. This report was made on the twin. It is no evidence about a unit that exists.")
	}
	for _, n := range r.Standing {
		s.box(bad, n.Lead+" "+n.Text)
	}
	r.verdict(s)
	return nil
}

// verdict sets verdict, bin and reason, and what failed.
func (r Report) verdict(s *sheet) {
	bar := r.Tone.tint()
	s.strip(bar, 6)
	s.stripped(bar, words{r.Verdict, 25, "B", bar})
	s.stripped(bar, words{r.Bin, 10.5, "", inkText})
	if r.Reason != "" {
		s.stripped(bar, words{r.Reason, 9, "", inkText})
	}
	for _, t := range r.Trouble {
		s.strip(bar, 4)
		what := t.Answer + "  " + t.Title
		if t.Limits != "" {
			what += ": " + t.Value + ", limit " + t.Limits
		}
		s.stripped(bar, words{what, 9, "B", t.Tone.tint()})
		why := "check " + strconv.Itoa(t.Number) + ", " + t.Name
		if t.Why != "" {
			why += ": " + t.Why
		}
		why += "."
		if t.Consequences != "" {
			why += " " + t.Consequences
		}
		s.stripped(bar, words{why, 7.5, "", quiet})
	}
	s.strip(bar, 7)
}

// The measures of the verdict's box.
const (
	stripBar    = 8.0
	stripIndent = 20.0
)

// strip paints a piece of the verdict's box, which may so go on at the next
// page, and moves the cursor below it.
func (s *sheet) strip(bar tint, height float64) {
	s.room(height)
	// A hair more than the height, so that no seam shows between pieces.
	s.fill(wash, marginLeft, s.y, bodyWidth, height+0.2)
	s.fill(bar, marginLeft, s.y, stripBar, height+0.2)
	s.y += height
}

// stripped sets a text in the verdict's box.
func (s *sheet) stripped(bar tint, w words) {
	s.font(w.size, w.style)
	for _, l := range s.wrap(w.text, bodyWidth-2*stripIndent) {
		s.strip(bar, w.lead())
		s.font(w.size, w.style)
		s.colour(w.tint)
		s.pdf.Text(marginLeft+stripIndent, s.y-w.lead()+w.size, l)
	}
}

// box sets a text in a dashed frame.
func (s *sheet) box(t tint, text string) {
	s.font(9, "B")
	lines := s.wrap(text, bodyWidth-20)
	height := float64(len(lines))*12.5 + 8
	s.pdf.SetDrawColor(t.rgb())
	s.pdf.SetLineWidth(1)
	s.pdf.SetDashPattern([]float64{4, 3}, 0)
	s.pdf.Rect(marginLeft, s.y, bodyWidth, height, "D")
	s.pdf.SetDashPattern([]float64{}, 0)
	s.colour(inkText)
	for i, l := range lines {
		s.pdf.Text(marginLeft+10, s.y+13+float64(i)*12.5, l)
	}
	s.y += height + 9
}

// code draws a DataMatrix as rectangles, with its quiet zone inside the side.
func (s *sheet) code(text string, x, y, side float64) error {
	m, err := matrixOf(text)
	if err != nil {
		return err
	}
	size := side / float64(len(m)+2)
	s.pdf.SetFillColor(0, 0, 0)
	m.runs(func(cx, cy, width int) {
		s.pdf.Rect(x+float64(cx+1)*size, y+float64(cy+1)*size, float64(width)*size, size, "F")
	})
	return nil
}

func (r Report) printRework(s *sheet) {
	if len(r.Rework) == 0 {
		return
	}
	s.heading(r.ReworkHeading(), 30)
	for i, w := range r.Rework {
		text := w.Title
		if w.Likely != "" {
			text += " (" + w.Likely + ")"
		}
		if w.Text != "" {
			text += ": " + w.Text
		}
		if w.Checks != "" {
			text += " [" + w.Checks + "]"
		}
		s.paragraph(strconv.Itoa(i+1)+".", text, 9, inkText)
	}
}

func (r Report) printChecks(s *sheet) {
	s.heading("Checks", 80)
	s.paragraph("", r.Counts+". Values with expanded uncertainty, k\u00a0=\u00a02. Numbers in brackets refer to the sources below the table. "+riskLegend, 8, quiet)
	g := &grid{sheet: s, columns: checkColumns()}
	g.head()
	for _, group := range r.Groups {
		for i, c := range group.Checks {
			cells := c.cells()
			if i == 0 {
				g.begin(group.Title, group.Condition, cells)
			}
			g.row(cells, c.Tone)
		}
	}
	if len(r.Sources) == 0 {
		return
	}
	s.y += 10
	s.room(30)
	s.set(words{"Sources of the limits", 8.5, "B", inkText}, 0)
	s.y += 1.5
	var rows []Row
	for _, source := range r.Sources {
		rows = append(rows, Row{"[" + strconv.Itoa(source.Number) + "]", source.Text})
	}
	s.rows(rows, 2, 7.2, 20)
}

// cells are the cells of a check's row.
func (c CheckRow) cells() []cell {
	title := c.Title
	if c.Control {
		title += " (control of the bench)"
	}
	accepted := ""
	if c.Accepted != "" {
		accepted = "accepted " + c.Accepted
	}
	return []cell{
		{text: strconv.Itoa(c.Number), tone: Plain},
		{text: title, small: c.Why, tone: Plain},
		{text: c.Value, small: c.Risk, tone: Plain},
		{text: c.Limits, small: accepted, tone: Plain},
		{text: c.Answer, bold: true, tone: c.Tone},
	}
}

func (r Report) printHidden(s *sheet) {
	s.heading("What was not observable", 30)
	if len(r.Hidden) == 0 {
		s.paragraph("", "Nothing of this scenario: every check could be put to this product.", 8.5, inkText)
	}
	for _, h := range r.Hidden {
		s.paragraph("•", h.Label+": "+h.Text, 8, inkText)
	}
	for _, l := range Limitations() {
		s.paragraph("•", l, 8, inkText)
	}
}

func (r Report) printFigures(s *sheet) error {
	if len(r.Figures) == 0 {
		return nil
	}
	const gap = 8.5 // so that five figures fill a page
	s.heading("Waveforms", figureHeight)
	for _, f := range r.Figures {
		s.room(figureHeight)
		if err := f.Draw(s.pdf, marginLeft, s.y, figureWidth, figureHeight); err != nil {
			return err
		}
		s.y += figureHeight + gap
	}
	return nil
}
