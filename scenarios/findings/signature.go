package findings

import (
	"strings"

	"sinkproof/reports/record"
)

// kind is what an observation is: a value, or the reason why there is none.
type kind uint8

const (
	// absent: the run never came to it.
	absent kind = iota
	// estimate is a value; the others stand for what has none.
	estimate
	atLeast
	atMost
	passed
	failed
)

// observation is what a run says under one name.
type observation struct {
	value float64
	kind  kind
	// u is the expanded uncertainty.
	u float32
}

// Signature is what one run says about its unit.
type Signature struct {
	// names are in the order of the run.
	names  []string
	seen   map[string]observation
	titles map[string]label
	// asked holds the readings that a check rests on.
	asked map[string]bool
}

// label is how an observation is called on a page.
type label struct {
	title, unit string
	// channel is where it was read, empty where a check says it: a reading with
	// one was taken beside what is asked.
	channel string
}

// checked begins the names of what checks say.
const checked = "check "

// SignatureOf reads a run. A check that rests on a single reading adds nothing
// to it, for the reading says it; nor does one that is unanswered. Waveforms and
// instants are left out.
func SignatureOf(run record.Run) Signature {
	s := &Signature{seen: map[string]observation{}, titles: map[string]label{}, asked: map[string]bool{}}
	for _, r := range run.Readings {
		s.add(r.Name, valueOf(r.Value), label{readingTitle(r), r.Unit, r.Channel})
	}
	for _, c := range run.Checks {
		s.check(c)
	}
	return *s
}

func (s *Signature) add(name string, o observation, l label) {
	if _, twice := s.seen[name]; !twice {
		s.names = append(s.names, name)
	}
	s.seen[name], s.titles[name] = o, l
}

func (s *Signature) check(c record.Check) {
	for _, name := range c.Readings {
		s.asked[name] = true
	}
	if len(c.Readings) == 1 {
		if old, ok := s.titles[c.Readings[0]]; ok {
			s.titles[c.Readings[0]] = label{title: withRound(c.Title, c.Readings[0]), unit: old.unit}
		}
		return
	}
	name := checked + c.Name
	title := withRound(c.Title, c.Name)
	switch {
	case c.Value != nil:
		s.add(name, valueOf(*c.Value), label{title: title, unit: c.Value.Unit})
	case len(c.Readings) == 0 && c.Answer == record.Passed:
		s.add(name, observation{kind: passed}, label{title: title})
	case len(c.Readings) == 0 && c.Answer == record.Failed:
		s.add(name, observation{kind: failed}, label{title: title})
	}
}

func valueOf(v record.Value) observation {
	o := observation{kind: estimate, value: v.Value, u: float32(v.U)}
	switch v.Bound {
	case record.AtLeast:
		o.kind = atLeast
	case record.AtMost:
		o.kind = atMost
	}
	return o
}

// readingTitle names a reading that no check rests on alone by all that a run
// says of it. Titles know more.
func readingTitle(r record.Reading) string {
	title := "channel " + r.Channel
	if r.Condition != "" {
		condition, _, _ := strings.Cut(r.Condition, "[")
		title += " in " + condition
	}
	return withRound(title, r.Name)
}

// withRound adds the key of a stage's round to a title, as in
// "legacy-i[normal]", unless it has it already or there is one round only.
func withRound(title, name string) string {
	key := roundOf(name)
	if added := " (" + key + ")"; key != "" && !strings.HasSuffix(title, added) {
		return title + added
	}
	return title
}
