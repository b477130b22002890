package findings

import (
	"fmt"
	"strings"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/scenarios"
)

// Titles calls readings by what the scenario waited for or read, by the name of
// the reading. A run does not say that: its readings have a channel only, and a
// time has the channel that was watched meanwhile.
type Titles map[string]string

// TitlesOf reads the titles off the steps of a scenario. A step without a title
// of its own is told by that of its stage.
func TitlesOf(s *scenarios.Scenario) Titles {
	t := Titles{}
	for _, stage := range s.Stages {
		t.take(stage.Steps, stage.Title)
	}
	return t
}

func (t Titles) take(steps []scenarios.Step, stage string) {
	for _, step := range steps {
		switch s := step.(type) {
		case scenarios.Given:
			t.set(s.Name, s.Title, "")
		case scenarios.Wait:
			where := ownTitle(s.Name, s.Title, stage)
			t.set(s.Name, where, "time until "+waitedFor(s))
			t.set(s.Name+".value", where, s.Channel+" at the end of the wait")
		case scenarios.Read:
			t.set(s.Name, ownTitle(s.Name, s.Title, stage), s.Channel)
		case scenarios.Sample:
			where := ownTitle(s.Name, s.Title, stage)
			t.set(s.Name+".min", where, "lowest "+s.Channel)
			t.set(s.Name+".max", where, "highest "+s.Channel)
			t.set(s.Name+".mean", where, "mean "+s.Channel)
		case scenarios.Check:
			if s.Lifted != nil {
				t.take(s.Lifted.Steps, s.Title+", unit lifted")
			}
		}
	}
}

// set joins where a reading was taken and what it is of. The round goes to the
// end, where there is one.
func (t Titles) set(name, where, what string) {
	if key := roundOf(name); key != "" {
		where = strings.TrimSuffix(where, " ("+key+")")
	}
	if where != "" && what != "" {
		where += ", "
	}
	t[name] = withRound(where+what, name)
}

// label is how a reading is called, given what its run alone would call it. What
// a check asks for keeps the title of the check.
func (t Titles) label(name string, l label) label {
	if title, ok := t[name]; ok && l.channel != "" {
		l.title = title
	}
	return l
}

// ownTitle is the title of a step, or that of its stage where the loader had
// only the name to put in its place.
func ownTitle(name, title, stage string) string {
	if title == name {
		return stage
	}
	return title
}

// waitedFor says what ends a wait.
func waitedFor(w scenarios.Wait) string {
	words := fmt.Sprintf("%s is %s", w.Channel, compared(w.Relation, w.Level))
	if w.Relation == bench.Steady {
		words = fmt.Sprintf("%s is steady within %s", w.Channel, quantity.Pure(w.Band).Percent())
	}
	switch w.Origin {
	case bench.FromMark:
		words += ", from " + compared(w.Mark.Relation, w.Mark.Level)
	case bench.FromLastMark:
		words += ", from the last " + compared(w.Mark.Relation, w.Mark.Level)
	}
	return words
}

func compared(r bench.Relation, level quantity.Quantity) string {
	words := level.Text(3)
	// To three digits, without the zeros of "4.00 V".
	if short, err := quantity.Parse(words); err == nil {
		words = short.String()
	}
	if r == bench.AtMost {
		return words + " or less"
	}
	return words + " or more"
}

// roundOf is the key of a stage's round in a name, as in "legacy-i[normal]".
func roundOf(name string) string {
	_, key, _ := strings.Cut(name, "[")
	key, _, _ = strings.Cut(key, "]")
	return key
}
