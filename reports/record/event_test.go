package record

import (
	"context"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"
)

// sampleEvents are the events that sampleRun is the fold of.
func sampleEvents() []Event {
	r := sampleRun()
	events := []Event{Opened{r.Opening}, Asked{AtUS: 1, Check: "rd-cc1", Title: "Termination at CC1", Number: 1, Of: 3}}
	for _, m := range r.Relays {
		events = append(events, Moved{m})
	}
	for _, reading := range r.Readings {
		events = append(events, Read{reading})
	}
	for _, n := range r.Notes {
		events = append(events, Noted{n})
	}
	for _, c := range r.Checks {
		events = append(events, Answered{c})
	}
	for _, w := range r.Waveforms {
		events = append(events, Captured{w})
	}
	for _, n := range r.NotObservable {
		events = append(events, Excluded{n})
	}
	events = append(events, Faulted{*r.Fault})
	for _, f := range r.Suspects {
		events = append(events, Suspected{f})
	}
	return append(events, Closed{r.DurationUS, r.Verdict, r.Reason, r.Bin})
}

func TestTheRecordIsTheFoldOfTheEvents(t *testing.T) {
	var fold Fold
	for _, e := range sampleEvents() {
		require.False(t, fold.Complete())
		require.NoError(t, fold.Apply(e))
	}
	require.True(t, fold.Complete())
	require.Empty(t, cmp.Diff(sampleRun(), fold.Run()))
}

func TestEventsOutOfOrderAreRefused(t *testing.T) {
	var fold Fold
	require.ErrorIs(t, fold.Apply(Closed{}), ErrEvent, "before the opening")
	require.NoError(t, fold.Apply(Opened{sampleOpening()}))
	require.ErrorIs(t, fold.Apply(Opened{sampleOpening()}), ErrEvent, "a second opening")
	require.NoError(t, fold.Apply(Closed{Verdict: None, Reason: "bus error", Bin: BinRetest}))
	before := fold.Run()
	require.ErrorIs(t, fold.Apply(Noted{Note{1, "late", "too late"}}), ErrEvent, "after the closing")
	require.Empty(t, cmp.Diff(before, fold.Run()), "a refused event leaves no trace")
	require.NoError(t, fold.Run().Validate())
}

func TestTheFirstBenchFaultIsKept(t *testing.T) {
	var fold Fold
	for _, e := range []Event{
		Opened{sampleOpening()},
		Faulted{BenchFault{5, "bus died", "check the cable"}},
		Faulted{BenchFault{9, "VBUS not confirmed", ""}},
	} {
		require.NoError(t, fold.Apply(e))
	}
	require.Equal(t, &BenchFault{5, "bus died", "check the cable"}, fold.Run().Fault)
	require.Equal(t, []Note{{9, "bench fault", "VBUS not confirmed"}}, fold.Run().Notes)
}

func TestWaveformInstants(t *testing.T) {
	w := sampleRun().Waveforms[0]
	require.EqualValues(t, 3_002_330, w.Instant(2), "given per sample")
	w.AtUS = nil
	require.EqualValues(t, 3_000_000+2*1163, w.Instant(2), "from the interval")
}

// An observer that never reads does not hold up the run, and one that comes
// late sees everything.
func TestObserversCannotBlock(t *testing.T) {
	var feed Feed
	stuck, release := make(chan struct{}), make(chan struct{})
	var done sync.WaitGroup
	done.Go(func() {
		for range feed.Events(context.Background()) {
			select {
			case <-stuck:
			default:
				close(stuck)
			}
			<-release
		}
	})
	events := sampleEvents()
	feed.Emit(events[0])
	<-stuck
	for _, e := range events[1:] {
		feed.Emit(e)
	}
	feed.Close()
	feed.Close()
	feed.Emit(Asked{Check: "after the end"})

	var fold Fold
	for e := range feed.Events(context.Background()) {
		require.NoError(t, fold.Apply(e))
	}
	require.Empty(t, cmp.Diff(sampleRun(), fold.Run()))
	close(release)
	done.Wait()
}

func TestObserversSeeEventsAsTheyCome(t *testing.T) {
	var feed Feed
	seen := make(chan Event)
	var done sync.WaitGroup
	done.Go(func() {
		for e := range feed.Events(context.Background()) {
			seen <- e
		}
		close(seen)
	})
	for _, e := range sampleEvents() {
		feed.Emit(e)
		require.IsType(t, e, <-seen, "seen before the next one is emitted")
	}
	feed.Close()
	_, more := <-seen
	require.False(t, more)
	done.Wait()
}

func TestAnObserverLeavesWithItsContext(t *testing.T) {
	var feed Feed
	feed.Emit(Opened{sampleOpening()})
	feed.Emit(Asked{Check: "rd-cc1"})
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	count := 0
	for range feed.Events(ctx) {
		count++
		cancel()
	}
	require.Equal(t, 1, count)
	for range feed.Events(context.Background()) {
		break
	}
	waiting, leave := context.WithCancel(context.Background())
	defer leave()
	var done sync.WaitGroup
	ready := make(chan struct{})
	done.Go(func() {
		count := 0
		for range feed.Events(waiting) {
			if count++; count == 2 {
				close(ready)
			}
		}
	})
	<-ready
	leave()
	done.Wait()
}
