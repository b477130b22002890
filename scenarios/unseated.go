package scenarios

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/source"
)

// nestEmpty is the value of "nest" for a stage that is taken before the unit is
// seated.
const nestEmpty = "empty"

// badUnseated is the fixed summary of what cannot be asked of an empty nest.
const badUnseated = "nothing is seated"

// unseated reads which stages are taken before the unit is seated. All of them
// stand in front of the probe.
func (l *loader) unseated() {
	for _, s := range l.stages {
		s.unseated = s.reader.OneOf("nest", source.Optional, nestEmpty).Value == nestEmpty
	}
}

// first is the index of the first stage that is about a unit.
func (l *loader) first() int {
	i := slices.IndexFunc(l.stages, func(s *stageSource) bool { return !s.unseated })
	return max(i, 0)
}

// unseatedKinds are the steps that an empty nest can answer.
func unseatedKinds() []string { return append(liftedKinds(), "enter", "capture", "control") }

// proveUnseated demands that nothing is asked of a unit that is not there, and
// that a nest is empty only before the unit is seated.
func (l *loader) proveUnseated() {
	for i, s := range l.stages {
		if !s.unseated {
			continue
		}
		if i > l.first() {
			l.ds.Add(s.reader.Range("nest"), misplacedBlock, "The nest is empty only before the unit is seated; put %q in front of the stage with the probe.", s.name)
		}
		for _, step := range s.steps {
			switch {
			case !slices.Contains(unseatedKinds(), step.kind):
				l.ds.Add(step.block.DefRange(), badUnseated, "Nothing is seated in %q; it takes only %s.", s.name, strings.Join(unseatedKinds(), ", "))
			case step.kind == "control":
				for _, b := range step.block.Body.Blocks {
					if b.Type == "lifted" {
						l.ds.Add(b.DefRange(), badUnseated, "The control %q is asked with nothing seated; it needs no \"lifted\" block.", step.name)
					}
				}
			}
		}
	}
}

// unsound keeps the wrong answer of a control that was asked with nothing
// seated: it can only be the bench's, and no unit is put in front of it.
func (r *run) unsound(x *outcome) {
	x.standing = benchFailed
	x.answer.Why += "; nothing is seated, so it is the bench's"
	r.answer(x)
	if r.doubt == nil {
		r.doubt = &bench.Fault{What: "vouch for the bench before the unit is seated", Thing: x.check.Name,
			Hint: "Run the rig's self-test; it names what is wrong.", Err: fmt.Errorf("%w: %s", errUnsound, x.answer.Why)}
		r.over = fmt.Sprintf("the control %s says that the bench is not sound, and the unit was not seated", x.check.Name)
	}
}

// seat leads the rig back to isolated where it left it, and has the unit seated.
func (r *run) seat(ctx context.Context, moved bool) error {
	if r.over != "" {
		return nil
	}
	if moved {
		if err := r.moveTo(ctx, wiring.Setting{Condition: isolated}); err != nil {
			return err
		}
	}
	if err := r.job.Handler.Seat(ctx, r.job.Opening.Serial); err != nil {
		return fmt.Errorf("seat %s: %w", r.job.Opening.Serial, err)
	}
	return nil
}

// ownFault names what is wrong with a bench that gave a wrong answer with
// nothing seated, where it can prove itself.
func (r *run) ownFault(ctx context.Context) {
	fault := r.doubt
	if r.job.Prover != nil {
		r.remark("control", fmt.Sprintf("%s got a wrong answer with nothing seated; the bench looks for the reason", fault.Thing))
		found, err := r.provedBy(ctx)
		switch {
		case err != nil:
			r.trouble(ctx, err, nil)
			return
		case len(found) > 0:
			fault.Err = fmt.Errorf("%w: %s", errUnsound, strings.Join(found, "; "))
			fault.Hint = "Mend what is named, run the rig's self-test, then the unit again."
		}
	}
	r.trouble(ctx, fault, nil)
}
