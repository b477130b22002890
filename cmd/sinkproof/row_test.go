package main

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

// deployedRow is a whole station with four nests on the twin, one unit in each.
// When the test ends the ledger must verify and every contact be at rest.
type deployedRow struct {
	*row
	like *station
	rig  *twin.Rig
	path string
	runs map[string]record.Run
	seqs []int64
}

// deployRow makes one. pace is told every instant, and may be nil.
func deployRow(t *testing.T, pace func(time.Duration)) *deployedRow {
	t.Helper()
	p := nestPapers(t)
	rig, err := twin.NewRig(twin.Config{Wiring: p.rig.Rig, Product: p.product, Seed: 1, Pace: pace})
	require.NoError(t, err)
	s := &deployedRow{rig: rig, runs: map[string]record.Run{}}
	s.like = &station{papers: p, screen: newScreen(io.Discard), out: t.TempDir(), hardware: rig.Hardware()}
	s.like.identity, err = twinIdentity(p, 1, s.like.hardware.Clock)
	require.NoError(t, err)
	s.path = filepath.Join(s.like.out, "ledger.db")
	require.NoError(t, s.like.openLedger(t.Context(), s.path))
	var handlers []handler
	for _, n := range rig.Nests {
		handlers = append(handlers, &simulated{twin: n, truth: map[string][]twin.Fault{}})
	}
	s.row = newRow(s.like, handlers)
	s.units(1)
	s.told = func(d done) {
		s.runs[d.run.Serial] = d.run
		s.seqs = append(s.seqs, d.entry.Seq)
	}
	t.Cleanup(func() { s.rest(t) })
	return s
}

// units lets each nest take so many units, named after it.
func (s *deployedRow) units(each int) {
	taken := make([]int, len(s.nests))
	s.next = func(_ context.Context, nest int) (unit, bool, error) {
		s.rig.Nests[nest].Unseat()
		taken[nest]++
		return unit{serial: fmt.Sprintf("N%d-%d", nest+1, taken[nest])}, taken[nest] <= each, nil
	}
}

func (s *deployedRow) rest(t *testing.T) {
	ctx := context.Background()
	require.NoError(t, s.like.hardware.Clock.Sleep(ctx, 50*time.Millisecond))
	for i, n := range s.rig.Nests {
		for _, k := range n.Wiring().Relays {
			for c := range k.Contacts {
				no, nc, err := n.Truth().Made(k.Name, c)
				require.NoError(t, err)
				require.False(t, no || k.Contacts[c].Form == wiring.FormC && !nc, "%s of nest %d is not at rest", k.Name, i+1)
			}
		}
	}
	require.NoError(t, s.like.ledger.Close())
	verifyLedger(t, s.path, record.Public(s.like.key))
}

func verifyLedger(t *testing.T, path string, key ed25519.PublicKey) {
	t.Helper()
	view, err := ledger.OpenView(context.Background(), path)
	require.NoError(t, err)
	_, err = view.Verify(context.Background(), ledger.VerifyOpts{Keys: []ed25519.PublicKey{key}, AllowTwin: true})
	require.NoError(t, err)
	require.NoError(t, view.Close())
}

// at breaks the rig at an instant of its clock.
func (s *deployedRow) at(t *testing.T, at time.Duration, f twin.RigFault) {
	t.Helper()
	f.At = at
	require.NoError(t, s.rig.Break(f))
}

// midRun is in the middle of the first run of every nest.
const midRun = 4 * time.Second

// TestNestsAreJudgedForThemselves: four nests, two units each, one chain in the
// order of commit; every record names its nest.
func TestNestsAreJudgedForThemselves(t *testing.T) {
	s := deployRow(t, nil)
	s.nests[2].handler.(*simulated).truth["N3-1"] = []twin.Fault{{Name: "no-rd"}}
	s.units(2)
	require.Empty(t, s.run(t.Context()))
	require.Len(t, s.runs, 8)
	for serial, run := range s.runs {
		want := record.Pass
		if serial == "N3-1" {
			want = record.Fail
		}
		require.Equal(t, want, run.Verdict, "%s: %s", serial, run.Reason)
		require.Equal(t, fmt.Sprintf("N%d", run.Nest), serial[:2], "the record names its nest")
	}
	for i := 1; i < len(s.seqs); i++ {
		require.Greater(t, s.seqs[i], s.seqs[i-1], "in the order of commit")
	}
}

func TestStopInMidRunEndsEveryNest(t *testing.T) {
	s := deployRow(t, nil)
	s.units(2)
	s.at(t, midRun, twin.RigFault{Kind: twin.StopPressed})
	errs := s.run(t.Context())
	require.Len(t, errs, 4, "the next units are refused")
	require.Len(t, s.runs, 4)
	for serial, run := range s.runs {
		require.Equal(t, record.None, run.Verdict, serial)
		require.Contains(t, run.Reason, "emergency stop")
	}
	require.Equal(t, exitRefused, report(io.Discard, worst(nil, errs)))
}

func TestLidInMidRunEndsItsOwnNest(t *testing.T) {
	s := deployRow(t, nil)
	s.units(2)
	s.at(t, midRun, twin.RigFault{Kind: twin.LidOpened, Part: "nest-2", For: 30 * time.Millisecond})
	require.Empty(t, s.run(t.Context()), "the lid is shut again for the next unit")
	require.Len(t, s.runs, 8)
	for serial, run := range s.runs {
		if serial == "N2-1" {
			require.Equal(t, record.None, run.Verdict)
			require.Contains(t, run.Reason, "lid2")
			continue
		}
		require.Equal(t, record.Pass, run.Verdict, "%s: %s", serial, run.Reason)
	}
}

// TestDeadChipInMidRun: the unit of that nest has no verdict and its next one is
// not taken; the others do not notice.
func TestDeadChipInMidRun(t *testing.T) {
	var s *deployedRow
	died := false
	s = deployRow(t, func(at time.Duration) {
		if at > midRun && !died {
			died = true
			require.NoError(t, s.rig.Break(twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-4/adc1"}))
		}
	})
	s.units(2)
	errs := s.run(t.Context())
	require.Len(t, errs, 1)
	require.ErrorContains(t, errs[0], "nest-4")
	require.ErrorContains(t, errs[0], "adc1")
	require.Equal(t, exitNoJudge, report(io.Discard, worst(nil, errs)))
	for serial, run := range s.runs {
		want := record.Pass
		if run.Nest == 4 {
			want = record.None
		}
		require.Equal(t, want, run.Verdict, "%s: %s", serial, run.Reason)
	}
	require.Len(t, s.runs, 7)
}

// TestHungBusInMidRun: the one loop is held up, every nest loses its coils and no
// unit its good name; the next units are taken as if nothing had been.
func TestHungBusInMidRun(t *testing.T) {
	var s *deployedRow
	hung := false
	s = deployRow(t, func(at time.Duration) {
		if at > midRun && !hung {
			hung = true
			require.NoError(t, s.rig.Break(twin.RigFault{Kind: twin.BusHang, Part: "i2c-1", Index: 1, For: 300 * time.Millisecond}))
		}
	})
	s.units(2)
	require.Empty(t, s.run(t.Context()))
	for serial, run := range s.runs {
		want := record.Pass
		if strings.HasSuffix(serial, "-1") {
			want = record.None
			require.Contains(t, run.Reason, "heartbeat")
		}
		require.Equal(t, want, run.Verdict, "%s: %s", serial, run.Reason)
	}
}

// TestNestThatDoesNotOpen: it is out of service, and its units are not taken; the
// others are.
func TestNestThatDoesNotOpen(t *testing.T) {
	s := deployRow(t, nil)
	require.NoError(t, s.rig.Break(twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-1/out2"}))
	require.NoError(t, s.try(t.Context()))
	errs := s.run(t.Context())
	require.Len(t, errs, 1)
	require.ErrorContains(t, errs[0], "nest-1")
	require.Len(t, s.runs, 3)
	for serial, run := range s.runs {
		require.Equal(t, record.Pass, run.Verdict, "%s: %s", serial, run.Reason)
	}
}

// TestKilledInMidRun: of a program that is killed while all nests are busy, the
// ledger shows four runs that were begun; the next start closes them as interrupted.
func TestKilledInMidRun(t *testing.T) {
	var s *deployedRow
	left := filepath.Join(t.TempDir(), "ledger.db")
	killed := false
	s = deployRow(t, func(at time.Duration) {
		if at < midRun || killed {
			return
		}
		killed = true
		for _, end := range []string{"", "-wal", "-shm"} {
			data, err := os.ReadFile(s.path + end)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(left+end, data, 0o600))
		}
	})
	require.Empty(t, s.run(t.Context()))
	require.True(t, killed)
	again, err := ledger.Open(t.Context(), left, ledger.Opts{Key: s.like.key})
	require.NoError(t, err)
	require.Len(t, again.Interrupted, 4)
	require.NoError(t, again.Close())
	verifyLedger(t, left, record.Public(s.like.key))
}

// scanned are hands that move units when their nest is scanned, after a time.
type scanned struct {
	*hands
	*simulated
}

func (h *scanned) attend(rig *bench.Rig) { h.hands.attend(rig) }

func (h *scanned) Seat(ctx context.Context, serial string) error {
	if err := h.hands.Seat(ctx, serial); err != nil {
		return err
	}
	return h.simulated.Seat(ctx, serial)
}

func (h *scanned) Unseat(ctx context.Context, serial, why string) error {
	if err := h.hands.Unseat(ctx, serial, why); err != nil {
		return err
	}
	return h.simulated.Unseat(ctx, serial, why)
}

func (h *scanned) Reseat(ctx context.Context, serial, why string) error {
	if err := h.hands.Reseat(ctx, serial, why); err != nil {
		return err
	}
	return h.simulated.Reseat(ctx, serial, why)
}

// promptly is an operator who does what the desk asks for as soon as it is said.
type promptly struct {
	says  chan<- string
	asked []string
}

func (a *promptly) Write(p []byte) (int, error) {
	text := string(p)
	a.asked = append(a.asked, text)
	if i := strings.LastIndex(text, "type "); i >= 0 {
		number := strings.TrimSuffix(text[i+len("type "):], ".\n")
		go func() { a.says <- number }()
	}
	return len(p), nil
}

// TestOperatorScansNests: units and answers come from one scanner, records are
// committed beside the loop, and the coils of no nest are lost meanwhile.
func TestOperatorScansNests(t *testing.T) {
	s := deployRow(t, nil)
	lines := make(chan string)
	operator := &promptly{says: lines}
	d := &desk{out: operator, names: s.names(), lines: lines, chosen: -1, asked: make([]bool, 4), answers: make([]bool, 4), serials: make([][]string, 4)}
	var one sync.Mutex
	for i, n := range s.nests {
		n.handler = &scanned{&hands{desk: d, nest: i}, n.handler.(*simulated)}
		n.beside = besideLoop(n.hardware.Clock, &one)
	}
	f := &runFlags{serials: []string{"1=HL-1", "nest-2=HL-2", "3=HL-3", "4=HL-4", "4=HL-5"}}
	require.NoError(t, f.serve(s.row, d, takesOut{keyboard{d, s.row}, s.rig}))
	require.Empty(t, s.run(t.Context()))
	require.Len(t, s.runs, 5)
	for serial, run := range s.runs {
		require.Equal(t, record.Pass, run.Verdict, "%s: %s", serial, run.Reason)
	}
	require.Contains(t, operator.asked, "nest-2: seat HL-2, then scan the nest or type 2.\n")
	require.Contains(t, operator.asked, "nest-4: take the unit out, then scan the nest or type 4.\n")
}

// takesOut is a keyboard at which the unit is out when that was answered.
type takesOut struct {
	keyboard
	rig *twin.Rig
}

func (k takesOut) clear(ctx context.Context, nest int) error {
	err := k.keyboard.clear(ctx, nest)
	k.rig.Nests[nest].Unseat()
	return err
}

// TestDeskTakesScans: what is scanned is a nest, a serial for the nest that was
// scanned before, or both.
func TestDeskTakesScans(t *testing.T) {
	var told strings.Builder
	d := newDesk(strings.NewReader("S-0\n2\nS-1\nright S-2\n\n1\nS-3\n"), &told, []string{"left", "right"})
	for !d.ended {
		d.wait()
	}
	for nest, want := range [][]string{{"S-3"}, {"S-1", "S-2"}} {
		for _, serial := range want {
			got, ok := d.next(nest)
			require.True(t, ok)
			require.Equal(t, serial, got)
		}
		_, ok := d.next(nest)
		require.False(t, ok)
	}
	require.Contains(t, told.String(), `"S-0" names no nest: scan the nest first, one of left, right.`)
	d = newDesk(strings.NewReader("1\n"), &told, []string{"left", "right"})
	d.ask(0, "seat S-9")
	d.wait()
	require.True(t, d.answered(0))
}
