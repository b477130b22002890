package main

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
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
		{Figure: fmt.Sprint(len(r.Missed)), Label: "faults that no check caught", Tone: tone(len(r.Missed))},
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

// coverageCurves draws what other guard factors decide, and the limits with
// the least room.
func coverageCurves(r coverage.Result) []plot.Figure {
	var rejects, escapes, open []plot.Point
	for _, g := range r.Guard {
		rejects = append(rejects, plot.Point{X: g.Factor, Y: 100 * g.FalseRejects.Share})
		escapes = append(escapes, plot.Point{X: g.Factor, Y: 100 * g.Escapes.Share})
		open = append(open, plot.Point{X: g.Factor, Y: 100 * g.Open.Share})
	}
	factor := plot.Axis{Name: "guard factor r"}
	here := []plot.Mark{{Label: "this scenario", X: r.Decision.Guard}}
	curve := func(title, y string, points []plot.Point, of coverage.Rate) plot.Figure {
		return plot.Figure{
			Title: title, X: factor, Y: plot.Axis{Name: y}, Curve: points, Marks: here,
			Levels: []plot.Level{{Label: "95 % bound", Y: 100 * of.High}},
		}
	}
	out := []plot.Figure{
		curve("Good units rejected", "% of the good units", rejects, r.FalseRejects),
		curve("Faulty units that pass", "% of the faulty units", escapes, r.Escapes),
	}
	if r.Guard[len(r.Guard)-1].Open.Count > 0 {
		out = append(out, curve("Units without a verdict", "% of all units", open, r.NoVerdict))
	}
	return append(out, limitCurves(r)...)
}

// limitCurves draws the wrong decisions over the move of a limit, for the
// checks whose limits have the least room.
func limitCurves(r coverage.Result) []plot.Figure {
	type room struct {
		check coverage.Check
		width float64
	}
	var rooms []room
	for _, c := range r.Checks {
		if l, ok := limitRow(c); ok && !(l.InOpen && l.OutOpen) {
			rooms = append(rooms, room{c, min(-l.In, l.Out)})
		}
	}
	slices.SortStableFunc(rooms, func(a, b room) int { return cmp.Compare(a.width, b.width) })
	var out []plot.Figure
	for _, x := range rooms[:min(4, len(rooms))] {
		f := plot.Figure{
			Title: x.check.Name, Note: x.check.Title, X: plot.Axis{Name: "limits moved outwards in %", Floating: true}, Y: plot.Axis{Name: "% judged wrongly"},
			Marks: []plot.Mark{{Label: "as written", X: 0}},
		}
		for _, p := range x.check.Limits {
			if math.Abs(p.Move) <= 0.25 {
				f.Curve = append(f.Curve, plot.Point{X: 100 * p.Move, Y: 100 * float64(p.FalseRejects+p.Escapes) / float64(max(1, r.Units))})
			}
		}
		out = append(out, f)
	}
	return out
}

// limitRow finds how far the limits of a check could move. A check that has
// none, or that no unit came near, has no row.
func limitRow(c coverage.Check) (page.CoverageLimit, bool) {
	now := slices.IndexFunc(c.Limits, func(p coverage.LimitPoint) bool { return p.Move == 0 })
	if now < 0 {
		return page.CoverageLimit{}, false
	}
	l := page.CoverageLimit{Label: c.Name, InOpen: true, OutOpen: true, In: c.Limits[0].Move, Out: c.Limits[len(c.Limits)-1].Move}
	for i := now - 1; i >= 0; i-- {
		if c.Limits[i].FalseRejects > c.Limits[now].FalseRejects {
			l.In, l.InOpen = c.Limits[i].Move, false
			break
		}
	}
	for _, p := range c.Limits[now+1:] {
		if p.Escapes > c.Limits[now].Escapes {
			l.Out, l.OutOpen = p.Move, false
			break
		}
	}
	l.InText, l.OutText = "nothing rejected", "nothing escapes"
	if !l.InOpen {
		l.InText = "rejects at " + page.Signed(l.In)
	}
	if !l.OutOpen {
		l.OutText = "escapes at " + page.Signed(l.Out)
	}
	return l, !(l.InOpen && l.OutOpen)
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

func coverageFindings(r coverage.Result) []page.Row {
	var rows []page.Row
	add := func(label, text string) {
		if text != "" {
			rows = append(rows, page.Row{Label: label, Text: text})
		}
	}
	none := func(list []string, otherwise string) string {
		if len(list) == 0 {
			return otherwise
		}
		return strings.Join(list, ", ")
	}
	add("Caught by no check", none(missedWords(r), "none of the faults: each is caught by at least one check"))
	for _, c := range r.Classes {
		// Of what is never caught, any unit is an example.
		if len(c.Examples) > 0 && !slices.Contains(r.Missed, c.Name) {
			add("To look at: "+rowLabel(c), examplesText(c.Examples))
		}
	}
	add("Redundant", none(r.Redundant, "no check: each is the only one to catch some unit"))
	if len(r.Dispensable) > 0 {
		add("Could all go", strings.Join(r.Dispensable, ", ")+". Everything that was caught would still be caught, by fewer checks; what these tell about the cause would be lost.")
	}
	if len(r.RedundantRounds) > 0 {
		add("Redundant rounds", "each of these alone: "+strings.Join(r.RedundantRounds, ", "))
	}
	add("In a production", fmt.Sprintf("with %.3g\u00a0%% of faulty units, all faults equally likely: consumer's risk at most %s, producer's risk at most %s (JCGM 106:2012, 9.5)",
		100*r.Production.FaultShare, percent(r.Production.Consumer.High), percent(r.Production.Producer.High)))
	return rows
}

// missedWords names what no check caught, with the conditions that would show
// it.
func missedWords(r coverage.Result) []string {
	var out []string
	for _, name := range r.Missed {
		text := name
		for _, d := range twin.Faults() {
			if d.Name == name {
				text = fmt.Sprintf("%s (what would show it: %s)", d.Title, d.Revealed)
			}
		}
		out = append(out, text)
	}
	return out
}

// examplesText names units by which a class can be looked into.
func examplesText(list []coverage.Example) string {
	var parts []string
	for _, e := range list {
		text := fmt.Sprintf("%s on the rig with seed %d: %s", e.Serial, e.Seed, verdictWord(e.Verdict))
		if e.Why != "" {
			text += ", " + e.Why
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, "; ")
}

// coverageHidden gathers what cannot be seen by its reason.
func coverageHidden(r coverage.Result) []page.Row {
	var rows []page.Row
	add := func(why, what string) {
		at := slices.IndexFunc(rows, func(x page.Row) bool { return x.Label == why })
		switch {
		case at < 0:
			rows = append(rows, page.Row{Label: why, Text: what})
		case !slices.Contains(strings.Split(rows[at].Text, ", "), what):
			rows[at].Text += ", " + what
		}
	}
	for _, n := range r.NotObservable {
		name, _, _ := strings.Cut(n.Check, "[")
		add(n.Why, name)
	}
	for _, a := range r.Absent {
		add("no "+a.Part, "the fault "+a.Fault)
	}
	return rows
}

func coverageMethod(r coverage.Result) []string {
	return []string{
		"Each unit is drawn within the tolerances of the product file, each rig within those of the wiring file; a fault's severity lies between barely beyond what is allowed and grossly bad.",
		"Intervals are exact (Clopper and Pearson), two-sided, 95\u00a0%. None of 375 does not mean none: it means less than 1 in 100.",
		"A check is redundant when no simulated unit was caught by it alone. Only what was simulated speaks: a fault that is not in the catalogue may need it, and so may the person who reworks the unit.",
		fmt.Sprintf("The risks in a production assume that %.3g\u00a0%% of the units have a fault and that all faults are equally likely; --fault-share sets it.", 100*r.Production.FaultShare),
		"Moving a limit means moving both limits of all rounds of a check by a share of their values. A unit on which other checks were not asked stays rejected.",
	}
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
		return fmt.Sprintf("%.*g %s", digits, v, unit)
	}
	return quantity.Quantity{SI: v, Dim: dim}.Text(digits)
}
