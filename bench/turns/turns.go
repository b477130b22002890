package turns

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"time"
)

// ErrOver is the cause when a nest is to end because another has panicked.
var ErrOver = errors.New("the work of all nests is over")

// Clock is the time that the nests share.
type Clock interface {
	Now() time.Duration
	Sleep(ctx context.Context, d time.Duration) error
}

// Table is where the nests sit. It is not for concurrent use.
type Table struct {
	clock Clock
	seats []Seat
}

// New returns a table with so many seats on one clock.
func New(clock Clock, seats int) *Table {
	t := &Table{clock: clock, seats: make([]Seat, seats)}
	for i := range t.seats {
		t.seats[i].table = t
	}
	return t
}

// Seat is the clock of one nest. Outside of Run it is the table's clock.
type Seat struct {
	table *Table
	// give hands the turn on; nil outside of Run.
	give func(struct{}) bool
	next func() (struct{}, bool)
	// ctx and wake are those of the sleep; slept is what became of it.
	ctx   context.Context
	wake  time.Duration
	slept error
	ended bool
	err   error
}

// Seat returns the clock of the i-th nest, from 0.
func (t *Table) Seat(i int) *Seat { return &t.seats[i] }

// Now is the time on the table's clock.
func (s *Seat) Now() time.Duration { return s.table.clock.Now() }

// Sleep gives the turn to whoever wakes before, and returns after at least d. A
// context that is done ends it at once.
func (s *Seat) Sleep(ctx context.Context, d time.Duration) error {
	if s.give == nil || d <= 0 {
		return s.table.clock.Sleep(ctx, d)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	s.ctx, s.wake = ctx, s.Now()+d
	if !s.give(struct{}{}) {
		// The way to the safe state sleeps too: from here on without turns.
		s.give = nil
		return fmt.Errorf("sleep %s: %w", d, ErrOver)
	}
	return s.slept
}

// Run lets every nest do its work, the i-th on the clock of the i-th seat, and
// returns when all have ended, with their errors joined in the order of the
// nests. There must be as many works as seats.
func (t *Table) Run(ctx context.Context, works ...func(context.Context) error) error {
	if len(works) != len(t.seats) {
		return fmt.Errorf("run %d works on %d nests: one work a nest is needed", len(works), len(t.seats))
	}
	for i, work := range works {
		s := &t.seats[i]
		s.ctx, s.wake, s.slept, s.ended, s.err = ctx, t.clock.Now(), nil, false, nil
		next, stop := iter.Pull(func(give func(struct{}) bool) {
			s.give = give
			defer func() { s.give = nil }()
			s.err = work(ctx)
		})
		s.next = next
		defer stop()
	}
	for {
		s := t.first()
		if s == nil {
			break
		}
		// A sleep of no length ends with the context's error too.
		s.slept = t.clock.Sleep(s.ctx, s.wake-t.clock.Now())
		if _, ok := s.next(); !ok {
			s.ended = true
		}
	}
	var errs []error
	for i := range t.seats {
		errs = append(errs, t.seats[i].err)
	}
	return errors.Join(errs...)
}

// first is the nest that wakes first, nil where all have ended.
func (t *Table) first() *Seat {
	var first *Seat
	for i := range t.seats {
		if s := &t.seats[i]; !s.ended && (first == nil || s.wake < first.wake) {
			first = s
		}
	}
	return first
}
