//go:build kernel

package kernel

import (
	"context"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/record"
)

// The scenarios here. The full one is needed where a supply must be at the
// unit when something happens.
const (
	full  = "charge-path"
	quick = "terminations-only"
)

// TestBusUnpluggedInMidRun: whoever pulls the cable of the bus out leaves the
// unit without a verdict, the run in the ledger and the contacts open.
func TestBusUnpluggedInMidRun(t *testing.T) {
	s := newStation(t, lend(t))
	run := s.live("UN-1")
	trace := s.rig.Follow()
	require.NoError(t, s.plugged.Adapter.Unplug())
	pulled := s.rig.Now()
	got := run.end(exitNoJudge)
	time.Sleep(opensBy)
	looks, err := trace.Stop()
	require.NoError(t, err)
	require.Equal(t, record.None, got.Verdict)
	require.NotNil(t, got.Fault)
	seen := s.rig.Seen()
	last := seen.Beats[len(seen.Beats)-1]
	require.Less(t, last-pulled, gap, "a bench without its bus gives no heartbeat")
	opened(t, looks, seen, pulled, looks[len(looks)-1].At+1)
	require.Contains(t, s.kept("UN-1"), `"none"`)
	t.Logf("last heartbeat %s after the cable was pulled", last-pulled)
}

// TestKilledInMidRunAndStartedAgain: a process that is killed leaves contacts
// that the hardware opens, and the next one closes none before its arm pulse.
func TestKilledInMidRunAndStartedAgain(t *testing.T) {
	s := newStation(t, lend(t))
	run := s.live("KI-1")
	trace := s.rig.Follow()
	require.NoError(t, run.Signal(syscall.SIGKILL))
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	exit, err := run.Wait(ctx)
	require.NoError(t, err)
	require.Equal(t, int(syscall.SIGKILL), exit.Signal)
	killed, arms := s.rig.Now(), len(s.rig.Seen().Arms)
	time.Sleep(opensBy)

	again := s.judge(quick, "KI-2")
	require.Equal(t, record.Pass, again.end(exitPass).Verdict)
	looks, err := trace.Stop()
	require.NoError(t, err)
	seen := s.rig.Seen()
	require.Greater(t, len(seen.Arms), arms, "the second run has to arm the coils")
	armed := seen.Arms[arms]
	var before Seen
	for _, b := range seen.Beats {
		if b < killed {
			before.Beats = append(before.Beats, b)
		}
	}
	opened(t, looks, before, killed, armed)
	require.NotEmpty(t, ClosedAfter(looks, armed), "the second run has to close contacts")
	require.Contains(t, again.Said(), "KI-1  closed as interrupted")
	require.Contains(t, s.kept("KI-1"), "interrupted")
}

// TestAChipDoesNotAnswer: one transfer without an acknowledge leaves a unit
// without a verdict, and never fails it.
func TestAChipDoesNotAnswer(t *testing.T) {
	s := newStation(t, lend(t))
	run := s.live("NA-1")
	trace := s.rig.Follow()
	s.rig.NakAfter(0)
	at := s.rig.Now()
	got := run.end(exitNoJudge)
	looks, err := trace.Stop()
	require.NoError(t, err)
	require.Equal(t, record.None, got.Verdict)
	require.NotNil(t, got.Fault)
	require.Empty(t, looks[len(looks)-1].Closed)
	require.Empty(t, ClosedAfter(looks, at+opensBy))
}

// TestSlowAnswers: a bus that takes several times as long judges the same. It
// gets slow behind the capacitance, which slow samples cannot tell.
func TestSlowAnswers(t *testing.T) {
	s := newStation(t, lend(t))
	run := s.judge(quick, "SL-1")
	require.NoError(t, run.Await(t.Context(), "the capacitance", func(said string) bool { return strings.Contains(said, "capacitance") }))
	s.rig.Slow(10 * time.Millisecond)
	require.Equal(t, record.Pass, run.end(exitPass).Verdict)
}

// TestTheBusStandsStill: a data wire that stays low ends every transfer with an
// error; the monostable takes the coils off that no transfer can.
func TestTheBusStandsStill(t *testing.T) {
	s := newStation(t, lend(t))
	run := s.live("SD-1")
	trace := s.rig.Follow()
	broken := s.rig.Now()
	require.NoError(t, s.rig.Use(func(w *twin.Twin) error {
		return w.Break(twin.RigFault{Kind: twin.BusDead, Part: "i2c-main"})
	}))
	got := run.end(exitNoJudge)
	time.Sleep(opensBy)
	looks, err := trace.Stop()
	require.NoError(t, err)
	require.Equal(t, record.None, got.Verdict)
	seen := s.rig.Seen()
	require.Less(t, seen.Beats[len(seen.Beats)-1]-broken, time.Second, "the heartbeat has to end")
	opened(t, looks, seen, broken, looks[len(looks)-1].At+1)
}

// TestTheHeartbeatWireIsStuck: the monostable sees no edge any more, takes the
// coils off, and the bench sees that they have gone.
func TestTheHeartbeatWireIsStuck(t *testing.T) {
	s := newStation(t, lend(t))
	run := s.live("ST-1")
	trace := s.rig.Follow()
	stuck := s.rig.Now()
	require.NoError(t, s.rig.Use(func(w *twin.Twin) error {
		return w.Break(twin.RigFault{Kind: twin.LineStuck, Part: "heartbeat", Value: 1})
	}))
	got := run.end(exitNoJudge)
	looks, err := trace.Stop()
	require.NoError(t, err)
	require.Equal(t, record.None, got.Verdict)
	require.Empty(t, ClosedAfter(looks, stuck+opensBy))
	require.NotEmpty(t, looks)
	require.Contains(t, got.Reason, "coil supply")
}

// TestATransferHangsForASecond: contacts open while it hangs, and stay open
// after it has returned with its data.
func TestATransferHangsForASecond(t *testing.T) {
	s := newStation(t, lend(t))
	run := s.live("HA-1")
	trace := s.rig.Follow()
	begun := <-s.rig.HangAfter(0, time.Second)
	got := run.end(exitNoJudge)
	looks, err := trace.Stop()
	require.NoError(t, err)
	require.Equal(t, record.None, got.Verdict)
	require.Empty(t, ClosedAfter(looks, begun+opensBy))
	require.Greater(t, looks[len(looks)-1].At, begun+time.Second)
}

// TestEmergencyStopFromOutside: the hardware opens the contacts, the unit has no
// verdict, and a start with the stop pressed is refused.
func TestEmergencyStopFromOutside(t *testing.T) {
	s := newStation(t, lend(t))
	run := s.live("ES-1")
	trace := s.rig.Follow()
	pressed := s.rig.Now()
	require.NoError(t, s.rig.Use(func(w *twin.Twin) error { return w.Break(twin.RigFault{Kind: twin.StopPressed}) }))
	got := run.end(exitNoJudge)
	require.Equal(t, record.None, got.Verdict)
	require.Contains(t, got.Reason, "emergency stop")
	s.judge(quick, "ES-2").end(exitRefused)
	looks, err := trace.Stop()
	require.NoError(t, err)
	require.Empty(t, ClosedAfter(looks, pressed+release+2*Glance))
}

// TestTwoProcessesClaimOneRig: the second is refused and told of the first,
// which goes on undisturbed.
func TestTwoProcessesClaimOneRig(t *testing.T) {
	s := newStation(t, lend(t))
	first := s.start(quick, "TW-1")
	require.NoError(t, first.Await(t.Context(), "the request to seat", func(said string) bool { return len(requests(said)) > 0 }))
	t.Cleanup(func() {
		if t.Failed() {
			t.Log("the first said:\n" + first.Said())
		}
	})
	second := s.judge(quick, "TW-2")
	second.end(exitRefused)
	require.Regexp(t, `sinkproof run \d+`, second.Said())

	o := &Operator{Rig: s.rig, Serial: "TW-1"}
	require.NoError(t, o.Attend(t.Context(), first))
	exit, err := first.Wait(t.Context())
	require.NoError(t, err)
	require.Zero(t, exit.Code, "%s", first.Said())
}
