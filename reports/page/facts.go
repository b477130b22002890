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
	for done := 0; done < most; {
		s.room(lead)
		n := min(most-done, max(1, int((sheetHeight-marginBottom-s.y)/lead)))
		s.font(size, "")
		for i := range rows {
			// One fact after the other, so that whoever hears the page or
			// copies from it gets each in one piece.
			x := marginLeft + float64(i)*width
			s.colour(quiet)
			s.stack(labels[i], done, n, x, size, lead)
			s.colour(inkText)
			s.stack(texts[i], done, n, x+label, size, lead)
		}
		s.y += float64(n) * lead
		done += n
	}
	s.y++
}

// stack sets n lines from one on, below each other.
func (s *sheet) stack(lines []string, from, n int, x, size, lead float64) {
	for i := from; i < min(len(lines), from+n); i++ {
		s.pdf.Text(x, s.y+size+float64(i-from)*lead, lines[i])
	}
}
