package coverage

import (
	"sinkproof/reports/record"
	"sinkproof/scenarios/population"
)

// Digest is what is kept of one outcome until it is counted.
type Digest struct {
	verdict record.Verdict
	why     string
	// failed are the checks that caught the unit.
	failed set
	// guard holds the verdict with each guard factor.
	guard []byte
	// rooms says of each question from which move of its limits on it no
	// longer fails; nil where two questions or more fail.
	rooms []uint8
	// shut tells that a check was not asked: moving a limit cannot pass it.
	shut bool
	// traits are the measured characteristics.
	traits []trait
}

// The verdicts of a digest's guard, one byte each.
const (
	passes byte = iota
	fails
	opens
)

// trait is a characteristic of one unit: what it is, what was measured, with
// which standard uncertainty and which answer. It is absent where the check
// had no value.
type trait struct {
	there           bool
	truth, value, u float64
	low, high       float64
	unit            string
	accepted        bool
}

// Digest folds an outcome. It may be called from several goroutines.
func (s *Study) Digest(u population.Unit, o population.Outcome) Digest {
	d := Digest{verdict: o.Run.Verdict, failed: setOf(len(s.checks), s.failed(o.Run))}
	if good := u.Class == population.Good; o.Run.Verdict == record.None || good != (o.Run.Verdict == record.Pass) {
		d.why = o.Run.Reason
	}
	hold := make([]held, len(s.checks))
	there := make([]bool, len(s.checks))
	for _, c := range o.Run.Checks {
		at, known := s.index[c.Name]
		if !known {
			continue
		}
		hold[at], there[at] = holdOf(c, o.Run.Decision), true
		d.shut = d.shut || c.Answer == record.Unanswered
	}
	d.guard = s.guarded(o.Run.Verdict, hold, there)
	d.rooms = s.roomsOf(d, hold, there, o.Run.Decision.Guard)
	d.traits = s.traitsOf(u, o, hold, there)
	return d
}

// guarded judges a unit again with each guard factor. What the bench could not
// judge stays so.
func (s *Study) guarded(v record.Verdict, hold []held, there []bool) []byte {
	out := make([]byte, len(s.factors))
	if v == record.None {
		for i := range out {
			out[i] = opens
		}
		return out
	}
	for at := range hold {
		h := &hold[at]
		if !there[at] {
			continue
		}
		// What a wide guard band lets pass, a narrow one does: the factors
		// that do not pass are the last ones.
		for i := len(s.factors) - 1; i >= 0; i-- {
			answer := h.answer(s.factors[i], 0)
			if answer == record.Passed {
				break
			}
			if answer == record.Failed {
				out[i] = fails
			} else if out[i] != fails {
				out[i] = opens
			}
		}
	}
	return out
}

// roomsOf finds from which move on each question lets the unit pass. Only a
// unit that at most one question caught can be decided by moving its limits.
func (s *Study) roomsOf(d Digest, hold []held, there []bool, r float64) []uint8 {
	failed := s.asked(d.failed)
	if d.verdict == record.None || len(failed) > 1 {
		return nil
	}
	out := make([]uint8, len(s.questions))
	for q := range out {
		if len(failed) == 1 && (failed[0] != q || d.shut) {
			out[q] = uint8(len(s.moves)) // something else rejects it
			continue
		}
		out[q] = s.roomOf(q, hold, there, r)
	}
	return out
}

// roomOf is the first move from which on every round of a question passes.
// Limits that were moved so far inwards that they cross accept nothing, and a
// looser limit lets pass what a tighter one does.
func (s *Study) roomOf(q int, hold []held, there []bool, r float64) uint8 {
	first := 0
	for _, at := range s.questions[q].rounds {
		for there[at] && first < len(s.moves) && hold[at].answer(r, s.moves[first]) != record.Passed {
			first++
		}
	}
	return uint8(first)
}

// traitsOf takes what is known of the characteristics.
func (s *Study) traitsOf(u population.Unit, o population.Outcome, hold []held, there []bool) []trait {
	out := make([]trait, len(s.characteristics))
	for i, c := range s.characteristics {
		at, known := s.index[c.Check]
		truth, told := o.Truth[c.Truth]
		if !c.concerns(u) || !known || !told || !there[at] || hold[at].u <= 0 || hold[at].bound != "" {
			continue
		}
		h := hold[at]
		out[i] = trait{
			there: true, truth: truth, value: h.value, u: h.u / 2, low: h.low, high: h.high, unit: h.unit,
			accepted: h.answer(o.Run.Decision.Guard, 0) == record.Passed,
		}
	}
	return out
}
