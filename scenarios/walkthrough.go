package scenarios

import (
	"context"
	"errors"
	"fmt"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// stage takes one stage, or gives its checks the answer that they were not
// asked.
func (r *run) stage(ctx context.Context, st Stage) {
	if why, s := r.barred(st); why != "" {
		r.skip(st, why, s)
		return
	}
	if st.When != nil {
		t, err := decide(st.When, r)
		switch {
		case err != nil || t == open:
			r.skip(st, whyOpen(st.When, err), untrusted)
			return
		case t == no:
			r.leaveOut(st.checks(), st.When)
			return
		}
	}
	r.buffer = true
	again, err := r.take(ctx, st)
	if again && err == nil {
		err = r.plugAgain(ctx, st)
		if err == nil && r.over == "" {
			_, err = r.take(ctx, st)
		}
	}
	switch {
	case err != nil && st.Unseated:
		r.trouble(ctx, err, nil)
	case err != nil:
		r.trouble(ctx, err, &st)
	}
	r.release()
	r.skip(st, r.over, untrusted)
}

// barred says why a stage cannot be asked at all.
func (r *run) barred(st Stage) (string, standing) {
	switch {
	case r.over != "":
		return r.over, untrusted
	case st.Powered && !r.powered:
		return fmt.Sprintf("not asked: no power without %s, and %s has not passed", probeCondition, r.gate), notAsked
	}
	if name, is := r.out.unmet(st.Requires); is {
		return fmt.Sprintf("not asked: %s has not passed", name), notAsked
	}
	if r.sc.AfterFail == AskHazards && !st.hazard() {
		if failed := r.out.failed(); len(failed) > 0 {
			return fmt.Sprintf("not asked: %s has failed, and then only hazards are asked for", failed[0].check.Name), notAsked
		}
	}
	return "", judged
}

// skip answers what has no answer yet as unanswered.
func (r *run) skip(st Stage, why string, s standing) {
	if why == "" {
		return
	}
	for _, c := range st.checks() {
		if _, answered := r.out.byKey[c.Name]; answered || r.left(c.Name) {
			continue
		}
		r.answer(&outcome{check: c, standing: s, answer: record.Check{Answer: record.Unanswered, Why: why}})
	}
}

// left tells whether a check was left out because its "when" did not hold.
func (r *run) left(name string) bool {
	x, ok := r.results["left out: "+name]
	return ok && x.unsettled == ""
}

// leaveOut lists checks whose "when" does not hold; they are neither asked nor
// forgotten.
func (r *run) leaveOut(list []Check, when truth) {
	for _, c := range list {
		r.results["left out: "+c.Name] = result{}
		r.keep(record.Excluded{NotObservable: record.NotObservable{
			Check: c.Name, Title: c.Title, Why: fmt.Sprintf("not asked of this unit: %s does not hold", when),
		}})
	}
}

func whyOpen(when truth, err error) string {
	if err != nil {
		return fmt.Sprintf("whether to ask could not be told: %v", err)
	}
	return fmt.Sprintf("whether to ask could not be told: %s is open", when)
}

// take enters the stage's setting and takes its steps. It is true when the
// unit shall be plugged again first.
func (r *run) take(ctx context.Context, st Stage) (bool, error) {
	r.at(st, "")
	if !st.probes() {
		if err := r.enter(ctx, st); err != nil {
			return false, err
		}
	}
	for rest := st.Steps; len(rest) > 0; {
		group := rest[:max(1, r.sc.together(rest))]
		rest = rest[len(group):]
		step := group[0]
		r.at(st, step.Label())
		if len(group) > 1 {
			if err := r.readTogether(ctx, group); err != nil {
				return false, err
			}
			continue
		}
		if c, ok := step.(Check); ok {
			if err := r.check(ctx, st, c); err != nil {
				return false, err
			}
			continue
		}
		if s, ok := step.(Reseat); ok {
			if r.wantsReseat(s) {
				r.remark("re-seat", s.Why)
				return true, nil
			}
			continue
		}
		if err := r.measure(ctx, step); err != nil {
			return false, err
		}
		if _, ok := step.(Probe); ok && r.over != "" {
			return false, nil
		}
	}
	if st.probes() {
		r.pass(st)
	}
	return false, nil
}

// at tells whoever watches the time where the run is.
func (r *run) at(st Stage, step string) {
	if r.job.At != nil {
		r.job.At(st, step)
	}
}

func (r *run) enter(ctx context.Context, st Stage) error {
	err := r.moveTo(ctx, st.Setting)
	if errors.Is(err, bench.ErrHeld) {
		err = r.enterAgain(ctx, st, err)
		r.flushRelays()
	}
	return err
}

// moveTo leads the rig to a setting; the moves of the relays are written under
// its name.
func (r *run) moveTo(ctx context.Context, set wiring.Setting) error {
	if r.job.Relays != nil {
		r.flushRelays()
		r.job.Relays.condition = set.String()
	}
	err := r.b.Enter(ctx, set)
	r.flushRelays()
	return err
}

// enterAgain tries once more from isolated, where the bench has led the rig. A
// unit that feeds VBUS from the cell substitute loses its source there: what
// falls with the cell came from it.
func (r *run) enterAgain(ctx context.Context, st Stage, held error) error {
	if err := r.b.Enter(ctx, st.Setting); err != nil {
		return err
	}
	r.remark("interlock", fmt.Sprintf("%v; it fell when the cell was taken off", held))
	r.trip(heldUp, fmt.Sprintf("%v; it fell when the cell was taken off, so the cell feeds it through the unit", held))
	return nil
}

// pass lets the bench apply power when every gate has passed.
func (r *run) pass(st Stage) {
	r.powered = true
	for _, c := range st.checks() {
		if c.Gate && r.out.answer(c.Name) != record.Passed {
			r.powered, r.gate = false, c.Name
			return
		}
	}
	r.b.Pass(probeCondition)
}

// release lets the events of a stage out.
func (r *run) release() {
	r.buffer = false
	for _, e := range r.held {
		r.note(e)
	}
	r.held = r.held[:0]
}

// answer gives a check its answer.
func (r *run) answer(x *outcome) {
	c := x.check
	x.answer.Name, x.answer.Title = c.Name, c.Title
	x.answer.Control, x.answer.Condition = c.Control != "", c.Condition
	x.answer.AtUS = r.now()
	x.causes = r.out.failedAmong(c.Because)
	if x.answer.Answer == record.Failed {
		if len(x.causes) > 0 {
			x.answer.Why += "; follows from the fail of " + x.causes[0]
		} else {
			x.answer.Rework = c.Rework
		}
	}
	r.out.add(x)
	r.keep(record.Answered{Check: x.answer})
}
