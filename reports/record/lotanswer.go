package record

import (
	"fmt"
	"slices"
	"strings"
)

// LotOutcome is what became of a lot.
type LotOutcome string

// The outcomes. Undecided is none that is kept. An abandoned lot was never
// judged, and counts for nothing.
const (
	Undecided LotOutcome = ""
	Accepted  LotOutcome = "accepted"
	Rejected  LotOutcome = "rejected"
	Abandoned LotOutcome = "abandoned"
)

// LotJudgement closes a lot.
type LotJudgement struct {
	// Draw is the id of the draw that opened the lot.
	Draw string `json:"draw"`
	LotName
	Bench   Bench      `json:"bench"`
	Made    string     `json:"made"`
	By      string     `json:"by"`
	Outcome LotOutcome `json:"outcome"`
	Reason  string     `json:"reason"`
	// Tested counts the drawn units with an answer, Bad those that failed.
	Tested int `json:"tested"`
	Bad    int `json:"bad"`
	// Tighter tells that the lot would have been accepted one limit tighter.
	Tighter bool `json:"tighter,omitempty"`
	// Steady tells that whoever judged calls production steady and wants
	// inspection reduced where the rules allow it.
	Steady bool      `json:"steady,omitempty"`
	Units  []LotUnit `json:"units"`
}

// LotUnit is a drawn unit with its answer.
type LotUnit struct {
	Serial string `json:"serial"`
	// Answer is that of the first run which could be trusted: pass or fail;
	// absent where there is none. Later runs do not change it.
	Answer Verdict `json:"answer,omitempty"`
	// Run is the id of the run that answered.
	Run string `json:"run,omitempty"`
	// Failed are the checks that failed in it.
	Failed []string `json:"failed,omitempty"`
	// Runs are all runs of the unit against the lot, in the order of the chain.
	Runs []LotRun `json:"runs,omitempty"`
}

// LotRun is one run of a drawn unit.
type LotRun struct {
	// Seq is the number of the entry that closed the run.
	Seq int64  `json:"seq"`
	Run string `json:"run"`
	// Verdict is none where the bench could not tell, and where the run was
	// interrupted.
	Verdict Verdict `json:"verdict"`
	// Suspect tells that a golden unit put the record under a suspicion that
	// nobody had withdrawn.
	Suspect bool `json:"suspect,omitempty"`
	// Failed are the checks that failed, Reason is the record's.
	Failed []string `json:"-"`
	Reason string   `json:"-"`
}

// answers tells whether the run says something about the unit: a fault of the
// bench is never a fault of the unit.
func (r LotRun) answers() bool { return !r.Suspect && (r.Verdict == Pass || r.Verdict == Fail) }

// LotStanding is how far the inspection of a lot is.
type LotStanding struct {
	Draw  LotDraw
	Units []LotUnit
	// Tested counts the units with an answer, Bad those that failed.
	Tested, Bad int
	// Untested are the drawn units without a run, Retest those of which no run
	// could be trusted.
	Untested, Retest []string
}

// Standing holds the runs of the drawn units, by serial and each in the order
// of the chain, against the draw. The first run of a unit that can be trusted is
// its answer.
func (d LotDraw) Standing(runs map[string][]LotRun) LotStanding {
	s := LotStanding{Draw: d}
	for _, serial := range d.Drawn {
		u := LotUnit{Serial: serial, Runs: runs[serial]}
		if at := slices.IndexFunc(u.Runs, LotRun.answers); at >= 0 {
			u.Answer, u.Run, u.Failed = u.Runs[at].Verdict, u.Runs[at].Run, u.Runs[at].Failed
		}
		switch {
		case u.Answer == Fail:
			s.Bad++
			s.Tested++
		case u.Answer == Pass:
			s.Tested++
		case len(u.Runs) > 0:
			s.Retest = append(s.Retest, serial)
		default:
			s.Untested = append(s.Untested, serial)
		}
		s.Units = append(s.Units, u)
	}
	return s
}

// Outcome is Rejected as soon as more units are bad than may be, Accepted once
// every drawn unit has its answer, and Undecided before.
func (s LotStanding) Outcome() LotOutcome {
	switch {
	case s.Bad > s.Draw.Plan.Accept:
		return Rejected
	case s.Tested == len(s.Draw.Drawn):
		return Accepted
	}
	return Undecided
}

// BadSerials are the drawn units that failed.
func (s LotStanding) BadSerials() []string {
	var list []string
	for _, u := range s.Units {
		if u.Answer == Fail {
			list = append(list, u.Serial)
		}
	}
	return list
}

// Reason says in words why the lot is accepted or rejected, or what it still
// takes.
func (s LotStanding) Reason() string {
	may := fmt.Sprintf("%d of %d tested units bad, %d may be", s.Bad, s.Tested, s.Draw.Plan.Accept)
	if bad := s.BadSerials(); len(bad) > 0 {
		may += ": " + strings.Join(bad, ", ")
	}
	if s.Outcome() != Undecided {
		return may
	}
	if s.Tested == 0 {
		may = fmt.Sprintf("no answer yet, %d may be bad", s.Draw.Plan.Accept)
	}
	if n := len(s.Untested); n > 0 {
		may += fmt.Sprintf("; %d drawn units not tested yet", n)
	}
	if n := len(s.Retest); n > 0 {
		may += fmt.Sprintf("; %d to test again, since the bench could not tell", n)
	}
	return may
}

// Judgement is the standing as a judgement, without who made it and when.
func (s LotStanding) Judgement() LotJudgement {
	j := LotJudgement{
		Draw: s.Draw.ID, LotName: s.Draw.LotName, Outcome: s.Outcome(), Reason: s.Reason(),
		Tested: s.Tested, Bad: s.Bad, Units: s.Units,
	}
	t := s.Draw.Plan.TighterAccept
	j.Tighter = j.Outcome == Accepted && t != nil && s.Bad <= *t
	return j
}

// Validate checks the rules of the published schema, and that the answers are
// those of the first run that could be trusted. It wraps ErrInvalid.
func (j LotJudgement) Validate() error {
	rules := append(issued(j.Bench, j.Made, j.By), j.rules()...)
	rules = append(rules,
		rule{matches(idForm, j.Draw), "id of the draw must be a UUIDv7 in lower case"},
		rule{slices.Contains([]LotOutcome{Accepted, Rejected, Abandoned}, j.Outcome),
			fmt.Sprintf("outcome is %q, must be accepted, rejected or abandoned", j.Outcome)},
		rule{j.Reason != "", "the reason is missing"},
		rule{!j.Tighter || j.Outcome == Accepted, "only an accepted lot would be accepted one limit tighter"},
		rule{!j.Steady || j.Outcome != Abandoned, "an abandoned lot says nothing about production"},
		rule{len(j.Units) > 0, "no unit was drawn"})
	tested, bad := 0, 0
	seen := map[string]bool{}
	for _, u := range j.Units {
		if err := ValidSerial(u.Serial); err != nil {
			return err
		}
		rules = append(rules, rule{!seen[u.Serial], fmt.Sprintf("serial %q stands twice", u.Serial)})
		rules = append(rules, u.rules()...)
		seen[u.Serial] = true
		if u.Answer != "" {
			tested++
		}
		if u.Answer == Fail {
			bad++
		}
	}
	rules = append(rules, rule{tested == j.Tested && bad == j.Bad,
		fmt.Sprintf("%d tested and %d bad, the units say %d and %d", j.Tested, j.Bad, tested, bad)})
	return demand("judgement on "+j.String(), rules...)
}

func (u LotUnit) rules() []rule {
	at := slices.IndexFunc(u.Runs, LotRun.answers)
	good := u.Answer == "" && u.Run == ""
	if at >= 0 {
		good = u.Answer == u.Runs[at].Verdict && u.Run == u.Runs[at].Run
	}
	rules := []rule{
		{good, fmt.Sprintf("the answer of serial %q is not that of its first run that could be trusted", u.Serial)},
		{!slices.Contains(u.Failed, ""), "a failed check has no name"},
		{(u.Answer == Fail) == (len(u.Failed) > 0), fmt.Sprintf("serial %q: failed checks go with the answer fail, and with no other", u.Serial)},
	}
	last := int64(0)
	for _, r := range u.Runs {
		rules = append(rules,
			rule{r.Seq > last, fmt.Sprintf("entry %d does not follow entry %d", r.Seq, last)},
			rule{matches(idForm, r.Run), "id of a run must be a UUIDv7 in lower case"},
			rule{r.Verdict == Pass || r.Verdict == Fail || r.Verdict == None, fmt.Sprintf("verdict is %q, must be pass, fail or none", r.Verdict)})
		last = r.Seq
	}
	return rules
}
