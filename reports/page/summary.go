package page

import (
	"fmt"
	"slices"

	"sinkproof/reports/record"
)

// Summary is the page over a set of units.
type Summary struct {
	Title  string
	Twin   bool
	Facts  []Row
	Units  []SummaryRow
	Pareto []ParetoRow
	Tally  []TallyRow
}

// SummaryRow is one unit.
type SummaryRow struct {
	Serial  string
	Truth   string // what the simulated unit was given; empty on hardware
	Verdict string
	Tone    Tone
	Bin     string
	// Failed are the titles of the checks that failed.
	Failed []string
	// HTML and PDF are the paths of its report, relative to the page.
	HTML, PDF string
}

// NewSummaryRow makes the row of a unit from its record.
func NewSummaryRow(run record.Run, truth, html, pdf string) SummaryRow {
	row := SummaryRow{Serial: run.Serial, Truth: truth, Bin: string(run.Bin), HTML: html, PDF: pdf}
	row.Verdict, row.Tone = verdictText(run.Verdict)
	for _, c := range run.Checks {
		if c.Answer == record.Failed {
			row.Failed = append(row.Failed, c.Title)
		}
	}
	return row
}

// ParetoRow counts the units that failed by one check.
type ParetoRow struct {
	Check string
	Units int
	// Share of the longest bar, in percent.
	Share int
}

// TallyRow is one figure at the head of the page.
type TallyRow struct {
	Figure string
	Label  string
	Tone   Tone
}

// Rank fills the Pareto of failed checks from the units, the most frequent
// first and ties in the order of first occurrence.
func (s *Summary) Rank() {
	index := map[string]int{}
	s.Pareto = nil
	for _, u := range s.Units {
		for _, c := range u.Failed {
			i, known := index[c]
			if !known {
				i = len(s.Pareto)
				index[c] = i
				s.Pareto = append(s.Pareto, ParetoRow{Check: c})
			}
			s.Pareto[i].Units++
		}
	}
	slices.SortStableFunc(s.Pareto, func(a, b ParetoRow) int { return b.Units - a.Units })
	for i := range s.Pareto {
		s.Pareto[i].Share = 100 * s.Pareto[i].Units / s.Pareto[0].Units
	}
}

// HTML returns the summary as one self-contained page.
func (s Summary) HTML() ([]byte, error) {
	out, err := execute("summary", summaryTemplate, struct {
		Summary
		Style    any
		Cautions []string
	}{s, css(), Cautions()})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.Title, err)
	}
	return out, nil
}
