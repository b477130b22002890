package coverage

import (
	"slices"
	"strings"

	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// Kinds of question.
const (
	KindCheck     = "check"
	KindControl   = "control"
	KindInterlock = "interlock"
)

// question is a check with all its rounds.
type question struct {
	name, title, kind string
	rounds            []int // places in the catalogue
}

// catalogue numbers the checks of a scenario and gathers them to questions.
type catalogue struct {
	checks    []string
	index     map[string]int
	of        []int // the question of each check
	questions []question
}

// base is the name of a check without the key of its round.
func base(name string) string {
	name, _, _ = strings.Cut(name, "[")
	return name
}

// untied is the title of a check without the key of its round.
func untied(c scenarios.Check) string {
	_, key, _ := strings.Cut(strings.TrimSuffix(c.Name, "]"), "[")
	return strings.TrimSuffix(c.Title, " ("+key+")")
}

func newCatalogue(sc *scenarios.Scenario) *catalogue {
	c := &catalogue{index: map[string]int{}}
	known := map[string]int{}
	interlocks := map[string]bool{}
	for _, i := range sc.Interlocks {
		interlocks[i.Name] = true
	}
	for _, check := range sc.Checks() {
		at := len(c.checks)
		c.index[check.Name] = at
		c.checks = append(c.checks, check.Name)
		q, again := known[base(check.Name)]
		if !again {
			q = len(c.questions)
			known[base(check.Name)] = q
			c.questions = append(c.questions, question{name: base(check.Name), title: untied(check), kind: kindOf(check, interlocks)})
		}
		c.questions[q].rounds = append(c.questions[q].rounds, at)
		c.of = append(c.of, q)
	}
	return c
}

func kindOf(c scenarios.Check, interlocks map[string]bool) string {
	switch {
	case interlocks[c.Name]:
		return KindInterlock
	case c.Control != "":
		return KindControl
	}
	return KindCheck
}

// set is a set of checks or questions, one bit each, that can be a key.
type set string

// setOf makes a set of places below size.
func setOf(size int, places []int) set {
	bits := make([]byte, (size+7)/8)
	for _, p := range places {
		bits[p/8] |= 1 << (p % 8)
	}
	return set(bits)
}

func (s set) has(place int) bool { return s[place/8]&(1<<(place%8)) != 0 }

// places lists what is in the set.
func (s set) places() []int {
	var out []int
	for i := range len(s) * 8 {
		if s.has(i) {
			out = append(out, i)
		}
	}
	return out
}

// asked lists the questions of a set of checks.
func (c *catalogue) asked(checks set) []int {
	var out []int
	for _, at := range checks.places() {
		if q := c.of[at]; len(out) == 0 || !slices.Contains(out, q) {
			out = append(out, q)
		}
	}
	return out
}

// failed lists the checks that caught a unit. A control that failed without a
// verdict is the bench's and caught nothing.
func (c *catalogue) failed(run record.Run) []int {
	if run.Verdict != record.Fail {
		return nil
	}
	var out []int
	for _, x := range run.Checks {
		if at, known := c.index[x.Name]; known && x.Answer == record.Failed {
			out = append(out, at)
		}
	}
	return out
}
