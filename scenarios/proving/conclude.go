package proving

import (
	"fmt"
	"strings"
)

// conclude turns what was measured into findings, once.
func (t *test) conclude() error {
	if len(t.taken) == 0 {
		return nil
	}
	list, evidence, err := t.diagnose()
	if err != nil || len(list) == 0 {
		return err
	}
	t.taken = nil
	t.find(evidence, list...)
	return nil
}

// diagnose lists what explains everything that was measured; nothing for a
// healthy rig.
func (t *test) diagnose() (list []Suspect, evidence string, err error) {
	j, err := newJudge(t.m, t.taken)
	if err != nil || j.sound {
		return nil, "", err
	}
	for _, h := range t.m.hypotheses(t.report.Seated) {
		s, ok, err := j.explains(h)
		if err != nil {
			return nil, "", err
		}
		if ok {
			list = append(list, s)
		}
	}
	if len(list) == 0 {
		list = []Suspect{{Thing: t.w.Name, Fault: Unknown}}
	}
	return merge(list), t.evidence(), nil
}

// mostEvidence is how many values a finding quotes.
const mostEvidence = 4

// evidence quotes the values that are out of their limits.
func (t *test) evidence() string {
	var out []string
	more := 0
	for _, s := range t.report.Steps {
		for _, x := range s.Items {
			switch {
			case x.OK:
			case len(out) < mostEvidence:
				out = append(out, fmt.Sprintf("%s: %s reads %s, healthy is %s", s.Name, x.Name, x.Text, x.Limits))
			default:
				more++
			}
		}
	}
	if len(out) == 0 {
		return "two channels do not agree with each other, each within its own limits"
	}
	if more > 0 {
		out = append(out, fmt.Sprintf("and %d more", more))
	}
	return strings.Join(out, "; ")
}
