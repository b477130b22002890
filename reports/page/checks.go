package page

import (
	"fmt"
	"strconv"
	"strings"

	"sinkproof/reports/record"
)

// table turns the checks of a run into numbered rows, and their sources into
// a numbered list.
type table struct {
	checks []record.Check
	rows   []CheckRow
	// number finds a check's number by its name.
	number  map[string]int
	sources []Source
	// blame gives the check that the run's findings hold to be the cause of
	// another one's fail, by name.
	blame map[string]string
}

func newTable(run record.Run) *table {
	t := &table{checks: run.Checks, number: map[string]int{}, blame: blamed(run)}
	for i, c := range run.Checks {
		t.number[c.Name] = i + 1
	}
	for i, c := range run.Checks {
		t.rows = append(t.rows, t.row(i+1, c))
	}
	return t
}

func (t *table) row(number int, c record.Check) CheckRow {
	row := CheckRow{
		Number: number, Title: tie(c.Title), Name: c.Name, Value: "—",
		Limits: limitsText(c.Lower, c.Upper, t.source), Accepted: acceptedText(c.Lower, c.Upper), Risk: riskText(c),
		Why: t.refer(c.Why), Control: c.Control,
	}
	if c.Value != nil {
		row.Value = valueText(*c.Value)
	}
	row.Answer, row.Tone = answerText(c.Answer)
	return row
}

// source gives a source its number, the same for the same text.
func (t *table) source(text string) string {
	for _, s := range t.sources {
		if s.Text == text {
			return strconv.Itoa(s.Number)
		}
	}
	t.sources = append(t.sources, Source{len(t.sources) + 1, text})
	return strconv.Itoa(len(t.sources))
}

func answerText(a record.Answer) (string, Tone) {
	switch a {
	case record.Passed:
		return "pass", Good
	case record.Failed:
		return "FAIL", Bad
	}
	return string(a), Open
}

// groups joins neighbours of one condition.
func (t *table) groups() []Group {
	var list []Group
	for i, c := range t.checks {
		if i == 0 || c.Condition != t.checks[i-1].Condition {
			list = append(list, Group{Title: conditionText(c.Condition), Condition: c.Condition})
		}
		g := &list[len(list)-1]
		g.Checks = append(g.Checks, t.rows[i])
	}
	return list
}

// conditionText says what the unit meets in a condition. The names are those
// of the shipped rigs; another rig's names stand as they are.
func conditionText(name string) string {
	switch name {
	case "":
		return "During the whole run"
	case "isolated":
		return "Nothing: every coil off"
	case "probe-vbus":
		return "A limited current on VBUS"
	case "data-pair":
		return "The bench's data pair, nothing seated"
	case "probe-cc1":
		return "A known pull-up at CC1, VBUS off"
	case "probe-cc2":
		return "A known pull-up at CC2, VBUS off"
	case "legacy-a":
		return "A supply with a legacy A port"
	case "c-supply":
		return "A C supply, plain cable"
	case "c-supply-marked":
		return "A C supply, marked cable"
	case "no-termination":
		return "A C supply, the unit's CC pins cut off"
	case "stand-in":
		return "A C supply, the rig's own termination"
	case "portable":
		return "A portable supply"
	case "cell-substitute":
		return "A legacy A supply, a substitute for the cell"
	case "detached":
		return "No supply, a known load on VBUS"
	}
	return capital(name)
}

func (t *table) counts(run record.Run) string {
	count := map[record.Answer]int{}
	for _, c := range t.checks {
		count[c.Answer]++
	}
	return fmt.Sprintf("%d checks: %d passed, %d failed, %d unanswered; %d not observable on this product",
		len(t.checks), count[record.Passed], count[record.Failed],
		len(t.checks)-count[record.Passed]-count[record.Failed], len(run.NotObservable))
}

// The words by which the cause of a check names another check.
const (
	follows   = "follows from the fail of "
	notAsked  = "not asked: "
	notPassed = " has not passed"
)

// blamed reads the findings of a run: the first check that speaks for one is
// its cause, and the others follow from that, unless they ask for the same
// rework: then they are the same trouble in another round. A check that
// failed before its cause was asked is only explained there.
func blamed(run record.Run) map[string]string {
	own := map[string]string{}
	for _, c := range run.Checks {
		own[c.Name] = c.Rework
	}
	blame := map[string]string{}
	for _, f := range run.Suspects {
		for i, name := range f.For {
			if i > 0 && own[name] != f.Rework && blame[name] == "" {
				blame[name] = f.For[0]
			}
		}
	}
	return blame
}

// cause returns the check that another one's answer follows from; empty where
// it stands for itself.
func (t *table) cause(c record.Check) string {
	if _, name, found := strings.Cut(c.Why, follows); found {
		return name
	}
	if c.Answer == record.Unanswered {
		return required(c.Why)
	}
	return t.blame[c.Name]
}

// required returns the check whose pass a check that was not asked waits for:
// "not asked: no power without probe-vbus, and vbus-not-shorted has not
// passed".
func required(why string) string {
	why, asked := strings.CutPrefix(why, notAsked)
	name, passed := strings.CutSuffix(why, notPassed)
	if !asked || !passed {
		return ""
	}
	if _, last, found := strings.Cut(name, ", and "); found {
		return last
	}
	return name
}

// refer replaces the name of the check that a cause names by its number.
func (t *table) refer(why string) string {
	if head, name, found := strings.Cut(why, follows); found && t.number[name] > 0 {
		return fmt.Sprintf("%sfollows from check %d", head, t.number[name])
	}
	if name := required(why); t.number[name] > 0 {
		return strings.TrimSuffix(why, name+notPassed) + fmt.Sprintf("check %d", t.number[name]) + notPassed
	}
	return why
}

// root follows the causes of a check to the one that stands for itself. The
// walk is bounded, for the causes of a record that somebody else wrote might
// go round in a circle.
func (t *table) root(i int) int {
	for range t.checks {
		n := t.number[t.cause(t.checks[i])]
		if n == 0 || n == i+1 {
			break
		}
		i = n - 1
	}
	return i
}

// trouble lists the checks that failed, then those that could not be
// answered, each with what follows from it.
func (t *table) trouble() []Trouble {
	failed, unasked := map[int][]int{}, map[int][]int{}
	var roots []int
	for i, c := range t.checks {
		if c.Answer == record.Passed {
			continue
		}
		root := t.root(i)
		switch {
		case root == i || t.checks[root].Answer == record.Passed:
			roots = append(roots, i)
		case c.Answer == record.Failed:
			failed[root] = append(failed[root], i+1)
		default:
			unasked[root] = append(unasked[root], i+1)
		}
	}
	var bad, open []Trouble
	for _, i := range roots {
		item := Trouble{t.rows[i], consequences(failed[i], unasked[i])}
		if item.Tone == Bad {
			bad = append(bad, item)
			continue
		}
		open = append(open, item)
	}
	return append(bad, open...)
}

func consequences(failed, unasked []int) string {
	var parts []string
	if len(failed) > 0 {
		parts = append(parts, numbered(failed)+" failed")
	}
	if len(unasked) > 0 {
		parts = append(parts, numbered(unasked)+" could not be answered")
	}
	if len(parts) == 0 {
		return ""
	}
	return "As a consequence " + strings.Join(parts, ", and ") + "."
}

// numbered lists checks by number, runs of neighbours as a range: "checks 4,
// 6 to 9".
func numbered(list []int) string {
	if len(list) == 1 {
		return "check " + strconv.Itoa(list[0])
	}
	var parts []string
	for i := 0; i < len(list); {
		j := i
		for j+1 < len(list) && list[j+1] == list[j]+1 {
			j++
		}
		switch {
		case j-i >= 2:
			parts = append(parts, fmt.Sprintf("%d to %d", list[i], list[j]))
		default:
			for _, n := range list[i : j+1] {
				parts = append(parts, strconv.Itoa(n))
			}
		}
		i = j + 1
	}
	return "checks " + strings.Join(parts, ", ")
}
