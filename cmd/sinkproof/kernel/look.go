package kernel

import (
	"sync"
	"time"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
)

// Look is how a rig stands at an instant, seen from outside.
type Look struct {
	At time.Duration // on the rig's clock
	// Closed are the relays of which a contact is joined with its NO side.
	Closed []string
	// Coils tells whether the coil supply is on.
	Coils bool
	// Force and Sense are VBUS in front of the unit's power contacts and
	// behind them, in volts.
	Force, Sense float64
}

// The nets that Look measures.
const (
	forceNet = "plug.force"
	senseNet = "plug.sense"
)

// Look looks at the rig.
func (r *Rig) Look() (Look, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	truth := r.twin.Truth()
	l := Look{At: r.clock.Now(), Coils: truth.CoilSupply()}
	var err error
	if l.Force, err = truth.Volts(forceNet); err != nil {
		return l, err
	}
	if l.Sense, err = truth.Volts(senseNet); err != nil {
		return l, err
	}
	for _, k := range r.relays {
		closed, err := joined(truth, k)
		if err != nil {
			return l, err
		}
		if closed {
			l.Closed = append(l.Closed, k.Name)
		}
	}
	return l, truth.Err()
}

func joined(truth twin.Truth, k *wiring.Relay) (bool, error) {
	for i := range k.Contacts {
		if no, _, err := truth.Made(k.Name, i); no || err != nil {
			return no, err
		}
	}
	return false, nil
}

// Trace is what a rig did while it was followed.
type Trace struct {
	rig  *Rig
	stop chan struct{}
	done sync.WaitGroup

	mu    sync.Mutex
	looks []Look
	err   error
}

// Glance is the time between two looks of a trace: what happens from outside
// is known this well.
const Glance = 2 * time.Millisecond

// Follow looks at the rig again and again until the trace is stopped.
func (r *Rig) Follow() *Trace {
	t := &Trace{rig: r, stop: make(chan struct{})}
	t.done.Go(func() {
		next := time.NewTicker(Glance)
		defer next.Stop()
		for {
			select {
			case <-next.C:
				l, err := r.Look()
				t.mu.Lock()
				t.looks, t.err = append(t.looks, l), err
				t.mu.Unlock()
				if err != nil {
					return
				}
			case <-t.stop:
				return
			}
		}
	})
	return t
}

// Stop ends the trace and returns it, with what was wrong with the rig itself.
func (t *Trace) Stop() ([]Look, error) {
	close(t.stop)
	t.done.Wait()
	return t.looks, t.err
}

// Looks are the looks so far.
func (t *Trace) Looks() []Look {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.looks[:len(t.looks):len(t.looks)]
}

// ClosedAfter are the looks after an instant at which a contact was closed.
func ClosedAfter(looks []Look, at time.Duration) []Look {
	var out []Look
	for _, l := range looks {
		if l.At > at && len(l.Closed) > 0 {
			out = append(out, l)
		}
	}
	return out
}
