package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"sinkproof/reports/page"
	"sinkproof/scenarios"
	"sinkproof/scenarios/takt"
)

// write lays the study out as a page and for printing, and writes the planned
// scenario.
func (f *taktFlags) write(p *papers, r taktStudy, name string) error {
	view := f.view(p, r)
	html, err := view.HTML()
	if err != nil {
		return err
	}
	pdf, err := view.PDF()
	if err != nil {
		return err
	}
	file, err := scenarios.Open(f.scenario)
	if err != nil {
		return fmt.Errorf("read the scenario again: %w", err)
	}
	scenario, err := plannedScenario(p, file.Bytes, r.Plan.Order)
	if err != nil {
		return err
	}
	return errors.Join(writeBelow(f.out, taktHTML, html), writeBelow(f.out, taktPDF, pdf), writeBelow(f.out, name, scenario))
}

func (f *taktFlags) view(p *papers, r taktStudy) page.Takt {
	titles := map[string]string{"": "Nest proved empty", takt.Isolated: "Isolated and proved so"}
	for _, x := range p.scenario.Rounds() {
		titles[x.Name] = x.Title
	}
	v := page.Takt{
		Title: p.scenario.Title + ": " + p.product.Title,
		Lead:  taktLead(r.Report), Tally: taktTally(r.Report), Findings: taktFindings(r.Report), Facts: f.facts(p, r.Report), Method: taktMethod(),
		Started: firstMorning(f.seed).Format(time.RFC3339),
	}
	if len(r.Differences) > 0 {
		v.Caution = "The planned order judged units differently: " + strings.Join(r.Differences, "; ") + ". Keep the order of the file."
	}
	runs := []map[takt.Cause]float64{r.File.Mean.Causes, r.Planned.Mean.Causes, byCause(r.Planned.Floor)}
	labels := []string{"Order of the file", "Planned, shared", "Floor of the plan"}
	for _, c := range takt.Causes() {
		row := page.TaktCause{Name: c.Words()}
		for _, run := range runs {
			row.Sums = append(row.Sums, ms(run[c]))
		}
		v.Causes = append(v.Causes, row)
	}
	for i, run := range runs {
		x := page.TaktRun{Label: labels[i]}
		sum := 0.0
		for _, c := range takt.Causes() {
			x.Parts = append(x.Parts, run[c])
			sum += run[c]
		}
		x.Text = inSeconds(sum)
		v.Runs = append(v.Runs, x)
	}
	planned := taktChart("A typical run, planned order and shared windows", r.Planned)
	file := taktChart("A typical run, order of the file", r.File)
	inside := taktChart("The same run, round by round", r.Planned)
	planned.Span = max(planned.Span, file.Span)
	file.Span = planned.Span
	inside.Aligned, inside.Span = true, 0
	for _, x := range r.Planned.Typical.Rounds {
		inside.Span = max(inside.Span, (x.To - x.From).Seconds())
	}
	v.Charts = []page.TaktChart{planned, inside, file}
	v.Nests = nestRows(r.Nests)
	v.Rounds, v.Floor = taktRows(r.Planned, titles), taktParts(r.Planned.Floor)
	return v
}

func taktLead(r takt.Report) string {
	saved := percentOf(r.SavedAgainstFile()) + " less"
	if words := chanceWords(r); words != "" {
		saved += ", which is " + words
	}
	return fmt.Sprintf("A good unit takes %s in the order of the file and %s in the planned one with shared windows, %s. Physics needs %s of it: the planned run takes %s more than that. %s",
		meanText(r.File.Mean), meanText(r.Planned.Mean), saved, inSeconds(r.Planned.FloorSeconds), percentOf(r.Planned.Over), fixedLead(r))
}

func fixedLead(r takt.Report) string {
	if !r.Conditional() {
		return "The scenario waits for no answer, so that fixed waits would cost nothing."
	}
	return "With fixed waits it would take " + inSeconds(r.FixedSeconds) + "."
}

// meanText is a mean with what it may be off by.
func meanText(m takt.Mean) string {
	if m.Rigs < 2 {
		return unbroken(inSeconds(m.Seconds))
	}
	return unbroken(inSeconds(m.Seconds) + " " + chanceOf(m))
}

// nearFloor is the goal: within a tenth of what physics needs.
const nearFloor = 0.1

// unbroken keeps a figure and its unit on one line.
func unbroken(text string) string { return strings.ReplaceAll(text, " ", "\u00a0") }

func fixedTally(r takt.Report) page.TallyRow {
	if !r.Conditional() {
		return page.TallyRow{Figure: "0", Label: "waits for an answer, so that none could be fixed", Tone: page.Plain}
	}
	return page.TallyRow{Figure: unbroken(percentOf(r.SavedAgainstFixed())), Label: "saved against fixed waits", Tone: page.Plain}
}

func taktTally(r takt.Report) []page.TallyRow {
	tone := page.Good
	if r.Planned.Over > nearFloor {
		tone = page.Open
	}
	verdicts := page.TallyRow{Figure: fmt.Sprint(len(r.Differences)), Label: fmt.Sprintf("of %d units judged differently in the planned order", r.Units), Tone: page.Good}
	if len(r.Differences) > 0 {
		verdicts.Tone = page.Bad
	}
	return []page.TallyRow{
		{Figure: unbroken(inSeconds(r.Planned.Mean.Seconds)), Label: "planned, mean of " + counted(r.Planned.Mean.Units, "good unit"), Tone: page.Plain},
		{Figure: unbroken(percentOf(r.Planned.Over)), Label: "above the floor; the goal is 10 %", Tone: tone},
		{Figure: unbroken(percentOf(r.SavedAgainstFile())), Label: "saved against the file's order and windows", Tone: page.Plain},
		fixedTally(r),
		{Figure: fmt.Sprintf("%.0f", r.Planned.Mean.Operations), Label: fmt.Sprintf("relay operations a run; %.0f in the order of the file", r.File.Mean.Operations), Tone: page.Plain},
		verdicts,
	}
}

func taktFindings(r takt.Report) []page.Row {
	order := strings.TrimPrefix(orderWords(r), "order: ")
	rows := []page.Row{
		{Label: "Order", Text: order},
		{Label: "Planned order", Text: strings.Join(r.Plan.Order, " · ")},
		{Label: "Throughput", Text: fmt.Sprintf("%.0f units an hour without the hands, %.0f in the order of the file", 3600/r.Planned.Mean.Seconds, 3600/r.File.Mean.Seconds)},
		{Label: "Relays", Text: fmt.Sprintf("%.0f operations a run; %s moves most, %.0f times", r.Planned.Mean.Operations, r.Planned.Mean.Busiest, r.Planned.Mean.BusiestOperations)},
	}
	for _, l := range r.Planned.Mean.Loads {
		rows = append(rows, page.Row{Label: "Bus " + l.Bus, Text: fmt.Sprintf("busy %s of the time, %.0f transfers a run, most of them while something else is waited for", percentOf(l.Share), l.Transfers)})
	}
	rows = append(rows, page.Row{Label: "Fails", Text: strings.TrimPrefix(briefWords(r), "fails: ")})
	return append(rows, page.Row{Label: "Verdicts", Text: strings.TrimPrefix(verdictWords(r), "verdicts: ")})
}

func (f *taktFlags) facts(p *papers, r takt.Report) []page.Row {
	rows := []page.Row{
		{Label: "Units", Text: fmt.Sprintf("%d, half of them good, six to a rig; seed %d", r.Units, f.seed)},
		{Label: "Mix", Text: fmt.Sprintf("%.3g %% of the units have a fault, all faults equally likely; a relay operation is worth %s", 100*f.faultShare, ms(f.operation.Seconds()))},
	}
	for _, x := range p.files {
		rows = append(rows, page.Row{Label: strings.ToUpper(x.Role[:1]) + x.Role[1:] + " file", Text: fmt.Sprintf("%s %s, SHA-256 %s", x.Name, x.Version, x.SHA256)})
	}
	return rows
}

func taktMethod() []string {
	return []string{
		"Every stretch of a run has one cause: the watch stands between the bench and its buses and clock, and between the run and the bench.",
		"The floor has nothing but what wiring, product and scenario demand; supplies take their typical times, the middle of what the standard allows. A single run, or what goes to a single cause or round, may be quicker than that: a converter's clock is 10\u00a0% fast, a supply answers early. The mean of whole runs is not. ± is the 95\u00a0% interval of the mean, over rigs (Student's t).",
		"Fixed waits last as long as the scenario allows at most; contacts and windows take what they take here.",
		"The order is the cheapest of all that are allowed, by dynamic programming over the sets of rounds (Held and Karp, 1962), or by a local search where there are too many.",
		"A round stays behind what it requires, trusts, reads from or blames; what decides on quarantine stays behind what is harmless; a control that watches a supply let go stays directly behind a round that left it on.",
	}
}

func taktChart(title string, r takt.Run) page.TaktChart {
	c := page.TaktChart{Title: title, Span: r.Typical.Total.Seconds()}
	place := map[takt.Cause]int{}
	for i, x := range takt.Causes() {
		place[x] = i
	}
	least := byRound(r.Floor)
	floor := map[string][]page.TaktBar{}
	for _, x := range r.Floor {
		from := 0.0
		if n := len(floor[x.Round]); n > 0 {
			from = floor[x.Round][n-1].To
		}
		floor[x.Round] = append(floor[x.Round], page.TaktBar{From: from, To: from + x.Seconds, Cause: place[x.Cause]})
	}
	for _, x := range r.Typical.Rounds {
		row := page.TaktRow{Label: roundLabel(x.Name), Floor: floor[x.Name],
			Text: fmt.Sprintf("%.0f / %.0f ms", 1e3*(x.To-x.From).Seconds(), 1e3*least[x.Name])}
		for _, s := range r.Typical.Segments {
			if s.Round == x.Name && s.From >= x.From && s.To <= x.To {
				row.Bars = append(row.Bars, page.TaktBar{From: s.From.Seconds(), To: s.To.Seconds(), Cause: place[s.Cause]})
			}
		}
		c.Rows = append(c.Rows, row)
	}
	return c
}

// farBeyond is where a round is marked: a quarter and 20 ms beyond its floor.
const (
	farBeyond   = 0.25
	farBeyondMS = 0.020
)

func taktRows(r takt.Run, titles map[string]string) []page.TaktRound {
	floor, operations := byRound(r.Floor), roundOperations(r.Typical)
	causes := map[string]map[takt.Cause]float64{}
	for _, s := range r.Typical.Segments {
		if causes[s.Round] == nil {
			causes[s.Round] = map[takt.Cause]float64{}
		}
		causes[s.Round][s.Cause] += s.Seconds()
	}
	var out []page.TaktRound
	for _, name := range taktRounds(r) {
		took, least := r.Mean.Rounds[name], floor[name]
		row := page.TaktRound{
			Name: name, Title: titles[name], Took: ms(took), Floor: ms(least), Over: ms(took - least),
			Operations: fmt.Sprint(operations[name]), Largest: largestCause(causes[name]), Tone: page.Plain,
		}
		if took-least > farBeyond*least && took-least > farBeyondMS {
			row.Tone = page.Open
		}
		out = append(out, row)
	}
	return out
}

// largestCause names what took most of a round.
func largestCause(sum map[takt.Cause]float64) string {
	best, most := takt.Cause(""), 0.0
	for _, c := range takt.Causes() {
		if sum[c] > most {
			best, most = c, sum[c]
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("%s, %s", best.Words(), ms(most))
}

// taktParts puts equal parts of the floor together.
func taktParts(list []takt.Component) []page.TaktPart {
	type key struct {
		cause takt.Cause
		how   string
		each  float64
	}
	counts := map[key]int{}
	var order []key
	for _, c := range list {
		if c.Seconds <= 0 {
			continue
		}
		k := key{c.Cause, c.How, c.Seconds}
		if counts[k]++; counts[k] == 1 {
			order = append(order, k)
		}
	}
	var out []page.TaktPart
	for _, cause := range takt.Causes() {
		for _, k := range order {
			if k.cause == cause {
				out = append(out, page.TaktPart{Cause: k.cause.Words(), How: k.how, Count: fmt.Sprint(counts[k]), Each: ms(k.each), Sum: ms(k.each * float64(counts[k]))})
			}
		}
	}
	return out
}
