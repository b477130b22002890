package main

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

// nestPapers are those of the shipped rig with four nests.
func nestPapers(t testing.TB) *papers {
	t.Helper()
	p, err := load(nestsRig, defaultProduct, defaultScenario, io.Discard)
	require.NoError(t, err)
	return p
}

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
func deployRow(t *testing.T, p *papers, pace func(time.Duration)) *deployedRow {
	t.Helper()
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

// scanned are hands that move units when their nest is scanned, after a time.
type scanned struct {
	*hands
	*simulated
}

func (h *scanned) attend(rig attended) { h.hands.attend(rig) }

func (h *scanned) SeatReceptacle(ctx context.Context, why string) error {
	if err := h.hands.SeatReceptacle(ctx, why); err != nil {
		return err
	}
	return h.simulated.SeatReceptacle(ctx, why)
}

func (h *scanned) TakeReceptacle(ctx context.Context) error {
	if err := h.hands.TakeReceptacle(ctx); err != nil {
		return err
	}
	return h.simulated.TakeReceptacle(ctx)
}

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
	p, err := load(nestsRig, "key-tag", "terminations-only", io.Discard)
	require.NoError(t, err)
	s := deployRow(t, p, nil)
	lines := make(chan string)
	operator := &promptly{says: lines}
	d := &desk{out: operator, names: s.names(), lines: lines, chosen: -1, asked: make([]bool, 4), answers: make([]bool, 4), serials: make([][]string, 4)}
	var one sync.Mutex
	for i, n := range s.nests {
		n.handler = &scanned{&hands{desk: d, nest: i}, n.handler.(*simulated)}
		n.now = time.Now // a clock that may be read beside the loop
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

// TestNestComesBackIntoService: while units are scanned, a nest that could not be
// opened is tried again for each.
func TestNestComesBackIntoService(t *testing.T) {
	p, err := load(nestsRig, "key-tag", "terminations-only", io.Discard)
	require.NoError(t, err)
	s := deployRow(t, p, nil)
	require.NoError(t, s.rig.Break(twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-1/out2"}))
	s.scanning = true
	require.NoError(t, s.try(t.Context()))
	taken := 0
	s.next = func(_ context.Context, nest int) (unit, bool, error) {
		if nest != 0 || taken == 2 {
			return unit{}, false, nil
		}
		if taken++; taken == 2 {
			s.rig.Nests[0].Mend()
		}
		return unit{serial: fmt.Sprintf("HL-%d", taken)}, true, nil
	}
	errs := s.run(t.Context())
	require.Len(t, errs, 1)
	require.ErrorContains(t, errs[0], "out2")
	require.Len(t, s.runs, 1)
	require.Equal(t, record.Pass, s.runs["HL-2"].Verdict, "%s", s.runs["HL-2"].Reason)
	rows, err := s.like.ledger.History(t.Context(), "HL-1")
	require.NoError(t, err)
	require.Empty(t, rows, "no run of it was begun")
}
