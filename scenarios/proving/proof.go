package proving

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
)

// Proof proves one rig again and again with its nest empty, as before a unit is
// failed. It keeps what it has computed of the healthy rig. It is not for
// concurrent use.
type Proof struct {
	w     *wiring.Rig
	m     *model
	empty []visit
	// Aside, when set, does what takes long to compute while the loop goes on that
	// other nests live on.
	Aside func(context.Context, func() error) error
}

func (p *Proof) aside(ctx context.Context, f func() error) error {
	if p.Aside == nil {
		return f()
	}
	return p.Aside(ctx, f)
}

// NewProof returns the proof of a rig. Nothing is computed yet.
func NewProof(w *wiring.Rig) *Proof { return &Proof{w: w} }

// Confirm opens the rig, takes the states of its empty nest and closes it again,
// then says what is wrong with it; nothing of a sound rig. Contacts of the test
// plug, alerts, heartbeat, stop and lid are left to the whole self-test. It computes only while the rig is closed: on a small computer
// that takes seconds, in which nobody would serve the heartbeat.
//
// The nest must have been measured empty. Power comes on only where everything
// that was measured without it is as it should be.
//
// The observer, which may be nil, is told of the contacts that move meanwhile.
func (p *Proof) Confirm(ctx context.Context, hw bench.Hardware, o bench.Observer) ([]Finding, error) {
	if err := p.aside(ctx, p.plan); err != nil {
		return nil, err
	}
	t := &test{job: Job{Wiring: p.w, Hardware: hw}, w: p.w, m: p.m, start: hw.Clock.Now(), opening: bench.Options{Observer: o}}
	err := t.open(ctx, t.opening)
	if err == nil {
		err = t.measure(ctx, p.empty)
	}
	if t.rig != nil {
		if closed := t.rig.Close(); closed != nil && err == nil {
			t.find("the rig was led to its safe state at the end: "+closed.Error(), Suspect{Thing: p.w.Name, Fault: Unknown})
		}
	}
	if err == nil {
		err = p.aside(ctx, t.conclude)
	}
	if !t.report.Healthy() {
		// What was computed of faults is not needed again.
		p.m = nil
	}
	return t.report.Findings, err
}

// plan computes what a healthy rig reads.
func (p *Proof) plan() error {
	if p.m != nil {
		return nil
	}
	m := newModel(p.w)
	empty, _, err := m.plan()
	if err != nil {
		return err
	}
	p.m, p.empty = m, empty
	return nil
}

// measure takes the states of a plan, those with power only where the others
// are as they should be.
func (t *test) measure(ctx context.Context, plan []visit) error {
	cold, powered := parted(plan)
	if err := t.visits(ctx, cold); err != nil {
		return err
	}
	for _, s := range t.report.Steps {
		if s.Trouble != "" || slices.ContainsFunc(s.Items, func(x Item) bool { return !x.OK }) {
			return nil
		}
	}
	return t.visits(ctx, powered)
}

// Prover lets a scenario's run have the bench proved before a unit is failed.
type Prover struct {
	*Proof
	// Rig is the one that the run is on; it is closed first.
	Rig interface{ Close() error }
	// Hardware is what it was opened on, Observer who is told of its contacts.
	Hardware bench.Hardware
	Observer bench.Observer
}

// Prove implements scenarios.Prover.
func (p Prover) Prove(ctx context.Context) ([]string, error) {
	if err := p.Rig.Close(); err != nil {
		return nil, fmt.Errorf("close the rig before it is proved: %w", err)
	}
	found, err := p.Confirm(ctx, p.Hardware, p.Observer)
	if err != nil && !errors.Is(err, ErrNoSelfTest) {
		return nil, err
	}
	var out []string
	for _, f := range found {
		out = append(out, f.String())
	}
	return out, nil
}
