package record

import (
	"context"
	"iter"
	"sync"
)

// Feed hands the events of one run to any number of observers. Emitting
// never waits for an observer: the feed keeps the run's events, which the
// record keeps anyway, and each observer walks through them at its own pace,
// from the first one on however late it comes. The zero value is ready, and
// safe for use by several goroutines.
type Feed struct {
	mu     sync.Mutex
	events []Event
	closed bool
	// grown is closed and replaced whenever something changes.
	grown chan struct{}
}

// Emit appends an event; events after Close are dropped.
func (f *Feed) Emit(e Event) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.closed {
		return
	}
	f.events = append(f.events, e)
	f.wake()
}

// Close ends the feed: observers finish with the last event. Safe to call
// twice.
func (f *Feed) Close() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.closed = true
	f.wake()
}

// wake lets every waiting observer look again. The lock is held.
func (f *Feed) wake() {
	if f.grown != nil {
		close(f.grown)
		f.grown = nil
	}
}

// Events yields every event from the first on, waits for more, and ends when
// the feed is closed and read to its end, or with the context.
func (f *Feed) Events(ctx context.Context) iter.Seq[Event] {
	return func(yield func(Event) bool) {
		for next := 0; ; {
			events, closed, grown := f.since(next)
			for _, e := range events {
				if ctx.Err() != nil || !yield(e) {
					return
				}
			}
			next += len(events)
			if len(events) > 0 {
				continue
			}
			if closed {
				return
			}
			select {
			case <-grown:
			case <-ctx.Done():
				return
			}
		}
	}
}

// since returns the events from number next on, whether the feed is closed,
// and a channel that is closed at the next change.
func (f *Feed) since(next int) ([]Event, bool, <-chan struct{}) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.grown == nil {
		f.grown = make(chan struct{})
	}
	return f.events[next:len(f.events):len(f.events)], f.closed, f.grown
}
