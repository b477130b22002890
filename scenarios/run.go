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

// Run executes a scenario on one unit: the nest is measured empty, the unit is
// seated and the probe shows it, the stages follow in order, and the rig ends
// isolated whatever happens. The record that comes back is complete and valid
// even where an error comes with it.
//
// The error is nil when the run came to its end, with whatever verdict; what
// the bench could not do is in the record. It is the context's when the run
// was cancelled.
func Run(ctx context.Context, job Job) (record.Run, error) {
	checks, readings, moves := job.Scenario.size()
	r := &run{job: job, sc: job.Scenario, of: checks, b: job.Bench, results: make(map[string]result, readings)}
	r.out.byKey = make(map[string]*outcome, checks)
	r.fold.Expect(checks, readings, moves)
	r.start = r.b.Now()
	if err := r.emit(record.Opened{Opening: job.Opening}); err != nil {
		return record.Run{}, fmt.Errorf("run of %s: %w", job.Opening.Serial, err)
	}
	for _, n := range r.sc.NotObservable {
		r.note(record.Excluded{NotObservable: n})
	}
	err := r.b.Do(func() error {
		r.execute(ctx)
		return nil
	})
	if err != nil {
		r.faulted("end isolated", err)
	}
	r.close()
	if r.foldErr != nil {
		return r.fold.Run(), fmt.Errorf("run of %s: %w", job.Opening.Serial, r.foldErr)
	}
	return r.fold.Run(), r.cancelled
}

// run is one execution.
type run struct {
	job   Job
	sc    *Scenario
	b     Bench
	start time.Duration

	fold    record.Fold
	foldErr error
	// held are the events of the stage that is being taken: a reseat takes it
	// again, and only what counts may stand under its name.
	held   []record.Event
	buffer bool

	results map[string]result
	out     outcomes
	asked   int // checks so far, of the number in the scenario
	of      int

	// powered tells that the gate was passed.
	powered bool
	// gate names the check that keeps the power off.
	gate     string
	reseated bool
	// alone are the answers of controls that were asked with the unit lifted,
	// by their names without the key of a round.
	alone map[string]bool
	// over says why nothing more is asked; fault, what the bench could not do.
	over, fault string
	// doubt is the wrong answer of a control that was asked with nothing
	// seated.
	doubt     *bench.Fault
	cancelled error
	// tripped are the interlock checks that failed, with the reason.
	tripped map[string]string
}

// result is a reading as the run keeps it.
type result struct {
	value quantity.Measured
	// unsettled says how a reading that should have been steady was not.
	unsettled string
	// missing says why there is no value, where the bench could not tell.
	missing string
}

// emit folds an event and tells the observer.
func (r *run) emit(e record.Event) error {
	if err := r.fold.Apply(e); err != nil {
		return err
	}
	if r.job.Emit != nil {
		r.job.Emit(e)
	}
	return nil
}

// note emits an event; a run that cannot be folded is reported at its end.
func (r *run) note(e record.Event) {
	if err := r.emit(e); err != nil && r.foldErr == nil {
		r.foldErr = err
	}
}

// keep holds an event back until the stage counts.
func (r *run) keep(e record.Event) {
	if r.buffer {
		r.held = append(r.held, e)
		return
	}
	r.note(e)
}

// us is an instant of the rig's clock as an offset from the start.
func (r *run) us(at time.Duration) int64 { return max(0, (at - r.start).Microseconds()) }

func (r *run) now() int64 { return r.us(r.b.Now()) }

func (r *run) remark(kind, text string) {
	r.note(record.Noted{Note: record.Note{AtUS: r.now(), Kind: kind, Text: text}})
}

// execute takes everything between the opening and the isolated end.
func (r *run) execute(ctx context.Context) {
	defer r.flushRelays()
	if err := r.admit(ctx); err != nil {
		r.trouble(ctx, err, nil)
	}
	seated := false
	for i, st := range r.sc.Stages {
		if !st.Unseated && !seated {
			seated = true
			if err := r.seat(ctx, i > 0); err != nil {
				r.trouble(ctx, err, nil)
			}
		}
		r.stage(ctx, st)
	}
	r.answerInterlocks()
	r.confirm(ctx)
}

// admit measures the nest empty.
func (r *run) admit(ctx context.Context) error {
	if err := r.b.Begin(ctx); err != nil {
		return err
	}
	if _, err := r.b.Empty(ctx); err != nil {
		return err
	}
	r.flushRelays()
	return nil
}

// close settles what remains and emits the last event.
func (r *run) close() {
	r.flushRelays()
	findings := r.out.findings()
	for _, f := range findings {
		r.note(record.Suspected{Finding: f})
	}
	verdict, reason, bin := r.out.verdict(r.fault)
	r.note(record.Closed{DurationUS: r.now(), Verdict: verdict, Reason: reason, Bin: bin})
}

// flushRelays writes the moves and guard events since the last time.
func (r *run) flushRelays() {
	if r.job.Relays == nil {
		return
	}
	for _, p := range r.job.Relays.patterns() {
		condition := r.job.Relays.condition
		if condition == "" {
			condition = isolated
		}
		r.note(record.Moved{RelayMove: record.RelayMove{
			AtUS: r.us(p.at), Condition: condition, On: p.on, Off: p.off, Coils: p.coils,
		}})
	}
	for _, n := range r.job.Relays.guardEvents() {
		if n.Err != nil {
			r.note(record.Noted{Note: record.Note{AtUS: r.us(n.At), Kind: "guard", Text: fmt.Sprintf("%s: %v", n.What, n.Err)}})
		}
	}
}

// faulted records what the bench could not do and ends the asking.
func (r *run) faulted(doing string, err error) {
	what := err.Error()
	hint := ""
	var f *bench.Fault
	var i *bench.Interlock
	switch {
	case errors.As(err, &f):
		hint = f.Hint
	case errors.As(err, &i):
		hint = i.Hint
	}
	if hint == "" {
		hint = "Run the rig's self-test before the next unit."
	}
	if r.fault == "" {
		r.fault = "the bench could not judge: " + what
	}
	if r.over == "" {
		r.over = "the bench could not go on (" + doing + ")"
	}
	r.note(record.Faulted{BenchFault: record.BenchFault{AtUS: r.now(), What: what, Hint: hint}})
}
