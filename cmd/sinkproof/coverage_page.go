package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"sinkproof/bench/quantity"
	"sinkproof/reports/page"
	"sinkproof/reports/record"
	"sinkproof/scenarios/coverage"
	"sinkproof/scenarios/population"
)

// The files of a coverage study.
const (
	coverageHTML = "coverage.html"
	coveragePDF  = "coverage.pdf"
)

// write lays the study out as a page and for printing.
func (f *coverageFlags) write(p *papers, r coverage.Result) error {
	view := coverageView(p, r)
	html, err := view.HTML()
	if err != nil {
		return err
	}
	pdf, err := view.PDF()
	if err != nil {
		return err
	}
	return errors.Join(writeBelow(f.out, coverageHTML, html), writeBelow(f.out, coveragePDF, pdf))
}

func coverageView(p *papers, r coverage.Result) page.Coverage {
	v := page.Coverage{
		Title: p.scenario.Title + ": " + p.product.Title,
		Lead:  coverageLead(r), Tally: coverageTally(r), Facts: coverageFacts(p, r),
		Findings: coverageFindings(r), Hidden: coverageHidden(r), Method: coverageMethod(r),
		Started: firstMorning(r.Seed).Format(time.RFC3339),
	}
	if r.Units < r.Planned {
		v.Caution = fmt.Sprintf("It was interrupted after %d of %d units. Every figure holds for those; the intervals are wider.", r.Units, r.Planned)
	}
	for _, c := range r.Classes {
		v.Rates = append(v.Rates, rateRow(c))
	}
	v.Heat = heatOf(r)
	v.Curves = coverageCurves(r)
	for _, c := range r.Checks {
		if l, ok := limitRow(c); ok {
			v.Limits = append(v.Limits, l)
		}
		if c.Kind == coverage.KindCheck || c.Caught+c.Good > 0 {
			v.Checks = append(v.Checks, checkRow(c, r))
		}
	}
	for _, m := range r.Characteristics {
		v.Characteristics = append(v.Characteristics, traitRow(m))
	}
	return v
}

// coverageLead says in a few sentences what was found.
func coverageLead(r coverage.Result) string {
	text := fmt.Sprintf("%d units were simulated on %s, each drawn anew. Of %d good units %s rejected, of %d with a fault %s. ",
		r.Units, rigsText(r.Rigs), r.FalseRejects.Of, were(r.FalseRejects.Count), r.Escapes.Of, escaped(r.Escapes.Count))
	text += fmt.Sprintf("With 95\u00a0%% confidence at most %s of the good ones would be rejected and at most %s of those with a fault would pass.",
		percent(r.FalseRejects.High), percent(r.Escapes.High))
	if r.NoVerdict.Count > 0 {
		text += fmt.Sprintf(" Without a verdict: %d.", r.NoVerdict.Count)
	}
	return text
}

func were(n int) string {
	switch n {
	case 0:
		return "none was"
	case 1:
		return "1 was"
	}
	return fmt.Sprintf("%d were", n)
}

func escaped(n int) string {
	if n == 0 {
		return "none passed"
	}
	return fmt.Sprintf("%d passed", n)
}

func coverageTally(r coverage.Result) []page.TallyRow {
	tone := func(n int) page.Tone {
		if n > 0 {
			return page.Bad
		}
		return page.Good
	}
	return []page.TallyRow{
		{Figure: fmt.Sprint(r.FalseRejects.Count), Label: fmt.Sprintf("of %d good units rejected; at most %s", r.FalseRejects.Of, percent(r.FalseRejects.High)), Tone: tone(r.FalseRejects.Count)},
		{Figure: fmt.Sprint(r.Escapes.Count), Label: fmt.Sprintf("of %d faulty units escaped; at most %s", r.Escapes.Of, percent(r.Escapes.High)), Tone: tone(r.Escapes.Count)},
		{Figure: fmt.Sprint(r.NoVerdict.Count), Label: "without a verdict", Tone: map[bool]page.Tone{true: page.Open, false: page.Plain}[r.NoVerdict.Count > 0]},
		{Figure: fmt.Sprint(len(r.Missed)), Label: missedLabel(r), Tone: tone(len(r.Missed))},
		{Figure: fmt.Sprint(len(r.Redundant)), Label: "redundant checks (never caught alone)", Tone: page.Plain},
	}
}

func coverageFacts(p *papers, r coverage.Result) []page.Row {
	rows := []page.Row{
		{Label: "Units", Text: fmt.Sprintf("%d in %d classes, a quarter of them good, on %s; seed %d", r.Units, len(r.Classes), rigsText(r.Rigs), r.Seed)},
		{Label: "Decision", Text: decisionWords(r.Decision)},
	}
	for _, f := range p.files {
		rows = append(rows, page.Row{Label: strings.ToUpper(f.Role[:1]) + f.Role[1:] + " file", Text: fmt.Sprintf("%s %s, SHA-256 %s", f.Name, f.Version, f.SHA256)})
	}
	var spreads []string
	for _, s := range p.product.Spreads {
		spreads = append(spreads, fmt.Sprintf("%s %s", s.Parameter, s.Law))
	}
	for _, t := range p.product.Togethers {
		spreads = append(spreads, fmt.Sprintf("%s with %s correlated by %g", t.First, t.Second, t.Correlation))
	}
	return append(rows, page.Row{Label: "Spread", Text: strings.Join(append(spreads, "every other figure uniform over its tolerance"), "; ")})
}

func decisionWords(d record.Decision) string {
	if d.Rule == record.Guarded {
		return fmt.Sprintf("guarded: limits drawn in by %g U (JCGM 106:2012, 8.3)", d.Guard)
	}
	return "simple acceptance (JCGM 106:2012, 8.2)"
}

func rateRow(c coverage.Class) page.CoverageRate {
	row := page.CoverageRate{
		Label: rowLabel(c), Name: c.Name, Share: c.Wrong.Share, Low: c.Wrong.Low, High: c.Wrong.High, Tone: page.Plain,
		Text: fmt.Sprintf("%d of %d, %s", c.Wrong.Count, c.Wrong.Of, between(c.Wrong)),
	}
	if c.Wrong.Count > 0 {
		row.Tone = page.Bad
	}
	if c.Units == 0 {
		row.Text = "no unit yet"
	}
	if c.None.Count > 0 {
		row.Text += fmt.Sprintf("; none %d", c.None.Count)
	}
	if c.Name != population.Good && c.Units > 0 {
		row.CaughtBy = caughtBy(c.By)
	}
	return row
}

// rowLabel names a class in a figure: by its title, or where it has two faults
// by their shorter names.
func rowLabel(c coverage.Class) string {
	if len(c.Faults) > 1 {
		return strings.Join(c.Faults, " + ")
	}
	return c.Title
}

// between is an interval in words.
func between(r coverage.Rate) string {
	if r.Low == 0 {
		return "≤ " + percent(r.High)
	}
	return fmt.Sprintf("%s to %s", strings.TrimSuffix(percent(r.Low), "\u00a0%"), percent(r.High))
}

// caughtBy says how many checks catch a unit, from the fewest to the most
// that were seen.
func caughtBy(by []int) string {
	least, most := -1, 0
	for n, units := range by {
		if units > 0 {
			most = n
			if least < 0 {
				least = n
			}
		}
	}
	switch {
	case most == 0:
		return "no check"
	case least == most && most == 1:
		return "1 check"
	case least == most:
		return fmt.Sprintf("%d checks", most)
	}
	return fmt.Sprintf("%d to %d checks", least, most)
}

// heatOf lays out what caught what: a column for each check that caught a unit
// or was there to.
func heatOf(r coverage.Result) page.CoverageHeat {
	var h page.CoverageHeat
	for _, c := range r.Checks {
		if c.Kind == coverage.KindCheck || c.Caught+c.Good > 0 {
			h.Columns = append(h.Columns, c.Name)
		}
	}
	for _, c := range r.Classes {
		row := page.CoverageHeatRow{Label: rowLabel(c), Cells: make([]page.CoverageCell, len(h.Columns))}
		for _, x := range c.Caught {
			if at := slices.Index(h.Columns, x.Check); at >= 0 {
				row.Cells[at] = page.CoverageCell{Share: float64(x.Units) / float64(c.Units), Alone: x.Alone > 0}
			}
		}
		h.Rows = append(h.Rows, row)
	}
	return h
}

func checkRow(c coverage.Check, r coverage.Result) page.CoverageCheck {
	row := page.CoverageCheck{
		Name: c.Name, Title: c.Title, Rounds: fmt.Sprint(c.Rounds), Caught: fmt.Sprint(c.Caught), Alone: fmt.Sprint(c.Alone), Good: fmt.Sprint(c.Good),
		Standing: "needed", Tone: page.Plain,
	}
	var only []string
	for _, x := range c.Only {
		only = append(only, fmt.Sprintf("%s (%d)", x.Check, x.Alone))
	}
	if len(only) > 0 {
		row.Only = "without it would escape: " + strings.Join(only, ", ")
	}
	switch {
	case c.Kind == coverage.KindControl:
		row.Standing = "control of the bench"
	case c.Kind == coverage.KindInterlock:
		row.Standing = "interlock"
	case slices.Contains(r.Dispensable, c.Name):
		row.Standing, row.Tone = "redundant; could go with the others", page.Open
	case slices.Contains(r.Redundant, c.Name):
		row.Standing, row.Tone = "redundant, while the others stay", page.Open
	}
	return row
}

func traitRow(m coverage.Measured) page.CoverageTrait {
	row := page.CoverageTrait{
		Title: m.Title, Check: m.Check, Limits: limitsWords(m), Ratio: fmt.Sprintf("%.2f", m.Ratio),
		Good: inUnit(m.Good.Mean, m.Unit, 4) + " ± " + inUnit(m.Good.SD, m.Unit, 2), Uncertainty: inUnit(2*m.U, m.Unit, 2),
		Consumer: fmt.Sprintf("%d of %d, %s", m.Consumer.Count, m.Consumer.Of, between(m.Consumer)),
		Producer: fmt.Sprintf("%d of %d, %s", m.Producer.Count, m.Producer.Of, between(m.Producer)),
		Computed: "not computed",
	}
	if m.Computed != nil {
		row.Computed = percent(m.Computed.Consumer) + " and " + percent(m.Computed.Producer)
	}
	return row
}

func limitsWords(m coverage.Measured) string {
	switch {
	case m.Low != nil && m.High != nil:
		return inUnit(*m.Low, m.Unit, 3) + " to " + inUnit(*m.High, m.Unit, 3)
	case m.Low != nil:
		return "≥ " + inUnit(*m.Low, m.Unit, 3)
	case m.High != nil:
		return "≤ " + inUnit(*m.High, m.Unit, 3)
	}
	return ""
}

// inUnit prints a value with the prefix that suits it.
func inUnit(v float64, unit string, digits int) string {
	dim, err := record.Dimension(unit)
	if err != nil {
		return fmt.Sprintf("%.*g\u00a0%s", digits, v, unit)
	}
	return strings.ReplaceAll(quantity.Quantity{SI: v, Dim: dim}.Text(digits), " ", "\u00a0")
}
