package scenarios

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sinkproof/bench"
	"sinkproof/reports/record"
)

// interruption is the end of a run that somebody, or a time limit, broke off.
type interruption struct{ cause error }

// Error says which of the two it was.
func (i *interruption) Error() string {
	if errors.Is(i.cause, context.DeadlineExceeded) {
		return "the time for the run was over before its last check"
	}
	return "interrupted before the last check"
}

// Unwrap returns the cause.
func (i *interruption) Unwrap() error { return i.cause }

// trouble decides whose an error of the bench is and ends the asking.
func (r *run) trouble(ctx context.Context, err error, st *Stage) {
	if cause := ctx.Err(); cause != nil {
		r.cancelled = cause
		r.faulted("interrupted", &interruption{cause})
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
