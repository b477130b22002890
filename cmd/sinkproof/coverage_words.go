package main

import (
	"fmt"
	"slices"
	"strings"

	"sinkproof/bench/twin"
	"sinkproof/reports/page"
	"sinkproof/scenarios/coverage"
	"sinkproof/scenarios/population"
)

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
	add("Caught by no check", none(missedWords(r), missedNone(r)))
	add("Not tried", strings.Join(r.Untried, ", "))
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

// missedNone says that each fault was caught, of those that were simulated.
func missedNone(r coverage.Result) string {
	if len(r.Untried) > 0 {
		return fmt.Sprintf("none, of %s simulated", counted(len(r.Classes)-1-len(r.Untried), "fault"))
	}
	return "none of the faults: each is caught by at least one check"
}

// missedLabel stands below the number of faults that no check caught.
func missedLabel(r coverage.Result) string {
	if len(r.Untried) > 0 {
		return fmt.Sprintf("faults that no check caught, of %d simulated", len(r.Classes)-1-len(r.Untried))
	}
	return "faults that no check caught"
}

// nothingSeen says what no unit of a class is worth, by the first class of which
// nothing went wrong.
func nothingSeen(r coverage.Result) string {
	for _, c := range r.Classes {
		if c.Name != population.Good && c.Wrong.Count == 0 && c.Wrong.Of > 0 {
			return fmt.Sprintf(" None of %d does not mean none: it means less than %s.", c.Wrong.Of, percent(c.Wrong.High))
		}
	}
	return ""
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
		"Intervals are exact (Clopper and Pearson), two-sided, 95\u00a0%." + nothingSeen(r),
		"A check is redundant when no simulated unit was caught by it alone. Only what was simulated speaks: a fault that is not in the catalogue may need it, and so may the person who reworks the unit.",
		fmt.Sprintf("The risks in a production assume that %.3g\u00a0%% of the units have a fault and that all faults are equally likely; --fault-share sets it.", 100*r.Production.FaultShare),
		"Moving a limit means moving both limits of all rounds of a check by a share of their values. A unit on which other checks were not asked stays rejected.",
	}
}
