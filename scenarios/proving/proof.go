package proving

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
)

// Proof proves one rig again and again, as before a unit is failed. It keeps what
// it has computed of the healthy rig. It is not for concurrent use.
type Proof struct {
	w             *wiring.Rig
	m             *model
	empty, seated []visit
	// sound is what the empty nest read when nothing was found; nil before.
	sound []taken
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
// plug are left to ConfirmPins; alerts, heartbeat, stop and lid to the whole
// self-test. It computes only while the rig is closed: on a small computer that
// takes seconds, in which nobody would serve the heartbeat.
//
// The nest must have been measured empty. Power comes on only where everything
// that was measured without it is as it should be.
//
// The observer, which may be nil, is told of the contacts that move meanwhile.
func (p *Proof) Confirm(ctx context.Context, hw bench.Hardware, o bench.Observer) ([]Finding, error) {
	p.sound = nil
	if err := p.aside(ctx, p.plan); err != nil {
		return nil, err
	}
	t := p.test(hw, o)
	err := p.confirm(ctx, t, p.empty)
	if err == nil && t.report.Healthy() {
		p.sound = t.taken
	}
	return t.report.Findings, err
}

// ErrNotSeated is the cause when the nest is empty where the check receptacle should
// be.
var ErrNotSeated = errors.New("nothing is seated")

// ErrNotConfirmed is the cause when the pins are to be proved of a rig whose empty
// nest was not.
var ErrNotConfirmed = errors.New("the empty nest was not proved before")

// ConfirmPins proves the contacts of the test plug in the same way, with the check
// receptacle in the nest that Confirm has just found to be sound. What the empty
// nest read is judged with it: an open pin and an open contact behind it look alike
// from the receptacle alone.
func (p *Proof) ConfirmPins(ctx context.Context, hw bench.Hardware, o bench.Observer) ([]Finding, error) {
	if p.sound == nil {
		return nil, fmt.Errorf("prove the pins of %s: %w", p.w.Name, ErrNotConfirmed)
	}
	t := p.test(hw, o)
	t.taken, t.report.Seated = p.sound, true
	p.sound = nil
	err := p.confirm(ctx, t, p.seated)
	return t.report.Findings, err
}

func (p *Proof) test(hw bench.Hardware, o bench.Observer) *test {
	return &test{job: Job{Wiring: p.w, Hardware: hw}, w: p.w, m: p.m, start: hw.Clock.Now(), opening: bench.Options{Observer: o}}
}

// confirm takes the states of a plan on the rig, which it opens and closes, and
// judges them with what was taken before.
func (p *Proof) confirm(ctx context.Context, t *test, plan []visit) error {
	err := t.open(ctx, t.opening)
	if err == nil {
		err = t.measure(ctx, plan)
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
	return err
}

// plan computes what a healthy rig reads.
func (p *Proof) plan() error {
	if p.m != nil {
		return nil
	}
	m := newModel(p.w)
	empty, seated, err := m.plan()
	if err != nil {
		return err
	}
	p.m, p.empty, p.seated = m, empty, seated
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
	return named(found), err
}

// ProvePins implements scenarios.Prover.
func (p Prover) ProvePins(ctx context.Context) ([]string, error) {
	found, err := p.ConfirmPins(ctx, p.Hardware, p.Observer)
	if len(found) == 1 && len(found[0].Suspects) == 1 && found[0].Suspects[0].Fault == NotSeated {
		return nil, &bench.Fault{What: "prove the pins of the test plug", Thing: checkReceptacle,
			Hint: "Run the unit again, and seat the check receptacle when it is asked for.", Err: ErrNotSeated}
	}
	return named(found), err
}

func named(found []Finding) []string {
	var out []string
	for _, f := range found {
		out = append(out, f.String())
	}
	return out
}

// Provable says why a rig cannot prove itself, or with a check receptacle the pins
// of its plug; nil where it can.
func Provable(w *wiring.Rig) (itself, pins error) {
	has := func(prefix string, seated bool) bool {
		return slices.ContainsFunc(w.Conditions, func(c wiring.Condition) bool {
			return strings.HasPrefix(c.Name, prefix) && strings.HasPrefix(c.Name, selfTestSeated) == seated
		})
	}
	if !has(selfTest, false) {
		itself = ErrNoSelfTest
	}
	switch {
	case len(w.Nest.Check) == 0:
		pins = ErrNoReceptacle
	case !has(selfTestSeated, true):
		pins = ErrNoSeatedTest
	}
	return itself, pins
}
