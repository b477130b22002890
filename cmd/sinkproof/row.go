package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/turns"
	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

// row is a rig with several nests: a station for each, on one loop and one ledger.
// Each takes its own units, judges them for itself, and commits their records while
// its nest is shut; the chain has them in the order in which they were committed.
type row struct {
	table *bench.Table
	nests []*station
	// next is the next unit of a nest; false where no more will come.
	next func(ctx context.Context, nest int) (unit, bool, error)
	// told is called for every record that was kept, for one at a time and beside the
	// loop: whoever reads what is printed may be slow.
	told func(done)
	// scanning: more units come by hand. A nest that is out of service is tried
	// again for each, instead of refusing all that are listed.
	scanning bool
	// out is why a nest is out of service, and may be mended; refused is why it
	// takes no units today. Both are nil for one that works.
	out, refused []error
}

// newRow makes a station for each nest, like the one that is given. handlers move
// their units.
func newRow(like *station, handlers []handler) *row {
	papers := like.papers.nests()
	r := &row{table: bench.NewTable(like.hardware, len(papers)), out: make([]error, len(papers)), refused: make([]error, len(papers))}
	lines := &oneByOne{w: like.screen.w}
	for i, p := range papers {
		s := *like
		s.papers, s.handler, s.hardware = p, handlers[i], r.table.Hardware(i)
		s.screen = like.screen.of(p.rig.Rig.Nest.Name, lines)
		r.nests = append(r.nests, &s)
	}
	return r
}

// name is that of a nest.
func (r *row) name(nest int) string { return r.nests[nest].papers.rig.Rig.Nest.Name }

// names are those of all nests, in the order of their numbers.
func (r *row) names() []string {
	out := make([]string, len(r.nests))
	for i := range out {
		out[i] = r.name(i)
	}
	return out
}

// besideLoop lets the loop go on while something is done beside it, for one nest
// at a time: nothing that they share need be safe for two.
func besideLoop(clock bench.Clock, one *sync.Mutex) func(context.Context, func() error) error {
	return func(ctx context.Context, f func() error) error {
		done := make(chan error, 1)
		go func() {
			one.Lock()
			defer one.Unlock()
			done <- f()
		}()
		for {
			select {
			case err := <-done:
				return err
			default:
			}
			// What was begun is waited for, whatever became of the context.
			if err := clock.Sleep(context.WithoutCancel(ctx), besideEvery); err != nil {
				return <-done
			}
		}
	}
}

// besideEvery is how often the loop looks whether it is done. Own choice.
const besideEvery = 2 * time.Millisecond

// try opens every nest once. One that does not open is out of service.
func (r *row) try(ctx context.Context) error {
	for i, s := range r.nests {
		if err := tryBench(ctx, s.papers, s.hardware); err != nil {
			r.outOfService(i, err)
		}
	}
	return r.idle()
}

// outOfService says why a nest takes no units until it was mended.
func (r *row) outOfService(nest int, why error) {
	r.out[nest] = inNest(r.name(nest), why)
	r.nests[nest].screen.line("out of service: %v", why)
}

// refuse says why a nest takes no units at all.
func (r *row) refuse(nest int, why error) {
	r.refused[nest] = inNest(r.name(nest), why)
	r.nests[nest].screen.line("refused: %v", why)
}

// idle is why no nest will take units; nil as long as one may.
func (r *row) idle() error {
	for i := range r.nests {
		if r.refused[i] == nil && (r.scanning || r.out[i] == nil) {
			return nil
		}
	}
	return cmp.Or(r.refused[0], r.out[0])
}

// ready is why a nest cannot take a unit now.
func (r *row) ready(ctx context.Context, i int) error {
	if r.refused[i] != nil {
		return r.refused[i]
	}
	if r.out[i] != nil && r.scanning {
		if err := tryBench(ctx, r.nests[i].papers, r.nests[i].hardware); err != nil {
			r.out[i] = inNest(r.name(i), err)
		} else {
			r.out[i] = nil
		}
	}
	return r.out[i]
}

// inNest says in which nest something happened.
func inNest(name string, err error) error {
	var o *outcome
	if errors.As(err, &o) {
		return &outcome{code: o.code, err: fmt.Errorf("%s: %w", name, o.err), hint: o.hint}
	}
	return fmt.Errorf("%s: %w", name, err)
}

// run takes units in all nests until no more come. Its errors are those of the
// nests, in the order of their numbers.
func (r *row) run(ctx context.Context) []error {
	errs := make([][]error, len(r.nests))
	works := make([]func(context.Context) error, len(r.nests))
	for i := range works {
		works[i] = func(ctx context.Context) error {
			errs[i] = r.work(ctx, i)
			return nil
		}
	}
	err := r.table.Run(ctx, works...)
	var all []error
	for _, list := range errs {
		all = append(all, list...)
	}
	if err != nil {
		all = append(all, err)
	}
	return all
}

// work takes the units of one nest. A unit that the ledger refuses is the unit's
// own matter; a bench that cannot be opened puts the nest out of service, and so
// does a ledger that cannot be written.
func (r *row) work(ctx context.Context, i int) (errs []error) {
	s := r.nests[i]
	for {
		u, more, err := r.next(ctx, i)
		if err != nil || !more {
			if err != nil {
				errs = append(errs, inNest(r.name(i), err))
			}
			return errs
		}
		if err := r.ready(ctx, i); err != nil {
			errs = append(errs, err)
			s.screen.line("%s is not taken: %v", u.serial, err)
			if !r.scanning {
				return errs
			}
			continue
		}
		d, err := s.take(ctx, u)
		if d.run.ID != "" {
			_ = s.aside(ctx, func() error { r.told(d); return nil })
		}
		if err == nil {
			continue
		}
		errs = append(errs, inNest(r.name(i), err))
		s.screen.line("%s  %v", u.serial, err)
		if ctx.Err() != nil || errors.Is(err, turns.ErrOver) {
			return errs
		}
		if d.run.ID == "" && !ofTheUnit(err) {
			r.out[i] = inNest(r.name(i), err)
			if !r.scanning {
				return errs
			}
		}
	}
}

// ofTheUnit tells whether a unit was not taken for a reason of its own.
func ofTheUnit(err error) bool {
	return errors.Is(err, ledger.ErrAttempts) || errors.Is(err, ledger.ErrGolden) || errors.Is(err, record.ErrInvalid)
}

// take judges one unit, against its lot where it has one.
func (s *station) take(ctx context.Context, u unit) (done, error) {
	var lot *ledger.Lot
	err := s.aside(ctx, func() (err error) {
		u, lot, err = s.against(ctx, u)
		return err
	})
	if err != nil {
		return done{}, err
	}
	d, err := s.judge(ctx, u)
	if err == nil {
		err = s.aside(ctx, func() error { return s.tellLot(ctx, lot) })
	}
	return d, err
}

// worst is the outcome of several runs: a refusal, then a bench that could not
// judge, then a unit that was judged bad.
func worst(runs []done, errs []error) error {
	code := func(err error) int { return report(io.Discard, err) }
	var all error
	for _, err := range errs {
		if code(err) > code(all) {
			all = err
		}
	}
	for _, d := range runs {
		if err := exitOf(d.run); code(err) > code(all) {
			all = err
		}
	}
	return all
}
