package page

import (
	"fmt"
	"html/template"
	"net/url"
	"reflect"
	"slices"
	"strings"

	"sinkproof/reports/page/plot"
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
	// Failed are the titles of the checks that failed of themselves, or for
	// a unit without a verdict the reason.
	Failed []string
	// Followed counts the checks that failed or could not be answered as a
	// consequence.
	Followed int
	// HTML and PDF are the paths of its report, relative to the page, with
	// slashes and not yet escaped.
	HTML, PDF string
}

// NewSummaryRow makes the row of a unit from its record.
func NewSummaryRow(run record.Run, truth, html, pdf string) SummaryRow {
	row := SummaryRow{Serial: run.Serial, Truth: truth, Bin: string(run.Bin), HTML: html, PDF: pdf}
	row.Verdict, row.Tone = verdictText(run.Verdict)
	trouble := newTable(run).trouble()
	for _, t := range trouble {
		if t.Tone == Bad {
			row.Failed = append(row.Failed, t.Title)
		}
	}
	for _, c := range run.Checks {
		if c.Answer != record.Passed {
			row.Followed++
		}
	}
	row.Followed -= len(trouble)
	if run.Verdict == record.None {
		row.Failed = []string{run.Reason}
	}
	return row
}

// ParetoRow counts the units that failed by one check.
type ParetoRow struct {
	Check string
	Units int
	// Share of the longest bar, in percent.
	Share int
	// Text says how many of the failed units that is.
	Text string
}

// TallyRow is one figure at the head of the page.
type TallyRow struct {
	Figure string
	Label  string
	Tone   Tone
}

// Rank fills the Pareto of what failed from the units, the most frequent
// first and ties in the order of first occurrence. A unit counts once per
// check, and only by checks whose fail follows from no other.
func (s *Summary) Rank() {
	index := map[string]int{}
	s.Pareto = nil
	failed := 0
	for _, u := range s.Units {
		if u.Tone != Bad {
			continue
		}
		failed++
		for i, c := range u.Failed {
			if slices.Contains(u.Failed[:i], c) {
				continue
			}
			at, known := index[c]
			if !known {
				at = len(s.Pareto)
				index[c] = at
				s.Pareto = append(s.Pareto, ParetoRow{Check: c})
			}
			s.Pareto[at].Units++
		}
	}
	slices.SortStableFunc(s.Pareto, func(a, b ParetoRow) int { return b.Units - a.Units })
	for i := range s.Pareto {
		p := &s.Pareto[i]
		p.Share = 100 * p.Units / s.Pareto[0].Units
		p.Text = fmt.Sprintf("%d of %d failed", p.Units, failed)
	}
}

// HTML returns the summary as one self-contained page.
func (s Summary) HTML() ([]byte, error) {
	s = clone(reflect.ValueOf(s)).Interface().(Summary)
	links := make([]SummaryRow, len(s.Units))
	copy(links, s.Units)
	replace(reflect.ValueOf(&s).Elem(), plot.Visible)
	for i := range s.Units {
		s.Units[i].HTML, s.Units[i].PDF = link(links[i].HTML), link(links[i].PDF)
	}
	out, err := summaryPage.fill(struct {
		Summary
		Style    template.CSS
		Headline string
		Bins     string
		Cautions []string
	}{s, template.CSS(styleSheet), s.headline(), s.bins(), Cautions()})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.Title, err)
	}
	return out, nil
}

// link is a path as a relative reference (RFC 3986, 4.2): what has a meaning
// in references is escaped, and a colon in the first segment cannot be taken
// for a scheme.
func link(path string) string {
	if path == "" {
		return ""
	}
	return (&url.URL{Path: strings.TrimLeft(path, "/")}).String()
}

// headline says in one sentence how the set of units stands.
func (s Summary) headline() string {
	count := map[Tone]int{}
	for _, u := range s.Units {
		count[u.Tone]++
	}
	n := len(s.Units)
	if n == 0 {
		return "No unit was tested."
	}
	text := fmt.Sprintf("%d of %d units passed (%.0f\u00a0%%), %d failed, %d are without a verdict.",
		count[Good], n, 100*float64(count[Good])/float64(n), count[Bad], count[Open])
	if len(s.Pareto) > 0 {
		text += fmt.Sprintf(" The most frequent fail: %s.", s.Pareto[0].Check)
	}
	return text
}

// bins counts the units of each bin, in the order of care that they ask for.
func (s Summary) bins() string {
	var parts []string
	for _, b := range []record.Bin{record.BinQuarantine, record.BinRework, record.BinRetest, record.BinPass} {
		count := 0
		for _, u := range s.Units {
			if u.Bin == string(b) {
				count++
			}
		}
		if count > 0 {
			parts = append(parts, fmt.Sprintf("%s %d", b, count))
		}
	}
	return strings.Join(parts, ", ")
}
