//go:build !race

package proving_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/scenarios/proving"
)

// pins has the pins of a twin's plug proved after its sound empty nest, once somebody
// has done what seat does.
func pins(t testing.TB, p *proving.Proof, w *twin.Twin, seat func() error, faults ...twin.RigFault) ([]proving.Finding, time.Duration) {
	t.Helper()
	for _, f := range faults {
		require.NoError(t, w.Break(f))
	}
	hw := w.Hardware()
	found, err := p.Confirm(t.Context(), hw, nil)
	require.NoError(t, err)
	require.Empty(t, found, "an empty nest shows no pin")
	require.NoError(t, seat())
	start := hw.Clock.Now()
	found, err = p.ConfirmPins(t.Context(), hw, nil)
	require.NoError(t, err)
	took := hw.Clock.Now() - start
	require.NoError(t, w.Truth().Err())
	w.Unseat()
	w.Mend()
	return found, took
}

// A pin that does not touch is named by itself in about a second, and a plug that was
// replaced is sound again. The sweep of the runs has every pin.
func TestSweepReceptacleShowsAPin(t *testing.T) {
	p, w := proving.NewProof(benchOne(t)), simulated(t)
	found, _ := pins(t, p, w, w.SeatCheck, twin.RigFault{Kind: twin.PinOpen, Part: wiring.PinVbusForce})
	require.Len(t, found, 1)
	require.Equal(t, "pin vbus-force does not touch", found[0].String())
	require.Contains(t, found[0].Rework, "Replace the test plug")
	found, _ = pins(t, p, w, w.SeatCheck, twin.RigFault{Kind: twin.PinWorn, Part: wiring.PinCC1, Value: 300e3})
	require.Len(t, found, 1)
	require.Contains(t, found[0].String(), "pin cc1 is worn (about")
	found, took := pins(t, p, w, w.SeatCheck)
	require.Empty(t, found)
	require.Less(t, took, 1500*time.Millisecond)
}

// A nest in which nobody seated the receptacle is no plug with ten open pins, and a
// unit is no receptacle.
func TestSweepWhatIsNotTheReceptacleIsTold(t *testing.T) {
	p, w := proving.NewProof(benchOne(t)), simulated(t)
	found, _ := pins(t, p, w, func() error { return nil })
	require.Len(t, found, 1)
	require.Equal(t, "check receptacle is not seated", found[0].String())
	found, _ = pins(t, p, w, func() error { return w.Seat("HL-1") })
	require.Len(t, found, 1)
	require.Equal(t, proving.Unknown, found[0].Suspects[0].Fault)
}
