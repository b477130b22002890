package scenarios

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"

	"sinkproof/bench"
	"sinkproof/reports/record"
)

// Prover proves the bench by itself. Each of its answers says what is wrong; it is
// empty for a bench that is sound.
type Prover interface {
	// Prove tests the bench with its nest empty.
	Prove(ctx context.Context) ([]string, error)
	// ProvePins tests the contacts of the test plug with the check receptacle
	// seated, after Prove has found nothing. The rig is shut before and after it.
	ProvePins(ctx context.Context) ([]string, error)
}

// Keeper has the check receptacle at hand. The rig is shut whenever it is called.
type Keeper interface {
	// SeatReceptacle puts the receptacle into the empty nest; why is for the
	// operator. It wraps ErrNoReceptacle where there is none after all.
	SeatReceptacle(ctx context.Context, why string) error
	// TakeReceptacle takes it out again.
	TakeReceptacle(ctx context.Context) error
}

// ErrNoReceptacle is the cause when somebody says that there is no check
// receptacle to be seated.
var ErrNoReceptacle = errors.New("no check receptacle")

// errUnsound is the cause when the bench found a fault of its own after it had
// failed a unit.
var errUnsound = errors.New("the bench has a fault of its own")

// ofTheProof stands for the condition in the relay log while a bench proves
// itself.
const ofTheProof = "self-test"

// confirm lets the bench prove itself before a unit is failed: a contact that
// failed in mid-shift looks like many a fault of a unit. Good units pay nothing
// for it, and the unit that failed leaves the nest anyway.
func (r *run) confirm(ctx context.Context) {
	if r.doubt != nil && r.cancelled == nil {
		r.ownFault(ctx)
		return
	}
	if verdict, _, _ := r.out.verdict(r.fault); verdict != record.Fail || r.cancelled != nil {
		return
	}
	if r.job.Prover == nil {
		if r.job.NoProof != "" {
			r.remark("control", "the unit is failed without a proof of the bench: "+r.job.NoProof)
		}
		return
	}
	r.remark("control", "a check failed; the bench proves itself with the unit lifted before the unit is failed")
	empty, err := r.takeOut(ctx, "a check failed; take the unit out, so that the bench can prove itself")
	if err == nil && !empty {
		err = &bench.Fault{What: "prove the bench before a unit is failed", Thing: "nest",
			Hint: "Take the unit out, then run the rig's self-test.", Err: fmt.Errorf("%w: %s", errUnsound, r.over)}
	}
	var found []string
	if err == nil {
		found, err = r.provedBy(ctx)
	}
	if err == nil && len(found) > 0 {
		err = &bench.Fault{What: "prove the bench before a unit is failed", Thing: "rig",
			Hint: "Mend what is named, run the rig's self-test, then the unit again.",
			Err:  fmt.Errorf("%w: %s", errUnsound, strings.Join(found, "; "))}
	}
	if err != nil {
		r.trouble(ctx, err, nil)
		return
	}
	r.remark("control", "the bench proved itself with its nest empty: nothing was found")
	r.confirmPins(ctx)
}

// receptacleNote is the kind of remark that stands for one more mating of the plug.
const receptacleNote = "receptacle"

// confirmPins has the contacts of the test plug proved before a unit is failed: a
// pin that does not touch looks like a part that the unit lacks, and an empty nest
// shows none. It is asked for whichever check failed: what is read of a unit, and
// what feeds it, goes through the pins, and a pin behind one check is part of what
// the next one rests on.
func (r *run) confirmPins(ctx context.Context) {
	if r.job.Keeper == nil {
		r.unprovenPins(cmp.Or(r.job.NoReceptacle, "nobody seats a check receptacle"))
		return
	}
	found, err := r.pinsBy(ctx)
	switch {
	case errors.Is(err, ErrNoReceptacle):
		r.unprovenPins(err.Error())
		return
	case err == nil && len(found) > 0:
		err = &bench.Fault{What: "prove the pins of the test plug before a unit is failed", Thing: "plug",
			Hint: "Mend what is named (for a pin, replace the test plug), run the rig's self-test, then the unit again.",
			Err:  fmt.Errorf("%w: %s", errUnsound, strings.Join(found, "; "))}
	}
	if err != nil {
		r.trouble(ctx, err, nil)
		return
	}
	r.remark("control", "the check receptacle proved the pins of the test plug: nothing was found")
}

// pinsBy has the receptacle seated, the pins proved, and the receptacle taken out
// again whatever was found.
func (r *run) pinsBy(ctx context.Context) ([]string, error) {
	if err := r.job.Keeper.SeatReceptacle(ctx, "a check failed; the check receptacle proves the pins of the test plug"); err != nil {
		return nil, err
	}
	r.remark(receptacleNote, "the check receptacle is seated, so that the pins of the test plug are proved before the unit is failed")
	found, err := r.job.Prover.ProvePins(ctx)
	if ctx.Err() != nil {
		return found, err
	}
	if taken := r.job.Keeper.TakeReceptacle(ctx); taken != nil {
		err = errors.Join(err, taken)
	}
	return found, err
}

// unprovenPins says that a unit is failed on the word of pins that nobody proved.
func (r *run) unprovenPins(why string) {
	r.remark("control", "the unit is failed without a proof of the pins of the test plug: "+why)
}

// provedBy lets the bench prove itself with its nest empty.
func (r *run) provedBy(ctx context.Context) ([]string, error) {
	if r.job.Relays != nil {
		r.flushRelays()
		r.job.Relays.condition = ofTheProof
	}
	return r.job.Prover.Prove(ctx)
}
