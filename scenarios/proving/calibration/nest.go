package calibration

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
)

// The conditions of a wiring file that stand for states without a unit begin with
// one of these names; what begins with the second needs the check receptacle.
const (
	selfTest     = "self-test"
	selfTestSeat = "self-test-seated"
)

// ErrHands is the cause when a point needs the check receptacle and nobody seats
// it.
var ErrHands = errors.New("nobody seats the check receptacle")

// Hands move the check receptacle: the twin does it by itself, on hardware a
// person is asked.
type Hands interface {
	// Receptacle returns when the check receptacle is seated, or out of the nest
	// again. The rig is isolated and must be kept alive meanwhile.
	Receptacle(ctx context.Context, seated bool) error
}

// withReceptacle tells whether a condition needs the check receptacle.
func withReceptacle(condition string) bool { return strings.HasPrefix(condition, selfTestSeat) }

// nest is what is in the nest while points are taken.
type nest struct {
	rig    *bench.Rig
	hands  Hands
	seated bool
}

// empty proves that nothing is in the nest.
func (n *nest) empty(ctx context.Context) error { return Empty(ctx, n.rig) }

// ready brings into the nest what a setting needs. With the check receptacle it is
// known what is seated, so that power may follow.
func (n *nest) ready(ctx context.Context, s wiring.Setting) error {
	want := withReceptacle(s.Condition)
	if want == n.seated {
		return nil
	}
	if n.hands == nil {
		return fmt.Errorf("%s: %w", s, ErrHands)
	}
	if err := n.rig.Safe(); err != nil {
		return err
	}
	if err := n.hands.Receptacle(ctx, want); err != nil {
		return fmt.Errorf("seat the check receptacle: %w", err)
	}
	n.seated = want
	if !want {
		return n.empty(ctx)
	}
	n.rig.Pass(bench.ProbeVbus)
	return nil
}

// leave ends with a safe rig and an empty nest.
func (n *nest) leave(ctx context.Context) error {
	if err := n.rig.Safe(); err != nil || !n.seated {
		return err
	}
	if err := n.hands.Receptacle(ctx, false); err != nil {
		return fmt.Errorf("take the check receptacle out: %w", err)
	}
	n.seated = false
	return nil
}
