package main

import (
	"fmt"
	"strings"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/qualification"
)

// view lays the decision out: the decision with its reasons and the pictures on
// one page, then the tables.
func (d qualified) view() page.Study {
	v := page.Study{
		Kind: "Supplier qualification", Title: d.candidate + " in place of " + d.incumbent + ": " + d.product,
		Lead: upperFirst(d.tested()) + ".", Verdict: strings.ToUpper(string(d.Decision)) + ": " + strings.Join(d.Reasons, "; "),
		Tone: d.tone(), Method: d.method(), Started: d.last + "T00:00:00Z",
	}
	if d.twin {
		v.Lead += " All of it is simulated: no evidence about boards that exist."
	}
	facts := []page.Row{}
	for _, r := range d.Changes {
		facts = append(facts, page.Row{Label: "would change it", Text: r})
	}
	facts = append(facts,
		page.Row{Label: "rig", Text: d.rigWords()},
		d.order.row(),
		page.Row{Label: "sample", Text: d.sizeWords()},
		page.Row{Label: "bad boards", Text: d.badWords()},
	)
	bad, rig := d.further()
	v.Sections = []page.StudySection{
		{Facts: facts, Figures: d.pictures()},
		{Title: "Bad boards", Figures: bad, Tables: d.badTables()},
		{Title: "Characteristics", Lead: "Means of good boards, candidate minus incumbent. p-values share one risk over all checks.", Tables: d.valueTables()},
		{Title: "The rig and the plan", Figures: rig, Tables: d.planTables()},
	}
	return v
}

func (d qualified) tone() page.Tone {
	switch d.Decision {
	case qualification.Qualified:
		return page.Good
	case qualification.NotQualified:
		return page.Bad
	}
	return page.Open
}

func upperFirst(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// tableOf makes a table; titles that begin with ">" stand over figures.
func tableOf(title, note string, columns ...string) page.StudyTable {
	t := page.StudyTable{Title: title, Note: note}
	for _, c := range columns {
		name, right := strings.CutPrefix(c, ">")
		t.Columns = append(t.Columns, page.StudyColumn{Title: name, Right: right})
	}
	return t
}

func toned(tone page.Tone, cells ...string) page.StudyRow {
	return page.StudyRow{Cells: cells, Tone: tone}
}

// claimTone marks a claim.
func claimTone(claims ...qualification.Claim) page.Tone {
	tone := page.Plain
	for _, c := range claims {
		switch {
		case c == qualification.Disproved:
			return page.Bad
		case c == qualification.Open:
			tone = page.Open
		}
	}
	return tone
}

func (d qualified) badTables() []page.StudyTable {
	b := d.Defects
	confidence := fmt.Sprintf("%g %%", 100*(1-d.Terms.Alpha))
	sides := tableOf("How many", "Intervals by Clopper and Pearson at "+confidence+".", "Side", "Supplier", ">Boards", ">Bad", ">Share", ">Low", ">High")
	for i, name := range []string{d.candidate, d.incumbent} {
		p := b.Sides[i]
		sides.Rows = append(sides.Rows, toned(page.Plain, qualification.Side(i).String(), name, fmt.Sprint(p.N), fmt.Sprint(p.Bad),
			share(p.Estimate), share(p.ClopperPearson.Low), share(p.ClopperPearson.High)))
	}
	claim := tableOf("The claim", "", "Question", "Answer")
	say := func(question, answer string) {
		claim.Rows = append(claim.Rows, toned(page.Plain, question, answer))
	}
	say("at most "+share(d.Terms.BadMargin)+" more than the incumbent", b.Claim.String())
	say("difference, at "+fmt.Sprintf("%g %%", 100*(1-2*d.Terms.Alpha))+" (Newcombe)", share(b.Difference)+", "+share(b.DifferenceRange.Low)+" to "+share(b.DifferenceRange.High))
	say("p-value of no more than the incumbent", figure(b.WorseP))
	say("power with these boards, if both sides were alike", share(b.Power))
	say(fmt.Sprintf("boards of each side for %.0f %% power", 100*d.Terms.Power), fmt.Sprint(b.Needed))
	if b.Differ > 0 {
		say("boards of each side to find the difference seen", fmt.Sprint(b.Differ))
	}
	tables := []page.StudyTable{sides, claim}
	if len(b.Kinds) > 0 {
		kinds := tableOf("Faults by kind", "What the diagnosis in the record puts first, else the first check that failed. The last column: boards among which one with such a fault is found with 95 %, where the larger share seen is the true one.",
			"Fault", ">Candidate", ">Incumbent", ">p", ">Boards to see one")
		for _, k := range b.Kinds {
			kinds.Rows = append(kinds.Rows, toned(page.Plain, k.Name, fmt.Sprint(k.Count[0]), fmt.Sprint(k.Count[1]), figure(k.P), fmt.Sprint(k.Enough)))
		}
		tables = append(tables, kinds)
	}
	return tables
}

func (d qualified) valueTables() []page.StudyTable {
	alike := tableOf("Equivalence", "Two one-sided tests. Where lots differ by more than their boards explain, the means of lots are compared and lots are counted.",
		"Check", ">Difference", ">Low", ">High", ">Margin", ">p", "Alike", ">Power", ">Needed", "of each")
	drifts := tableOf("Drift", "From the first board to the last in the order of serials, which follow production; of the incumbent also in the order of testing, which shows what the rig did. p against no drift, over all checks.",
		"Check", ">Candidate", ">Low", ">High", ">p", "Steady", ">Incumbent", ">p", ">In testing")
	able := tableOf("Capability", fmt.Sprintf("Ppk of good boards with its lower bound at %g %%; %g is asked for.", 100*(1-d.Terms.Alpha), d.Terms.Ppk),
		"Check", ">Mean", ">Std. dev.", ">Ppk", ">proved", "Capable", ">Incumbent's mean", ">Std. dev.", ">Ppk")
	for _, c := range d.Comparisons {
		what := "boards"
		if c.ByLots {
			what = "lots"
		}
		u := c.Unit
		alike.Rows = append(alike.Rows, toned(claimTone(c.Alike), c.Name, value(c.Difference, u), value(c.Low, u), value(c.High, u), value(c.Margin, u),
			figure(c.EquivalentP), c.Alike.String(), share(c.Power), fmt.Sprint(c.Needed), what))
		x, y := c.Drifts[0], c.Drifts[1]
		drifts.Rows = append(drifts.Rows, toned(claimTone(c.Steady), c.Name, value(x.Difference, u), value(x.Low, u), value(x.High, u), figure(x.DifferentP),
			c.Steady.String(), value(y.Difference, u), figure(y.DifferentP), value(c.Rig.Difference, u)))
		p, q := c.Sides[0], c.Sides[1]
		able.Rows = append(able.Rows, toned(claimTone(c.Capable), c.Name, value(p.Mean, u), value(p.SDOverall, u), figure(p.Ppk.Value), figure(c.PpkLow), c.Capable.String(),
			value(q.Mean, u), value(q.SDOverall, u), figure(q.Ppk.Value)))
	}
	return []page.StudyTable{alike, drifts, able}
}

func (d qualified) planTables() []page.StudyTable {
	rig := tableOf("Gauge study", fmt.Sprintf("Standard deviations; GRR in percent of the room between the limits, %g at most.", d.Terms.GRR),
		"Check", ">Re-seat", ">Nests", ">Days", ">GRR", ">Boards", ">% of room")
	for i, g := range d.Rig.Gauges {
		u := d.Comparisons[i].Unit
		tone := page.Plain
		if !g.Fit {
			tone = page.Bad
		}
		rig.Rows = append(rig.Rows, toned(tone, d.Comparisons[i].Name, value(g.EV, u), value(g.Nest, u), value(g.Day, u), value(g.GRR, u), value(g.PV, u), figure(g.Percent)))
	}
	places := tableOf("Where and when", fmt.Sprintf("Sides changed %d times in the order of testing; a drawn order gives about %.0f (p of as few: %s).",
		d.Design.Runs-1, d.Design.RunsExpected-1, figure(d.Design.RunsP)), "Factor", "Which", ">Candidate", ">Incumbent")
	for _, l := range d.Design.Levels {
		places.Rows = append(places.Rows, toned(page.Plain, l.Factor, l.Name, fmt.Sprint(l.Count[0]), fmt.Sprint(l.Count[1])))
	}
	for side, list := range d.Design.Lots {
		for _, l := range list {
			cells := []string{"lot", l.Name, "", ""}
			cells[2+side] = fmt.Sprint(l.Count[side])
			places.Rows = append(places.Rows, toned(page.Plain, cells...))
		}
	}
	tables := []page.StudyTable{places}
	if len(rig.Rows) > 0 {
		tables = append([]page.StudyTable{rig}, tables...)
	}
	if len(d.left) > 0 {
		left := tableOf("Not compared", "", "Check")
		for _, name := range d.left {
			left.Rows = append(left.Rows, toned(page.Plain, name))
		}
		tables = append(tables, left)
	}
	return tables
}

func (d qualified) method() []string {
	t := d.Terms
	return []string{
		fmt.Sprintf("Risk %g over all checks (Holm, Scandinavian Journal of Statistics 6 (1979) 65), once for what speaks for the candidate and once for what speaks against; power %g.", t.Alpha, t.Power),
		"Bad boards: Fisher's exact test against \"no more than the incumbent\", Newcombe's interval for the claim within the margin; numbers of boards by the normal law (Fleiss).",
		"Equivalence: two one-sided tests (Schuirmann 1987) on Welch's comparison; power by Owen's method at the first of Holm's steps. Lots are the unit where an analysis of variance over lots has p below 0.25.",
		"Drift: a least-squares line over the order; lots that scatter around it widen its error and lower its degrees of freedom.",
		"Gauge study: crossed analysis of variance, nest and day together as the appraiser (Montgomery, Design and Analysis of Experiments, 13.2).",
		"Interleaving: the number of stretches of one side (Wald and Wolfowitz, Annals of Mathematical Statistics 11 (1940) 147). Shares of places may differ by a quarter at most: common practice, no source.",
		"A bad board is judged as a fault, once; its values do not enter means. Of a board the first run with a verdict counts.",
		fmt.Sprintf("Records under suspicion that were left out: %d; records without a verdict, which say nothing about a board: %d.", d.suspect, d.unjudged),
	}
}
