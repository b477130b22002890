package page

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"sinkproof/reports/record"
)

// rework lists the suspects that no diagnosis named where the run has any, else
// what the failed checks ask for, each text once.
func (t *table) rework(run record.Run) []Rework {
	var list []Rework
	for _, s := range run.Suspects {
		if diagnosed(s) {
			continue
		}
		item := Rework{Title: s.Title, Text: s.Rework, Checks: t.speaking(s.For, s.Against)}
		if s.Probability != nil {
			item.Likely = fmt.Sprintf("%.0f\u00a0%% likely", *s.Probability*100)
			if *s.Probability >= 0.995 { // nothing is certain
				item.Likely = Likely(*s.Probability) + " likely"
			}
		}
		list = append(list, item)
	}
	if len(list) > 0 {
		return list
	}
	seen := map[string]bool{}
	for _, c := range run.Checks {
		if c.Answer == record.Failed && c.Rework != "" && !seen[c.Rework] {
			seen[c.Rework] = true
			list = append(list, Rework{Title: c.Title, Text: c.Rework, Checks: t.speaking([]string{c.Name}, nil)})
		}
	}
	return list
}

// speaking names the checks for and against a finding by number.
func (t *table) speaking(favour, against []string) string {
	parts := filled([]Row{{"for it", t.named(favour)}, {"against it", t.named(against)}})
	var texts []string
	for _, p := range parts {
		texts = append(texts, p.Label+": "+p.Text)
	}
	return strings.Join(texts, "; ")
}

// named gives the numbers of checks, and the names of those that the run did
// not answer.
func (t *table) named(names []string) string {
	var numbers []int
	var others []string
	for _, n := range names {
		if i := t.number[n]; i > 0 {
			numbers = append(numbers, i)
			continue
		}
		others = append(others, n)
	}
	slices.Sort(numbers)
	if len(numbers) > 0 {
		others = append([]string{numbered(slices.Compact(numbers))}, others...)
	}
	return strings.Join(others, ", ")
}

// hidden lists what was not observable, by cause: one cause often hides a
// number of checks.
func hidden(run record.Run) []Row {
	var rows []Row
	for _, n := range run.NotObservable {
		title := tie(n.Title)
		if title == "" {
			title = n.Check
		}
		why := capital(n.Why)
		i := slices.IndexFunc(rows, func(r Row) bool { return r.Label == why })
		if i < 0 {
			rows = append(rows, Row{why, title})
			continue
		}
		rows[i].Text += "; " + title
	}
	return rows
}

// notes tells what else happened. Notes that differ in nothing but their
// numbers stand once, with their count; the record holds them all.
func notes(run record.Run) []Row {
	var rows []Row
	if f := run.Fault; f != nil {
		text := f.What
		if f.Hint != "" {
			text += ". Next: " + f.Hint
		}
		rows = append(rows, Row{"bench fault", offsetText(f.AtUS) + ": " + text})
	}
	for i, n := range run.Notes {
		if slices.ContainsFunc(run.Notes[:i], func(m record.Note) bool { return sameButNumbers(m, n) }) {
			continue
		}
		text := offsetText(n.AtUS) + ": " + n.Text
		if more, last := alike(run.Notes[i+1:], n); more > 0 {
			text += fmt.Sprintf(" (and %d more like it, the last at %s)", more, offsetText(last))
		}
		rows = append(rows, Row{n.Kind, text})
	}
	return rows
}

// alike counts the notes like one, and tells when the last of them was.
func alike(list []record.Note, one record.Note) (count int, last int64) {
	for _, n := range list {
		if sameButNumbers(n, one) {
			count, last = count+1, n.AtUS
		}
	}
	return count, last
}

func sameButNumbers(a, b record.Note) bool {
	return a.Kind == b.Kind && wordsOf(a.Text) == wordsOf(b.Text)
}

// wordsOf is a text without its digits.
func wordsOf(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsDigit(r) {
			return -1
		}
		return r
	}, text)
}

// capital begins a text with a capital letter.
func capital(text string) string {
	for i, r := range text {
		return string(unicode.ToUpper(r)) + text[i+len(string(r)):]
	}
	return text
}
