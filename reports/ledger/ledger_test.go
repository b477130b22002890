package ledger

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func TestARunIsKept(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	seq, hash, err := l.Head(ctx)
	require.NoError(t, err)
	require.Zero(t, seq)
	require.Equal(t, record.Genesis, hash)

	o, opened, err := l.OpenRun(ctx, opening(1, "LMP-1"))
	require.NoError(t, err)
	require.Equal(t, 1, o.Attempt)
	require.Equal(t, record.RunOpened, opened.Kind)
	rows, err := l.History(ctx, "LMP-1")
	require.NoError(t, err)
	require.Len(t, rows, 1)
	require.True(t, rows[0].Open)

	run := runOf(o, record.Fail)
	closed, err := l.CloseRun(ctx, run)
	require.NoError(t, err)
	seq, hash, err = l.Head(ctx)
	require.NoError(t, err)
	require.EqualValues(t, 2, seq)
	require.Equal(t, closed.Hash, hash)

	got, entry, err := l.Run(ctx, o.ID)
	require.NoError(t, err)
	require.Equal(t, run, got)
	require.Equal(t, closed.Bytes(), entry.Bytes())

	rows, err = l.History(ctx, "LMP-1")
	require.NoError(t, err)
	require.Equal(t, []Row{{
		Run: o.ID, Serial: "LMP-1", Product: "bicycle lamp", Lot: "2026-19", Supplier: "board house A", Attempt: 1,
		Bench: "bench 3", BenchKind: record.Hardware, Started: time.Date(2026, 5, 4, 7, 30, 1, 250_000_000, time.UTC),
		Verdict: record.Fail, Bin: record.BinRework, Reason: "Rd missing", Failed: []string{"rd-cc2", "c-flipped"},
		OpenedSeq: 1, ClosedSeq: 2, OpenedHash: opened.Hash, ClosedHash: closed.Hash,
	}}, rows)
}

func TestNoAnswerHidesAnother(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	complete(t, l, 1, "LMP-1", record.Fail)
	complete(t, l, 2, "LMP-2", record.Pass)
	complete(t, l, 3, "LMP-1", record.Pass)
	rows, err := l.History(ctx, "LMP-1")
	require.NoError(t, err)
	require.Len(t, rows, 2)
	require.Equal(t, []record.Verdict{record.Fail, record.Pass}, []record.Verdict{rows[0].Verdict, rows[1].Verdict})
	require.Equal(t, []int{1, 2}, []int{rows[0].Attempt, rows[1].Attempt})
	rows, err = l.History(ctx, "LMP-9")
	require.NoError(t, err)
	require.Empty(t, rows)
}

func TestAThirdAttemptNeedsAName(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	complete(t, l, 1, "LMP-1", record.Fail)
	complete(t, l, 2, "LMP-1", record.None)
	before, err := l.Attempts(ctx, "LMP-1")
	require.NoError(t, err)
	require.Equal(t, Standing{Runs: 2, Unpassed: 2}, before)

	_, _, err = l.OpenRun(ctx, opening(3, "LMP-1"))
	require.ErrorIs(t, err, ErrAttempts)
	after, err := l.Attempts(ctx, "LMP-1")
	require.NoError(t, err)
	require.Equal(t, before, after, "a refused run leaves no entry")

	allowed := opening(3, "LMP-1")
	allowed.AllowedBy = "M. Weber"
	o, _, err := l.OpenRun(ctx, allowed)
	require.NoError(t, err)
	require.Equal(t, 3, o.Attempt)
	_, err = l.CloseRun(ctx, runOf(o, record.Pass))
	require.NoError(t, err)
	rows, err := l.History(ctx, "LMP-1")
	require.NoError(t, err)
	require.Equal(t, "M. Weber", rows[2].AllowedBy)
}

func TestPassedUnitsMayRunAgain(t *testing.T) {
	l := NewLedger(t)
	for n := range 4 {
		complete(t, l, n, "LMP-1", record.Pass)
	}
	standing, err := l.Attempts(context.Background(), "LMP-1")
	require.NoError(t, err)
	require.Equal(t, Standing{Runs: 4}, standing)
}

func TestALeftOpenRunIsClosedAsInterrupted(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, path)
	o, opened, err := l.OpenRun(ctx, opening(1, "LMP-1"))
	require.NoError(t, err)
	require.NoError(t, l.Close())
	require.NoError(t, l.Close(), "safe to call twice")

	l = reopen(t, path)
	require.Equal(t, []record.Interruption{{ID: o.ID, Serial: "LMP-1", Opened: opened.Hash, Reason: interrupted}}, l.Interrupted)
	rows, err := l.History(ctx, "LMP-1")
	require.NoError(t, err)
	require.True(t, rows[0].Interrupted)
	require.False(t, rows[0].Open)
	require.Equal(t, interrupted, rows[0].Reason)
	require.Empty(t, rows[0].Verdict)
	_, err = l.CloseRun(ctx, runOf(o, record.Pass))
	require.ErrorIs(t, err, ErrRun, "nobody closes it with a better answer")
	_, _, err = l.Run(ctx, o.ID)
	require.ErrorIs(t, err, ErrRun, "it has no record")
	standing, err := l.Attempts(ctx, "LMP-1")
	require.NoError(t, err)
	require.Equal(t, Standing{Runs: 1, Unpassed: 1}, standing, "it counts as an attempt")
	require.NoError(t, l.Close())

	require.Empty(t, reopen(t, path).Interrupted, "once is enough")
	report := verify(t, path, VerifyOpts{})
	require.EqualValues(t, 1, report.Interrupted)
	require.Zero(t, report.Open())
}

func TestARunCanBeInterruptedWithAReason(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	o, _, err := l.OpenRun(ctx, opening(1, "LMP-1"))
	require.NoError(t, err)
	_, err = l.InterruptRun(ctx, o.ID, "emergency stop before the first check")
	require.NoError(t, err)
	rows, err := l.History(ctx, "LMP-1")
	require.NoError(t, err)
	require.Equal(t, "emergency stop before the first check", rows[0].Reason)
	_, err = l.InterruptRun(ctx, o.ID, "again")
	require.ErrorIs(t, err, ErrRun)
}

func TestRunsThatDoNotFitAreRefused(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	complete(t, l, 1, "LMP-1", record.Pass)
	o, _, err := l.OpenRun(ctx, opening(2, "LMP-2"))
	require.NoError(t, err)
	for name, c := range map[string]struct {
		try   func() error
		cause error
	}{
		"id used before":      {func() error { _, _, err := l.OpenRun(ctx, opening(1, "LMP-5")); return err }, ErrRun},
		"serial on the bench": {func() error { _, _, err := l.OpenRun(ctx, opening(7, "LMP-2")); return err }, ErrRun},
		"wrong attempt": {func() error {
			o := opening(7, "LMP-1")
			o.Attempt = 1
			_, _, err := l.OpenRun(ctx, o)
			return err
		}, ErrRun},
		"bad serial":      {func() error { _, _, err := l.OpenRun(ctx, opening(7, "Lämp")); return err }, record.ErrInvalid},
		"never opened":    {func() error { _, err := l.CloseRun(ctx, runOf(opening(8, "LMP-8"), record.Pass)); return err }, ErrRun},
		"other identity":  {func() error { r := runOf(o, record.Pass); r.Lot = "x"; _, err := l.CloseRun(ctx, r); return err }, ErrRun},
		"invalid opening": {func() error { r := runOf(o, record.Pass); r.Product = ""; _, err := l.CloseRun(ctx, r); return err }, record.ErrInvalid},
		"invalid record":  {func() error { r := runOf(o, record.Pass); r.Bin = "bin"; _, err := l.CloseRun(ctx, r); return err }, record.ErrInvalid},
	} {
		require.ErrorIs(t, c.try(), c.cause, name)
	}
	seq, _, err := l.Head(ctx)
	require.NoError(t, err)
	require.EqualValues(t, 3, seq, "nothing refused was written")
	_, err = l.CloseRun(ctx, runOf(o, record.Pass))
	require.NoError(t, err, "the open run can still be closed")
}

func TestSameInputsSameBytes(t *testing.T) {
	require.Equal(t, stored(t, filled(t)), stored(t, filled(t)))
}

func TestSeveralNestsShareOneChain(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	var nests sync.WaitGroup
	errs := make(chan error, 4)
	for nest := range 4 {
		nests.Go(func() {
			for n := range 5 {
				o, _, err := l.OpenRun(ctx, opening(10*nest+n, fmt.Sprintf("LMP-%d-%d", nest, n)))
				if err == nil {
					_, err = l.CloseRun(ctx, runOf(o, record.Pass))
				}
				if err != nil {
					errs <- err
					return
				}
			}
		})
	}
	nests.Wait()
	close(errs)
	require.NoError(t, <-errs)
	seq, _, err := l.Head(ctx)
	require.NoError(t, err)
	require.EqualValues(t, 40, seq)
}

// One writer, any number of readers.
func TestASecondWriterIsRefused(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	complete(t, l, 1, "LMP-1", record.Pass)
	_, err := Open(ctx, l.path, Opts{Key: benchKey()})
	require.ErrorIs(t, err, ErrWriter)
	require.ErrorContains(t, err, l.path)
	_, err = Rebuild(ctx, l.path)
	require.ErrorIs(t, err, ErrWriter)

	first, err := OpenView(ctx, l.path)
	require.NoError(t, err)
	second, err := OpenView(ctx, l.path)
	require.NoError(t, err)
	for data, err := range first.Entries(ctx) {
		require.NoError(t, err)
		require.NotEmpty(t, data)
		complete(t, l, 10, "LMP-10", record.Pass)
		break
	}
	rows, err := second.History(ctx, "LMP-10")
	require.NoError(t, err)
	require.Len(t, rows, 1, "a reader sees what was committed beside it")
	require.NoError(t, first.Close())
	require.NoError(t, second.Close())
	verify(t, l.path, VerifyOpts{})
}

func TestALedgerIsContinuedWithItsKeyOnly(t *testing.T) {
	ctx, path := context.Background(), filled(t)
	_, err := Open(ctx, path, Opts{Key: testKey("z")})
	require.ErrorIs(t, err, record.ErrKey)
	_, err = Open(ctx, path, Opts{})
	require.ErrorIs(t, err, record.ErrKey)
	_, err = Open(ctx, path, Opts{Key: ed25519.PrivateKey("short")})
	require.ErrorIs(t, err, record.ErrKey)
	require.NoError(t, reopen(t, path).Close(), "a refused start gives the file back")
}

// A commit is on the disk before it returns: the log is synced at each.
func TestCommitsAreSynced(t *testing.T) {
	l := NewLedger(t)
	var journal string
	var synchronous int
	require.NoError(t, l.w.QueryRow("pragma journal_mode").Scan(&journal))
	require.NoError(t, l.w.QueryRow("pragma synchronous").Scan(&synchronous))
	require.Equal(t, "wal", journal)
	require.Equal(t, 2, synchronous, "2 is FULL (sqlite.org/pragma.html#pragma_synchronous)")
}

func TestACancelledCommitIsNone(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	_, _, err := l.OpenRun(cancelled, opening(1, "LMP-1"))
	require.ErrorIs(t, err, context.Canceled)
	complete(t, l, 1, "LMP-1", record.Pass)
	_, err = l.Verify(cancelled, VerifyOpts{})
	require.True(t, errors.Is(err, context.Canceled))
}
