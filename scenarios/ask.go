package scenarios

import (
	"context"
	"errors"
	"fmt"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

// check asks one question. The error is the bench's; whatever else keeps the
// check from an answer is its answer.
func (r *run) check(ctx context.Context, st Stage, c Check) error {
	r.asked++
	r.note(record.Asked{AtUS: r.now(), Check: c.Name, Title: c.Title, Number: r.asked, Of: r.of})
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
	switch {
	case x.answer.Answer != record.Failed || c.Control == "":
	case st.Unseated:
		r.unsound(x)
		return nil
	default:
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
	readings := readingsOf(value)
	x := &outcome{check: c, answer: record.Check{Readings: append(readings, v.taken...)}}
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
	for _, name := range readings {
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
