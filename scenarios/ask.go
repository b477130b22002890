package scenarios

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

// check asks one question. The error is the bench's; whatever else keeps the
// check from an answer is its answer.
func (r *run) check(ctx context.Context, st Stage, c Check) error {
	r.asked++
	r.note(record.Asked{AtUS: r.now(), Check: c.Name, Title: c.Title, Number: r.asked, Of: len(r.sc.Checks())})
	why, s := r.withheld(c)
	if s == leftOut {
		return nil
	}
	if why != "" {
		r.answer(&outcome{check: c, standing: s, answer: record.Check{Answer: record.Unanswered, Why: why}})
		return nil
	}
	x, err := r.ask(ctx, c.Name, c, c.Value)
	if err != nil {
		return err
	}
	if c.Control != "" && x.answer.Answer == record.Failed {
		return r.lift(ctx, st, x)
	}
	r.answer(x)
	return nil
}

// leftOut is the standing of a check that is not part of this run.
const leftOut standing = -1

// withheld says why a check cannot be asked now; empty when it can.
func (r *run) withheld(c Check) (string, standing) {
	if name, is := r.out.unmet(c.Requires); is {
		return fmt.Sprintf("not asked: %s has not passed", name), notAsked
	}
	if name, is := r.out.distrusted(c.Trusts); is {
		return fmt.Sprintf("the control %s does not vouch for the bench", name), untrusted
	}
	if c.When != nil {
		t, err := decide(c.When, r)
		switch {
		case errors.Is(err, errMissing):
			return fmt.Sprintf("not asked: %v", err), notAsked
		case err != nil || t == open:
			return whyOpen(c.When, err), untrusted
		case t == no:
			r.leaveOut([]Check{c}, c.When)
			return "", leftOut
		}
	}
	if c.Provided != nil {
		if t, err := decide(c.Provided, r); err != nil || t != yes {
			return c.ProvidedWhy, untrusted
		}
	}
	return "", judged
}

// ask evaluates and judges. name is what channels that are read now are called
// after.
func (r *run) ask(ctx context.Context, name string, c Check, value Expr) (*outcome, error) {
	v := &reader{run: r, ctx: ctx, name: name}
	m, err := evaluate(value, v)
	if v.trouble != nil {
		return nil, v.trouble
	}
	x := &outcome{check: c, answer: record.Check{Readings: append(readingsOf(value), v.taken...)}}
	switch {
	case errors.Is(err, errMissing):
		x.standing = notAsked
		x.answer = record.Check{Answer: record.Unanswered, Why: fmt.Sprintf("not asked: %v", err)}
		return x, nil
	case err != nil:
		x.standing, x.answer.Answer, x.answer.Why = untrusted, record.Unanswered, err.Error()
		return x, nil
	}
	j, err := judge(m, c, r.sc.Decision)
	if err != nil {
		return nil, err
	}
	x.answer.Answer, x.answer.Why = j.answer, j.why
	x.answer.Value, x.answer.Lower, x.answer.Upper = j.value, j.lower, j.upper
	// A value that should have been steady and was not has no place inside
	// limits, wherever its mean happens to lie.
	for _, name := range readingsOf(value) {
		if why := r.results[name].unsettled; why != "" && j.answer != record.Failed {
			x.answer.Answer, x.answer.Why = record.Failed, why
		}
	}
	return x, nil
}

// reader gives an expression readings, and reads channels while it does.
type reader struct {
	*run
	ctx     context.Context
	name    string
	taken   []string
	trouble error
}

// channel implements values.
func (v *reader) channel(name string) (quantity.Measured, error) {
	x, err := v.b.Read(v.ctx, name, bench.ReadOptions{})
	if err != nil {
		v.trouble = err
		return quantity.Measured{}, err
	}
	full := v.name + "/" + name
	v.taken = append(v.taken, full)
	return x.Value, v.store(full, result{value: x.Value}, name, x.At)
}

// lift asks a control that failed once more without the unit. What goes away
// with the unit was the unit's, and fails it; what stays is the bench's, and
// takes the trust out of every answer that rests on the control.
func (r *run) lift(ctx context.Context, st Stage, x *outcome) error {
	c := x.check
	r.remark("control", fmt.Sprintf("%s: %s; asked again with the unit lifted", c.Name, x.answer.Why))
	clean, err := r.lifted(ctx, st, c)
	if err != nil {
		return err
	}
	if clean {
		x.answer.Why += "; it went away with the unit, so it is the unit's"
	} else {
		x.standing = benchFailed
		x.answer.Why += "; it stays without the unit, so it is the bench's"
	}
	r.answer(x)
	if r.over != "" {
		return nil
	}
	return r.seatAgain(ctx, st)
}

// lifted tells whether a control has its right answer without the unit.
func (r *run) lifted(ctx context.Context, st Stage, c Check) (bool, error) {
	empty, err := r.takeOut(ctx, "a control failed; take the unit out, so that the bench can be asked alone")
	if err != nil || !empty {
		return false, err
	}
	r.b.Pass(probeCondition)
	if err := r.b.Enter(ctx, st.Setting); err != nil {
		return false, err
	}
	for _, step := range c.Lifted.Steps {
		if err := r.measure(ctx, step); err != nil {
			return false, err
		}
	}
	x, err := r.ask(ctx, c.Name+", lifted", c, c.Lifted.Value)
	if err != nil {
		return false, err
	}
	r.flushRelays()
	return x.answer.Answer == record.Passed, nil
}

// takeOut has the unit lifted and measures the nest empty. It is false when
// the nest is not: then whatever is wrong does not need a unit.
func (r *run) takeOut(ctx context.Context, why string) (bool, error) {
	if err := r.b.Safe(); err != nil && !errors.Is(err, bench.ErrHeld) {
		return false, err
	}
	if err := r.job.Handler.Unseat(ctx, r.job.Opening.Serial, why); err != nil {
		return false, fmt.Errorf("unseat %s: %w", r.job.Opening.Serial, err)
	}
	if err := r.b.Begin(ctx); err != nil {
		return false, err
	}
	_, err := r.b.Empty(ctx)
	if errors.Is(err, bench.ErrOccupied) || errors.Is(err, bench.ErrHeld) {
		r.over = fmt.Sprintf("the unit was lifted, and the nest does not measure empty: %v", err)
		return false, nil
	}
	return err == nil, err
}

// seatAgain puts the unit back and leads the rig to where it was.
func (r *run) seatAgain(ctx context.Context, st Stage) error {
	if err := r.b.Safe(); err != nil {
		return err
	}
	if err := r.job.Handler.Seat(ctx, r.job.Opening.Serial); err != nil {
		return fmt.Errorf("seat %s again: %w", r.job.Opening.Serial, err)
	}
	p, err := r.b.Probe(ctx)
	if err != nil {
		return err
	}
	if !p.Present {
		r.over = "after the unit was lifted it could not be shown that it is seated again"
		return nil
	}
	if r.powered {
		r.b.Pass(probeCondition)
	}
	return r.enter(ctx, st)
}

// trouble decides whose an error of the bench is and ends the asking.
func (r *run) trouble(ctx context.Context, err error, st *Stage) {
	if cause := ctx.Err(); cause != nil {
		r.cancelled = cause
		r.faulted("interrupted", fmt.Errorf("interrupted: %w", cause))
		return
	}
	name := suspect(err)
	if _, asked := r.interlock(name); !asked || st == nil {
		r.faulted("bench fault", err)
		return
	}
	r.remark("interlock", fmt.Sprintf("%v; asked again with the unit lifted", err))
	clean, again := r.quiet(ctx, name, *st)
	switch {
	case again != nil:
		r.faulted("bench fault", errors.Join(err, again))
	case !clean:
		r.faulted("bench fault", fmt.Errorf("%w; it stays without the unit", err))
	default:
		r.trip(name, fmt.Sprintf("%v; it went away with the unit, so it is the unit's", err))
		if r.over == "" {
			r.over = fmt.Sprintf("the unit was taken out after %s", name)
		}
	}
}

// suspect names the interlock of a scenario that an error would trip.
func suspect(err error) string {
	var i *bench.Interlock
	switch {
	case errors.As(err, &i):
		for name, kind := range interlockNames() {
			if kind == i.Kind {
				return name
			}
		}
	case errors.Is(err, bench.ErrHeld):
		return heldUp
	}
	return ""
}

// quiet tells whether what tripped does not trip without the unit.
func (r *run) quiet(ctx context.Context, name string, st Stage) (bool, error) {
	empty, err := r.takeOut(ctx, "the guard tripped; take the unit out, so that the bench can be asked alone")
	if err != nil || !empty || name == heldUp {
		return empty, err
	}
	if st.Powered {
		r.b.Pass(probeCondition)
	}
	err = r.b.Enter(ctx, st.Setting)
	if err == nil {
		err = r.dwell(ctx, st)
	}
	var i *bench.Interlock
	if errors.As(err, &i) {
		return false, nil
	}
	return err == nil, err
}

// dwellTime is how long a rig without a unit must not trip: longer than the
// 475 ms that a C supply may take to apply VBUS (tCCDebounce + tVBUSON, USB
// Type-C R2.1, tables 4-31 and 4-29).
const dwellTime = 500 * time.Millisecond

// dwell watches a channel of the stage, so that the guard is served.
func (r *run) dwell(ctx context.Context, st Stage) error {
	for _, step := range st.Steps {
		channel := ""
		switch s := step.(type) {
		case Wait:
			channel = s.Channel
		case Read:
			channel = s.Channel
		case Sample:
			channel = s.Channel
		}
		if channel != "" {
			_, err := r.b.Capture(ctx, bench.Capture{Channel: channel, For: dwellTime})
			return err
		}
	}
	return nil
}

func (r *run) interlock(name string) (Check, bool) {
	for _, c := range r.sc.Interlocks {
		if c.Name == name {
			return c, true
		}
	}
	return Check{}, false
}

func (r *run) trip(name, why string) {
	if r.tripped == nil {
		r.tripped = map[string]string{}
	}
	if _, before := r.tripped[name]; !before {
		r.tripped[name] = why
	}
}

// answerInterlocks answers the checks that the guard watched over.
func (r *run) answerInterlocks() {
	for _, c := range r.sc.Interlocks {
		x := &outcome{check: c, answer: record.Check{Answer: record.Passed}}
		switch why, failed := r.tripped[c.Name]; {
		case failed:
			x.answer.Answer, x.answer.Why = record.Failed, why
		case r.over != "":
			x.standing, x.answer.Answer, x.answer.Why = untrusted, record.Unanswered, r.over
		}
		r.answer(x)
	}
}
