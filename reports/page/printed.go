package page

import "strconv"

// PDF returns the report for printing and for the archive.
func (r Report) PDF() ([]byte, error) {
	s, err := newSheet(r.Title+", "+r.Serial, r.Title+"  ·  serial "+r.Serial,
		"record "+short(r.Hash)+"  ·  made by sinkproof from the signed record", r.Started)
	if err != nil {
		return nil, err
	}
	if err := r.opening(s); err != nil {
		return nil, err
	}
	r.printRework(s)
	s.heading("Identity")
	s.facts(r.Identity)
	r.printChecks(s)
	r.printHidden(s)
	if len(r.Notes) > 0 {
		s.heading("What else happened")
		s.facts(r.Notes)
	}
	if err := r.printFigures(s); err != nil {
		return nil, err
	}
	s.heading("Evidence")
	s.facts(r.Evidence)
	s.y += 4
	s.paragraph("", "The ledger proves that this record was not altered: sinkproof ledger verify --key KEY --head HEAD, with the bench's public key and the chain head above. Without the head, a cut tail of the chain cannot be seen.", 8.5, inkText)
	s.heading("Cautions")
	for _, c := range Cautions() {
		s.paragraph("•", c, 8.5, inkText)
	}
	return s.bytes()
}

// opening sets the title, the DataMatrix and the verdict.
func (r Report) opening(s *sheet) error {
	const codeSide = 78.0
	if err := s.code(r.Code, sheetWidth-marginRight-codeSide, s.y, codeSide); err != nil {
		return err
	}
	s.font(10, "")
	s.colour(quiet)
	s.pdf.Text(marginLeft, s.y+12, r.Title)
	s.font(20, "B")
	s.colour(inkText)
	for i, l := range s.wrap(r.Serial, bodyWidth-codeSide-20) {
		s.pdf.Text(marginLeft, s.y+38+float64(i)*22, l)
	}
	s.y += codeSide + 12
	if r.Twin {
		s.box(open, "Simulated bench. This report was made on the twin. It is no evidence about a unit that exists.")
	}
	r.verdict(s)
	return nil
}

func (r Report) verdict(s *sheet) {
	s.font(9.5, "")
	reason := s.wrap(r.Reason, bodyWidth-40)
	s.font(11, "")
	bin := s.wrap(r.Bin, bodyWidth-40)
	height := 44 + float64(len(bin))*15 + float64(len(reason))*13
	s.pdf.SetFillColor(wash.rgb())
	s.pdf.Rect(marginLeft, s.y, bodyWidth, height, "F")
	s.pdf.SetFillColor(r.Tone.tint().rgb())
	s.pdf.Rect(marginLeft, s.y, 8, height, "F")
	y := s.y + 30
	s.font(26, "B")
	s.colour(r.Tone.tint())
	s.pdf.Text(marginLeft+22, y, r.Verdict)
	s.colour(inkText)
	s.font(11, "")
	for _, l := range bin {
		y += 15
		s.pdf.Text(marginLeft+22, y+3, l)
	}
	s.font(9.5, "")
	for _, l := range reason {
		y += 13
		s.pdf.Text(marginLeft+22, y+3, l)
	}
	s.y += height + 2
}

// box sets a text in a dashed frame.
func (s *sheet) box(t tint, text string) {
	s.font(9, "B")
	lines := s.wrap(text, bodyWidth-20)
	height := float64(len(lines))*12.5 + 10
	s.pdf.SetDrawColor(t.rgb())
	s.pdf.SetLineWidth(1)
	s.pdf.SetDashPattern([]float64{4, 3}, 0)
	s.pdf.Rect(marginLeft, s.y, bodyWidth, height, "D")
	s.pdf.SetDashPattern([]float64{}, 0)
	s.colour(inkText)
	for i, l := range lines {
		s.pdf.Text(marginLeft+10, s.y+14+float64(i)*12.5, l)
	}
	s.y += height + 10
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
	s.heading("What to rework")
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
		s.paragraph(strconv.Itoa(i+1)+".", text, 9.5, inkText)
	}
}

func (r Report) printChecks(s *sheet) {
	s.heading("Checks")
	s.paragraph("", r.Counts+". Values with expanded uncertainty, k = 2.", 8.5, quiet)
	columns := checkColumns()
	s.tableHead(columns)
	for _, c := range r.Checks {
		title := c.Title
		if c.Control {
			title += " (control of the bench)"
		}
		source := c.Source
		if c.Acceptance != "" {
			source = "accepted " + c.Acceptance + "\n" + source
		}
		s.tableRow(columns, []cell{
			{text: strconv.Itoa(c.Number), tone: Plain},
			{text: title, small: c.Why, tone: Plain},
			{text: c.Condition, tone: Plain},
			{text: c.Value, tone: Plain},
			{text: c.Limits, small: source, tone: Plain},
			{text: c.Answer, bold: true, tone: c.Tone},
		}, c.Tone)
	}
}

func (r Report) printHidden(s *sheet) {
	s.heading("What was not observable")
	if len(r.Hidden) == 0 {
		s.paragraph("", "Nothing of this scenario: every check could be put to this product.", 8.5, inkText)
	}
	for _, h := range r.Hidden {
		s.paragraph("•", h.Label+": "+h.Text, 8.5, inkText)
	}
	for _, l := range Limitations() {
		s.paragraph("•", l, 8.5, inkText)
	}
}

func (r Report) printFigures(s *sheet) error {
	if len(r.Figures) == 0 {
		return nil
	}
	s.heading("Waveforms")
	for _, f := range r.Figures {
		s.room(figureHeight + 10)
		if err := f.Draw(s.pdf, marginLeft, s.y, figureWidth, figureHeight); err != nil {
			return err
		}
		s.y += figureHeight + 10
	}
	return nil
}
