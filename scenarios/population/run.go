package population

import (
	"context"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
)

// Options say how a population is run.
type Options struct {
	// Workers is the number of rigs side by side; 0 takes every core.
	Workers int
	// Progress, when set, is told after each unit how many are done. It is
	// called from several goroutines, and must return at once.
	Progress func(done int)
}

// Run puts a population through its rigs. fold makes of each outcome, where
// it was made, what is to be kept of it; take gets that in the order of the
// plan, one at a time. Neither result nor order depend on the workers.
//
// It returns how many units were taken. When the context ends, the units that
// were begun are given up, every unit that was finished is still taken, in
// order, and the error is the context's. The first error of a simulator ends
// the run in the same way.
func Run[T any](ctx context.Context, p Plan, o Options, open Factory, fold func(Unit, Outcome) T, take func(Unit, T)) (int, error) {
	if err := p.validate(); err != nil {
		return 0, err
	}
	r := &runner[T]{open: open, fold: fold, progress: o.Progress}
	work, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.NumCPU()
	}
	// The queue keeps the order of the batches and bounds how far the quick
	// may run ahead of the slow.
	queue, jobs := make(chan *job[T], 2*workers), make(chan *job[T])
	var all sync.WaitGroup
	all.Go(func() { dispatch(work, p, queue, jobs) })
	for range workers {
		all.Go(func() {
			for j := range jobs {
				if err := r.batch(work, j); err != nil {
					stop(err)
				}
				close(j.done)
			}
		})
	}
	taken := 0
	for j := range queue {
		<-j.done
		for i, kept := range j.kept {
			take(j.units[i], kept)
		}
		taken += len(j.kept)
	}
	all.Wait()
	if err := context.Cause(work); err != nil && taken < p.Units() {
		return taken, fmt.Errorf("after %d of %d units: %w", taken, p.Units(), err)
	}
	return taken, nil
}

// job is one batch and what was kept of it.
type job[T any] struct {
	units []Unit
	kept  []T
	done  chan struct{}
}

// dispatch hands the batches out until there is none left or nobody wants
// them any more.
func dispatch[T any](ctx context.Context, p Plan, queue, jobs chan<- *job[T]) {
	defer close(queue)
	defer close(jobs)
	for units := range p.batches() {
		j := &job[T]{units: units, done: make(chan struct{})}
		select {
		case <-ctx.Done():
			return
		case queue <- j:
		}
		select {
		case <-ctx.Done():
			close(j.done)
			return
		case jobs <- j:
		}
	}
}

// runner is what the workers share.
type runner[T any] struct {
	open     Factory
	fold     func(Unit, Outcome) T
	progress func(int)
	finished atomic.Int64
}

// batch takes the units of a batch through a rig of their own.
func (r *runner[T]) batch(ctx context.Context, j *job[T]) (err error) {
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	rig := j.units[0].Rig
	s, err := r.open(ctx, rig)
	if err != nil {
		return fmt.Errorf("make rig %d (seed %d): %w", rig.Number, rig.Seed, err)
	}
	defer func() {
		if closing := s.Close(); closing != nil && err == nil {
			err = fmt.Errorf("close rig %d (seed %d): %w", rig.Number, rig.Seed, closing)
		}
	}()
	j.kept = make([]T, 0, len(j.units))
	for _, u := range j.units {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		o, err := s.Run(ctx, u)
		if err != nil {
			return fmt.Errorf("unit %s on rig %d (seed %d): %w", u.Serial, rig.Number, rig.Seed, err)
		}
		j.kept = append(j.kept, r.fold(u, o))
		if done := r.finished.Add(1); r.progress != nil {
			r.progress(int(done))
		}
	}
	return nil
}
