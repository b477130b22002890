package scenarios

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"sinkproof/bench"
	"sinkproof/reports/record"
)

// lift asks a control that failed once more without the unit. What goes away
// with the unit was the unit's, and fails it; what stays is the bench's, and
// takes the trust out of every answer that rests on the control. The answer
// stands for every round of the control: nobody is asked twice in a run to
// take the unit out for the same question.
func (r *run) lift(ctx context.Context, st Stage, x *outcome) error {
	c := x.check
	name, _, _ := strings.Cut(c.Name, "[")
	clean, known := r.alone[name]
	if !known {
		r.remark("control", fmt.Sprintf("%s: %s; asked again with the unit lifted", c.Name, x.answer.Why))
		var err error
		if clean, err = r.lifted(ctx, c); err != nil {
			return err
		}
		if r.alone == nil {
			r.alone = map[string]bool{}
		}
		r.alone[name] = clean
	}
	if clean {
		x.answer.Why += "; it went away with the unit, so it is the unit's"
	} else {
		x.standing = benchFailed
		x.answer.Why += "; it stays without the unit, so it is the bench's"
	}
	r.answer(x)
	if known || r.over != "" {
		return nil
	}
	return r.seatAgain(ctx, st)
}

// lifted tells whether a control has its right answer without the unit.
func (r *run) lifted(ctx context.Context, c Check) (bool, error) {
	empty, err := r.takeOut(ctx, "a control failed; take the unit out, so that the bench can be asked alone")
	if err != nil || !empty {
		return false, err
	}
	r.b.Pass(probeCondition)
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
	if errors.Is(err, bench.ErrOccupied) || errors.Is(err, bench.ErrUnproved) || errors.Is(err, bench.ErrHeld) {
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
	r.remark("re-seat", "the unit is plugged again after it was lifted")
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
