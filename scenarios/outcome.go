package scenarios

import (
	"fmt"
	"slices"
	"strings"

	"sinkproof/reports/record"
)

// standing is how an answer came about; it decides what it does to others.
type standing int

const (
	// judged: a value was held against limits.
	judged standing = iota
	// notAsked: something that must pass before did not.
	notAsked
	// untrusted: the bench could not tell.
	untrusted
	// benchFailed: a control got the wrong answer, and it was the bench's.
	benchFailed
)

// outcome is the answer of one check with what the record does not hold.
type outcome struct {
	check    Check
	answer   record.Check
	standing standing
	// causes are the failed checks that this one's fail follows from.
	causes []string
}

// outcomes are the answers of a run so far, in the order of asking.
type outcomes struct {
	list  []*outcome
	byKey map[string]*outcome
}

func (o *outcomes) add(x *outcome) {
	if o.byKey == nil {
		o.byKey = map[string]*outcome{}
	}
	o.list = append(o.list, x)
	o.byKey[x.check.Name] = x
}

// answer is the answer of a check, empty before it has one.
func (o *outcomes) answer(name string) record.Answer {
	if x, ok := o.byKey[name]; ok {
		return x.answer.Answer
	}
	return ""
}

// unmet names the first of the required checks that has not passed. A check
// that was left out (not observable, or its "when" was false) requires
// nothing.
func (o *outcomes) unmet(names []string) (string, bool) {
	for _, name := range names {
		if a := o.answer(name); a == record.Failed || a == record.Unanswered {
			return name, true
		}
	}
	return "", false
}

// distrusted names the first of the controls that does not vouch for the
// bench. A control that failed because of the unit still does.
func (o *outcomes) distrusted(names []string) (string, bool) {
	for _, name := range names {
		x, ok := o.byKey[name]
		if !ok {
			continue
		}
		if x.standing == benchFailed || x.answer.Answer == record.Unanswered {
			return name, true
		}
	}
	return "", false
}

// failedAmong lists those of the named checks that failed.
func (o *outcomes) failedAmong(names []string) []string {
	var out []string
	for _, name := range names {
		if o.answer(name) == record.Failed {
			out = append(out, name)
		}
	}
	return out
}

func (o *outcomes) failed() []*outcome {
	return o.where(func(x *outcome) bool { return x.answer.Answer == record.Failed && x.standing == judged })
}

func (o *outcomes) where(is func(*outcome) bool) []*outcome {
	var out []*outcome
	for _, x := range o.list {
		if is(x) {
			out = append(out, x)
		}
	}
	return out
}

// verdict is what the answers amount to. A fault of the bench is never a
// fault of the unit: with one, or with a control that failed by the bench,
// there is no verdict, whatever else was answered. The cell hazard alone
// decides the bin even then.
func (o *outcomes) verdict(fault string) (record.Verdict, string, record.Bin) {
	failed := o.failed()
	bin := record.BinRework
	if slices.ContainsFunc(failed, func(x *outcome) bool { return x.check.Bin == record.BinQuarantine }) {
		bin = record.BinQuarantine
	}
	without := record.BinRetest
	if bin == record.BinQuarantine {
		without = bin
	}
	if fault != "" {
		return record.None, fault, without
	}
	for _, x := range o.where(func(x *outcome) bool { return x.standing == benchFailed }) {
		return record.None, fmt.Sprintf("control %q failed, and it is the bench's: %s", x.check.Name, x.answer.Why), without
	}
	if len(failed) > 0 {
		return record.Fail, "failed: " + strings.Join(titles(failed), "; "), bin
	}
	open := o.where(func(x *outcome) bool { return x.answer.Answer == record.Unanswered })
	if len(open) > 0 {
		return record.None, fmt.Sprintf("%q is unanswered: %s", open[0].check.Name, open[0].answer.Why), record.BinRetest
	}
	if len(o.list) == 0 {
		return record.None, "nothing was asked", record.BinRetest
	}
	return record.Pass, "", record.BinPass
}

func titles(list []*outcome) []string {
	var out []string
	for _, x := range list {
		if len(x.causes) == 0 {
			out = append(out, x.check.Title)
		}
	}
	if len(out) == 0 {
		for _, x := range list {
			out = append(out, x.check.Title)
		}
	}
	return out
}

// findings lists what to rework, in the order of the scenario: one finding for
// each failed check that follows from no other, with its consequences.
func (o *outcomes) findings() []record.Finding {
	failed := o.failed()
	for _, x := range failed {
		x.causes = o.failedAmong(x.check.Because)
	}
	var out []record.Finding
	for _, x := range failed {
		if len(x.causes) > 0 || x.check.Rework == "" {
			continue
		}
		f := record.Finding{Title: x.check.Title, Rework: x.check.Rework, For: []string{x.check.Name}}
		for _, y := range failed {
			if slices.Contains(y.causes, x.check.Name) {
				f.For = append(f.For, y.check.Name)
			}
		}
		out = append(out, f)
	}
	return merged(out)
}

// merged joins findings that ask for the same rework, so that two rounds of a
// check give one line.
func merged(list []record.Finding) []record.Finding {
	var out []record.Finding
	for _, f := range list {
		i := slices.IndexFunc(out, func(g record.Finding) bool { return g.Rework == f.Rework })
		if i < 0 {
			out = append(out, f)
			continue
		}
		for _, name := range f.For {
			if !slices.Contains(out[i].For, name) {
				out[i].For = append(out[i].For, name)
			}
		}
	}
	return out
}
