package proving_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/scenarios/proving"
)

// A healthy rig, drawn anywhere within its tolerances, has no finding; the test
// stays below the 20 s of bench time that are asked of it.
func TestHealthyRigHasNoFinding(t *testing.T) {
	for seed := range uint64(3) {
		got := selfTest(t, seed, true)
		require.Empty(t, got.Findings, "seed %d", seed)
		require.True(t, got.Healthy())
		require.Less(t, got.Bench, 20*time.Second)
		require.True(t, got.Seated)
		require.Empty(t, got.Unproved)
		require.Equal(t, []proving.Action{
			proving.EmptyNest, proving.SeatReceptacle, proving.TakeReceptacle,
			proving.PressStop, proving.ReleaseStop, proving.OpenLid, proving.CloseLid,
		}, got.hands.asked)
	}
}

func TestReportSaysWhatTheEmptyNestCannotProve(t *testing.T) {
	got := selfTest(t, 1, false)
	require.Empty(t, got.Findings)
	require.False(t, got.Seated)
	require.Len(t, got.Unproved, 1)
	text, err := json.Marshal(got.Report)
	require.NoError(t, err)
	require.Contains(t, string(text), `"receptacle":false`)
}

// The kinds of finding, one of each; the sweep has them all.
func TestFindingsNameTheThing(t *testing.T) {
	for _, c := range []struct {
		name  string
		fault twin.RigFault
		want  string
	}{
		{"contact", twin.RigFault{Kind: twin.ContactWelded, Part: "k_ccc"}, "k_ccc stays closed"},
		{"contact of several", twin.RigFault{Kind: twin.ContactStuckOpen, Part: "k_cut", Index: 1}, "k_cut, contact 2, does not close"},
		{"chip", twin.RigFault{Kind: twin.ChipAbsent, Part: "meter2"}, "meter2 does not answer"},
		{"bus", twin.RigFault{Kind: twin.BusDead, Part: "i2c-main"}, "i2c-main does not answer"},
		{"late supply", twin.RigFault{Kind: twin.SupplyLate, Part: "csup", For: 700 * time.Millisecond}, "csup comes late"},
		{"supply that lingers", twin.RigFault{Kind: twin.SupplySlowOff, Part: "csup", For: 700 * time.Millisecond}, "csup goes off late"},
		{"monostable", twin.RigFault{Kind: twin.MonostableStuck, Part: "heartbeat"}, "heartbeat does not cut the coil supply"},
		{"line of the coil supply", twin.RigFault{Kind: twin.LineStuck, Part: "coil_ok"}, "coil_ok is stuck"},
		{"stop", twin.RigFault{Kind: twin.ChainBypassed, Part: "estop"}, "estop does not cut the coil supply"},
		{"lid", twin.RigFault{Kind: twin.LineStuck, Part: "lid", Value: 1}, "lid is stuck"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := selfTest(t, 3, true, c.fault)
			require.Len(t, got.Findings, 1, "%v", got.Findings)
			require.Equal(t, c.want, got.Findings[0].String())
			require.NotEmpty(t, got.Findings[0].Evidence)
			require.NotEmpty(t, got.Findings[0].Rework)
			require.Less(t, got.Bench, 20*time.Second)
		})
	}
}

// A portable supply that is dead, or that no contact leads to, is not late as well:
// where it may sleep its rise is no matter, and noise about zero is none.
func TestDeadSupplyIsNotLateAsWell(t *testing.T) {
	for _, f := range []twin.RigFault{
		{Kind: twin.SupplyDead, Part: "portable"},
		{Kind: twin.ContactStuckOpen, Part: "k_port1"},
	} {
		for seed := range uint64(3) { // with 1 the channel read below zero all the time
			got := selfTest(t, seed, true, f)
			require.Len(t, got.Findings, 1, "%s, seed %d: %v", f.Kind, seed, got.Findings)
			require.Contains(t, got.Findings[0].String(), "k_port1 does not close")
		}
	}
}

// Two faults at once are no single one: nothing is guessed, and no power comes
// on where what was measured without it is not explained.
func TestTwoFaultsAreNotGuessed(t *testing.T) {
	got := selfTest(t, 2, true,
		twin.RigFault{Kind: twin.ContactWelded, Part: "k_pu_lo"}, twin.RigFault{Kind: twin.ContactStuckOpen, Part: "k_stand"})
	require.Len(t, got.Findings, 1)
	require.Equal(t, proving.Unknown, got.Findings[0].Suspects[0].Fault)
	require.NotEmpty(t, got.Unproved)
	for _, s := range got.Steps {
		require.NotContains(t, s.Name, "power")
	}
}

// A person who does not seat the check receptacle is told so, and nothing of the plug
// is blamed.
func TestReceptacleThatNobodySeated(t *testing.T) {
	got := selfTestBy(t, &hands{refuses: map[proving.Action]bool{proving.SeatReceptacle: true}}, 1, true)
	require.Len(t, got.Findings, 1)
	require.Equal(t, "check receptacle is not seated", got.Findings[0].String())
	require.Contains(t, got.Findings[0].Rework, "Seat the check receptacle")
}

// A person who does not press the stop has proved nothing, and is told so.
func TestStopThatNobodyPressed(t *testing.T) {
	w := selfTestRefusing(t, proving.PressStop)
	require.Len(t, w.Findings, 1)
	require.Contains(t, w.Findings[0].Evidence, "nothing happened")
}
