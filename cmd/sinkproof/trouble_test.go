package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ed25519"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

// deployed is a whole station on the twin with a ledger in a folder of the
// test. When the test ends, the ledger must verify, whatever happened before.
type deployed struct {
	*station
	sim  *simulated
	path string
}

func deploy(t *testing.T) *deployed {
	t.Helper()
	p := shippedPapers(t)
	sim, err := newSimulated(p, 1, false)
	require.NoError(t, err)
	s := &deployed{sim: sim, station: &station{
		papers: p, screen: newScreen(io.Discard), out: t.TempDir(), handler: sim, hardware: sim.twin.Hardware(),
	}}
	s.identity, err = twinIdentity(p, 1, s.hardware.Clock)
	require.NoError(t, err)
	s.path = filepath.Join(s.out, "ledger.db")
	require.NoError(t, s.openLedger(t.Context(), s.path))
	t.Cleanup(func() { s.verify(t) })
	return s
}

func (s *deployed) verify(t *testing.T) {
	t.Helper()
	ctx := context.Background()
	require.NoError(t, s.ledger.Close())
	view, err := ledger.OpenView(ctx, s.path)
	require.NoError(t, err)
	_, err = view.Verify(ctx, ledger.VerifyOpts{Keys: []ed25519.PublicKey{record.Public(s.key)}, AllowTwin: true})
	require.NoError(t, err)
	require.NoError(t, view.Close())
}

// atRest demands that no contact is made that needs its coil, as seen in the
// circuit and not by reading a register back.
func (s *deployed) atRest(t *testing.T) {
	t.Helper()
	require.NoError(t, s.sim.twin.Truth().Pass(100*time.Millisecond))
	for _, r := range s.papers.rig.Rig.Relays {
		for i, c := range r.Contacts {
			no, _, err := s.sim.twin.Truth().Made(r.Name, i)
			require.NoError(t, err)
			require.False(t, no, "relay %s, contact %s is made", r.Name, c.Name)
		}
	}
}

// noVerdict demands that the ledger holds the run of a serial as closed and
// without a verdict.
func (s *deployed) noVerdict(t *testing.T, d done) {
	t.Helper()
	require.Equal(t, record.None, d.run.Verdict)
	require.Equal(t, record.BinRetest, d.run.Bin)
	require.NotEmpty(t, d.run.Reason)
	require.Equal(t, exitNoJudge, report(io.Discard, exitOf(d.run)))
	rows, err := s.ledger.History(t.Context(), d.run.Serial)
	require.NoError(t, err)
	require.Len(t, rows, 1)
	require.Equal(t, "closed", state(rows[0]))
	require.Equal(t, record.None, rows[0].Verdict)
	require.FileExists(t, filepath.Join(s.out, d.pdf))
}

// TestBusThatDies: wherever in a run the bus dies, the run ends without a
// verdict, its entry is kept with the reason, and the contacts are open.
func TestBusThatDies(t *testing.T) {
	for _, at := range []int{150, 700, 1500, 2500} {
		t.Run(fmt.Sprintf("after %d transfers", at), func(t *testing.T) {
			s := deploy(t)
			require.NoError(t, s.sim.twin.Break(twin.RigFault{Kind: twin.BusDead, Part: "i2c-main", Index: at}))
			d, err := s.judge(t.Context(), unit{serial: "HL-1"})
			require.NoError(t, err)
			require.NotNil(t, d.run.Fault)
			s.noVerdict(t, d)
			s.atRest(t)
		})
	}
}

// TestHungTransfer: a transfer hangs for a second in mid-run. The contacts are
// open, and stay open after it returned.
func TestHungTransfer(t *testing.T) {
	s := deploy(t)
	require.NoError(t, s.sim.twin.Break(twin.RigFault{Kind: twin.BusHang, Part: "i2c-main", Index: 2000, For: time.Second}))
	d, err := s.judge(t.Context(), unit{serial: "HL-1"})
	require.NoError(t, err)
	s.noVerdict(t, d)
	s.atRest(t)
	require.False(t, s.sim.twin.Truth().CoilSupply(), "the coil supply was armed again")
}

// TestStopInMidRun: the emergency stop and the lid isolate, and no verdict is
// given.
func TestStopInMidRun(t *testing.T) {
	for _, kind := range []twin.RigFaultKind{twin.StopPressed, twin.LidOpened} {
		t.Run(string(kind), func(t *testing.T) {
			s := deploy(t)
			at := s.sim.twin.Truth().Now() + 3*time.Second
			require.NoError(t, s.sim.twin.Break(twin.RigFault{Kind: kind, At: at}))
			d, err := s.judge(t.Context(), unit{serial: "HL-1"})
			require.NoError(t, err)
			s.noVerdict(t, d)
			s.atRest(t)
		})
	}
}

// cancelling seats the unit and is then called away.
type cancelling struct {
	*simulated
	cancel context.CancelFunc
}

func (c *cancelling) Seat(ctx context.Context, serial string) error {
	err := c.simulated.Seat(ctx, serial)
	c.cancel()
	return err
}

// TestCancelledRun: a signal ends the run isolated, the ledger keeps it, and
// what follows on the serial is its second attempt.
func TestCancelledRun(t *testing.T) {
	s := deploy(t)
	ctx, cancel := context.WithCancel(t.Context())
	s.handler = &cancelling{s.sim, cancel}
	d, err := s.judge(ctx, unit{serial: "HL-1"})
	require.ErrorIs(t, err, context.Canceled)
	s.noVerdict(t, d)
	s.atRest(t)

	s.handler = s.sim
	s.sim.twin.Unseat()
	d, err = s.judge(t.Context(), unit{serial: "HL-1"})
	require.NoError(t, err)
	require.Equal(t, record.Pass, d.run.Verdict, "%s", d.run.Reason)
	require.Equal(t, 2, d.run.Attempt)
}

// TestWeldedSupplyContact: one of the two contacts in series of a supply is
// welded. No unit is blamed for it.
func TestWeldedSupplyContact(t *testing.T) {
	for _, r := range []string{"k_csup1", "k_leg1", "k_port2"} {
		t.Run(r, func(t *testing.T) {
			s := deploy(t)
			require.NoError(t, s.sim.twin.Break(twin.RigFault{Kind: twin.ContactWelded, Part: r}))
			d, err := s.judge(t.Context(), unit{serial: "HL-1"})
			require.NoError(t, err)
			require.NotEqual(t, record.Fail, d.run.Verdict, "%v", failedNames(d.run))
		})
	}
}

// TestRigThatDoesNotOpen: a rig that cannot be opened for a run whose opening
// is committed leaves the run closed as interrupted, with the reason.
func TestRigThatDoesNotOpen(t *testing.T) {
	s := deploy(t)
	require.NoError(t, s.sim.twin.Break(twin.RigFault{Kind: twin.ChipAbsent, Part: "out2"}))
	_, err := s.judge(t.Context(), unit{serial: "HL-1"})
	require.Equal(t, exitNoJudge, report(io.Discard, err))
	rows, err := s.ledger.History(t.Context(), "HL-1")
	require.NoError(t, err)
	require.Len(t, rows, 1)
	require.Equal(t, "interrupted", state(rows[0]))
	require.Contains(t, rows[0].Reason, "out2")
}

// slowHands is a keyboard on which Enter is pressed after a time on the
// bench's clock.
type slowHands struct {
	*simulated
	operator
	enter chan struct{}
}

func (h *slowHands) Read(p []byte) (int, error) {
	<-h.enter
	return copy(p, "\n"), nil
}

func (h *slowHands) attend(rig attended) { h.operator.attend(rig) }

func (h *slowHands) SeatReceptacle(ctx context.Context, why string) error {
	return h.simulated.SeatReceptacle(ctx, why)
}

func (h *slowHands) TakeReceptacle(ctx context.Context) error { return h.simulated.TakeReceptacle(ctx) }

func (h *slowHands) Seat(ctx context.Context, serial string) error {
	if err := h.operator.Seat(ctx, serial); err != nil {
		return err
	}
	return h.simulated.Seat(ctx, serial)
}

func (h *slowHands) Unseat(ctx context.Context, serial, why string) error {
	return h.simulated.Unseat(ctx, serial, why)
}

func (h *slowHands) Reseat(ctx context.Context, serial, why string) error {
	return h.simulated.Reseat(ctx, serial, why)
}

// TestOperatorTakesTime: the coil supply stays alive while a person seats the
// unit for seven seconds.
func TestOperatorTakesTime(t *testing.T) {
	p := shippedPapers(t)
	hands := &slowHands{enter: make(chan struct{})}
	pressed := false
	tw, err := twin.New(twin.Config{Wiring: p.rig.Rig, Product: p.product, Seed: 1, Pace: func(at time.Duration) {
		if at > 7*time.Second && !pressed {
			pressed = true
			close(hands.enter)
		}
	}})
	require.NoError(t, err)
	hands.simulated = &simulated{twin: tw, truth: map[string][]twin.Fault{}}
	hands.operator = operator{in: bufio.NewReader(hands), out: io.Discard}
	s := &station{papers: p, screen: newScreen(io.Discard), out: t.TempDir(), handler: hands, hardware: tw.Hardware()}
	s.identity, err = twinIdentity(p, 1, s.hardware.Clock)
	require.NoError(t, err)
	require.NoError(t, s.openLedger(t.Context(), filepath.Join(s.out, "ledger.db")))
	d, err := s.judge(t.Context(), unit{serial: "HL-1"})
	require.NoError(t, err)
	require.Equal(t, record.Pass, d.run.Verdict, "%s", d.run.Reason)
	require.Greater(t, d.run.DurationUS, int64(7_000_000))
	require.NoError(t, s.ledger.Close())
}

// TestFilesThatCannotBeWritten: a report that cannot be written loses no
// answer and is no wrong usage.
func TestFilesThatCannotBeWritten(t *testing.T) {
	s := deploy(t)
	require.NoError(t, os.WriteFile(filepath.Join(s.out, "units"), nil, 0o600))
	_, err := s.judge(t.Context(), unit{serial: "HL-1"})
	var told bytes.Buffer
	require.Equal(t, exitNoJudge, report(&told, err))
	require.Contains(t, told.String(), "the record is safe in the ledger")
	rows, err := s.ledger.History(t.Context(), "HL-1")
	require.NoError(t, err)
	require.Equal(t, record.Pass, rows[0].Verdict)
}

// TestNoVerdictOnTheScreenBeforeItIsKept: an operator puts the unit where the screen
// says, so that it says nothing about a record that could not be committed.
func TestNoVerdictOnTheScreenBeforeItIsKept(t *testing.T) {
	s := deploy(t)
	var shown bytes.Buffer
	s.screen = newScreen(&shown)
	good, err := s.judge(t.Context(), unit{serial: "HL-1"})
	require.NoError(t, err)
	require.Contains(t, shown.String(), "HL-1  PASS  bin: pass")

	shown.Reset()
	again := good.run
	again.ID = "019b91e4-0b2c-78f0-9952-108b46d1fc5b" // no such run was opened
	_, err = s.keep(t.Context(), again)
	require.Error(t, err)
	require.Empty(t, shown.String())
	opening, err := s.open(t.Context(), unit{serial: "HL-2"})
	require.NoError(t, err)
	rig, relays, err := openBench(t.Context(), s.papers, s.hardware)
	require.NoError(t, err)
	s.handler.attend(rig)
	run, _ := s.watched(t.Context(), rig, relays, opening, nil)
	require.NoError(t, rig.Close())
	require.NotContains(t, shown.String(), "bin:")
	_, err = s.keep(t.Context(), run)
	require.NoError(t, err)
	require.Contains(t, shown.String(), "HL-2  "+verdictWord(run.Verdict)+"  bin: "+string(run.Bin))
}
