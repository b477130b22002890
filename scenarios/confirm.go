package scenarios

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"sinkproof/bench"
	"sinkproof/reports/record"
)

// Prover proves the bench by itself.
type Prover interface {
	// Prove tests the bench with its nest empty and says what is wrong with
	// it; nothing for a bench that is sound.
	Prove(ctx context.Context) ([]string, error)
}

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
}

// provedBy lets the bench prove itself with its nest empty.
func (r *run) provedBy(ctx context.Context) ([]string, error) {
	if r.job.Relays != nil {
		r.flushRelays()
		r.job.Relays.condition = ofTheProof
	}
	return r.job.Prover.Prove(ctx)
}
