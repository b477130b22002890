package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/wiring"
)

// The check receptacle divides as its resistors do, computed by hand: 10 kΩ
// from 3.3 V onto 5.1 kΩ beside 22 kΩ and 5.1 kΩ, 510 kΩ twice at each pin.
func TestCheckReceptacleDivides(t *testing.T) {
	w := newTwin(t, "hand-lamp", 3)
	require.NoError(t, w.SeatCheck())
	drive(t, w, 50*time.Millisecond, "k_cut", "k_pu_lo")
	par := func(a, b float64) float64 { return a * b / (a + b) }
	// The data pins lead on: 10 kΩ to D+, which nothing loads.
	cc2 := par(5100, 1.02e6)
	cc1 := par(par(5100, 1.02e6), 22e3+cc2)
	v := 3.3 * cc1 / (10e3 + cc1)
	require.InEpsilon(t, v, volts(t, w, "plug.cc1"), 0.01)
	require.InEpsilon(t, v*cc2/(22e3+cc2), volts(t, w, "plug.cc2"), 0.01)
	require.NoError(t, w.Break(RigFault{Kind: PinOpen, Part: wiring.PinCC1}))
	drive(t, w, 20*time.Millisecond, "k_cut", "k_pu_lo")
	require.Greater(t, volts(t, w, "plug.cc1"), 3.2, "an open pin")
	w.Mend()
	drive(t, w, 20*time.Millisecond, "k_cut", "k_pu_lo")
	require.InEpsilon(t, v, volts(t, w, "plug.cc1"), 0.01)
	w.Unseat()
	drive(t, w, 20*time.Millisecond, "k_cut", "k_pu_lo")
	require.Greater(t, volts(t, w, "plug.cc1"), 3.2, "nothing seated")
}

func TestRigWithoutACheckReceptacleSeatsNone(t *testing.T) {
	w := newTwin(t, "hand-lamp", 3)
	bare := *w.config.Wiring
	bare.Nest.Check = nil
	w.config.Wiring = &bare
	require.ErrorIs(t, w.SeatCheck(), ErrNoSuchName)
}
