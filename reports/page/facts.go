package page

// The measures of facts.
const (
	factSize  = 8.5
	factLabel = 82.0
)

// facts sets labels and texts, short ones in two columns where asked.
func (s *sheet) facts(rows []Row, columns int) {
	s.rows(rows, columns, factSize, factLabel)
}

// rows sets labels and texts in columns, row by row.
func (s *sheet) rows(rows []Row, columns int, size, label float64) {
	for len(rows) > 0 {
		n := min(columns, len(rows))
		s.beside(rows[:n], bodyWidth/float64(columns), size, label)
		rows = rows[n:]
	}
}

// beside sets facts beside each other. One that is longer than a page goes on
// at the next one.
func (s *sheet) beside(rows []Row, width, size, label float64) {
	s.font(size, "")
	lead := size * 1.34
	var texts, labels [][]string
	most := 0
	for _, r := range rows {
		l, t := s.wrap(r.Label, label-6), s.wrap(r.Text, width-label-10)
		labels, texts = append(labels, l), append(texts, t)
		most = max(most, len(l), len(t))
	}
	s.room(float64(min(most, 6)) * lead)
	for line := range most {
		s.room(lead)
		s.font(size, "")
		for i := range rows {
			x := marginLeft + float64(i)*width
			if line < len(labels[i]) {
				s.colour(quiet)
				s.pdf.Text(x, s.y+size, labels[i][line])
			}
			if line < len(texts[i]) {
				s.colour(inkText)
				s.pdf.Text(x+label, s.y+size, texts[i][line])
			}
		}
		s.y += lead
	}
	s.y++
}
