package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The facts of the trade, seen from outside: what an owner would find with a
// drawer full of supplies. Sources: the fault matrix of the facts (7.5), the
// public articles on boards that shipped with these faults, and section 2 on
// A-to-C cables.

// A unit without terminations charges from a legacy A supply and gets nothing
// from a C supply, whichever way the plug sits and whatever the cable.
func TestNoTerminationsChargesOnlyFromLegacy(t *testing.T) {
	k := newKit(t, "hand-lamp")
	for seed := range uint64(4) {
		w := k.twin(t, seed)
		require.NoError(t, w.Seat("S1", Fault{Name: "no-rd"}))
		_, last, _ := course(t, w, legacyPath())
		require.Greater(t, last, 4.75)
		require.Greater(t, w.Truth().CellAmperes(), 0.35)
		for _, path := range [][]string{supplyPath(), flipped(supplyPath()), append(supplyPath(), "k_ra")} {
			highest, _, _ := course(t, w, path)
			require.Less(t, highest, 0.1)
		}
	}
}

// One termination on both pins charges from everything but a marked cable.
func TestSharedTerminationFailsOnlyWithMarkedCables(t *testing.T) {
	k := newKit(t, "hand-lamp")
	for seed := range uint64(4) {
		w := k.twin(t, seed)
		require.NoError(t, w.Seat("S1", Fault{Name: "shared-rd"}))
		for _, path := range [][]string{legacyPath(), supplyPath(), flipped(supplyPath())} {
			_, last, _ := course(t, w, path)
			require.Greater(t, last, 4.75)
		}
		highest, _, _ := course(t, w, append(supplyPath(), "k_ra"))
		require.Less(t, highest, 0.3)
	}
}

// The negative control: with its CC pins cut off the best unit stays cold. The
// positive control: with the rig's own termination the worst one gets power.
func TestControls(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	cut := []string{"k_csup1", "k_csup2", "k_plug", "k_bleed", "k_ccc", "k_dshort", "k_range", "k_cell1", "k_cell2", "sel_cell1"}
	require.NoError(t, w.Seat("S1"))
	highest, _, _ := course(t, w, cut)
	require.Less(t, highest, 0.1)
	require.NoError(t, w.Seat("S2", Fault{Name: "no-rd"}))
	_, last, _ := course(t, w, append(cut, "k_stand"))
	require.Greater(t, last, 4.75)
	require.Greater(t, w.Truth().CellAmperes(), 0.35)
}

// A good unit's cell does not feed the port: far below 11 µA into 1 kΩ, and a
// barely bad one is above it at the lowest cell (facts, i_backfeed).
func TestBackFeedStandsOut(t *testing.T) {
	load := []string{"k_load", "k_bleed", "k_cell1", "k_cell2", "sel_cell0"}
	w := newTwin(t, "hand-lamp", 3)
	require.NoError(t, w.Seat("S1"))
	drive(t, w, time.Second, load...)
	require.Less(t, volts(t, w, "plug.sense"), 1.5e-3)
	require.NoError(t, w.Seat("S2", Fault{Name: "back-feed"}.Severe(0)))
	drive(t, w, time.Second, load...)
	require.Greater(t, volts(t, w, "plug.sense"), 11.05e-3)
}

// An end of charge that is barely too high still charges a cell at 4.25 V,
// which no good unit does.
func TestOverchargeStandsOut(t *testing.T) {
	k := newKit(t, "hand-lamp")
	for seed := range uint64(6) {
		w := k.twin(t, seed)
		require.NoError(t, w.Seat("S1"))
		charge(t, w, 500*time.Millisecond, "sel_cell2")
		require.Less(t, w.Truth().CellAmperes(), 1e-4)
		require.NoError(t, w.Seat("S2", Fault{Name: "overcharge"}.Severe(0)))
		charge(t, w, 500*time.Millisecond, "sel_cell2")
		require.Greater(t, w.Truth().CellAmperes(), 0.04)
	}
}

// A wrong programming resistor shows in the current at once.
func TestWrongCurrentsStandOut(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1", Fault{Name: "current-double"}.Severe(1)))
	charge(t, w, 500*time.Millisecond, "sel_cell1")
	require.InEpsilon(t, 0.84, w.Truth().CellAmperes(), 0.01)
	require.NoError(t, w.Seat("S2", Fault{Name: "current-half"}.Severe(1)))
	charge(t, w, 500*time.Millisecond, "sel_cell1")
	require.InEpsilon(t, 0.18, w.Truth().CellAmperes(), 0.01)
	require.NoError(t, w.Seat("S3", Fault{Name: "charger-dead"}))
	charge(t, w, 500*time.Millisecond, "sel_cell1")
	require.Less(t, w.Truth().CellAmperes(), 0.005)
}
