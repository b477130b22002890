package ledger

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// testKey is the key of a seed that repeats one letter.
func testKey(letter string) ed25519.PrivateKey {
	return ed25519.NewKeyFromSeed([]byte(strings.Repeat(letter, ed25519.SeedSize)))
}

// benchKey is the key that test ledgers are written with.
func benchKey() ed25519.PrivateKey { return testKey("k") }

// opening is the n-th opening of a test; its id derives from n.
func opening(n int, serial string) record.Opening {
	at := time.Date(2026, 5, 4, 7, 30, n, 250_000_000, time.UTC)
	id, err := record.NewID(at, strings.NewReader(fmt.Sprintf("%010d", n)))
	if err != nil {
		panic(err)
	}
	return record.Opening{
		ID: id, Serial: serial, Product: "bicycle lamp", Lot: "2026-19", Supplier: "board house A",
		Bench:    record.Bench{Name: "bench 3", Kind: record.Hardware, Program: "0.1.0"},
		Started:  record.Instant(at),
		Files:    []record.File{{Role: record.RoleScenario, Name: "charge path", SHA256: strings.Repeat("0a", 32)}},
		Decision: record.Decision{Rule: record.Simple},
	}
}

// runOf is the record of an opened run that ends in the verdict.
func runOf(o record.Opening, verdict record.Verdict) record.Run {
	r := record.Run{
		Schema: record.RunSchema, Opening: o, DurationUS: 18_734_112, Verdict: verdict, Bin: record.BinPass,
		Checks: []record.Check{{
			Name: "rd-cc1", Title: "Termination at CC1", Answer: record.Passed, AtUS: 812_000,
			Value: &record.Value{Value: 5103.25, Unit: "Ω", U: 14.5},
		}},
	}
	switch verdict {
	case record.Fail:
		r.Bin, r.Reason = record.BinRework, "Rd missing"
		for _, name := range []string{"rd-cc2", "c-flipped"} {
			r.Checks = append(r.Checks, record.Check{Name: name, Title: name, Answer: record.Failed, Why: "open"})
		}
	case record.None:
		r.Bin, r.Reason = record.BinRetest, "bus error"
		r.Fault = &record.BenchFault{AtUS: 5, What: "bus error"}
	}
	return r
}

// NewLedger opens a new ledger and registers, as the cleanup of the test, the
// full verification of what it holds then.
func NewLedger(t testing.TB) *Ledger {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, path)
	t.Cleanup(func() {
		require.NoError(t, l.Close())
		if _, err := os.Stat(path); err == nil {
			verify(t, path, VerifyOpts{AllowTwin: true})
		}
	})
	return l
}

// reopen opens a ledger with the key of the test's bench.
func reopen(t testing.TB, path string) *Ledger {
	t.Helper()
	l, err := Open(context.Background(), path, Opts{Key: benchKey()})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, l.Close()) })
	return l
}

// verify demands that a ledger verifies with the test's key.
func verify(t testing.TB, path string, opts VerifyOpts) Report {
	t.Helper()
	report, err := tryVerify(t, path, opts)
	require.NoError(t, err)
	return report
}

func tryVerify(t testing.TB, path string, opts VerifyOpts) (Report, error) {
	t.Helper()
	if opts.Keys == nil {
		opts.Keys = []ed25519.PublicKey{record.Public(benchKey())}
	}
	v, err := OpenView(context.Background(), path)
	require.NoError(t, err)
	report, err := v.Verify(context.Background(), opts)
	require.NoError(t, v.Close())
	return report, err
}

// complete opens and closes a run.
func complete(t testing.TB, l *Ledger, n int, serial string, verdict record.Verdict) record.Entry {
	t.Helper()
	o, _, err := l.OpenRun(context.Background(), opening(n, serial))
	require.NoError(t, err)
	e, err := l.CloseRun(context.Background(), runOf(o, verdict))
	require.NoError(t, err)
	return e
}

// filled makes a closed ledger of eight entries and returns its path: three
// serials of which one failed, passed its retest, and was interrupted.
func filled(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, path)
	complete(t, l, 1, "LMP-1", record.Fail)
	complete(t, l, 2, "LMP-2", record.Pass)
	complete(t, l, 3, "LMP-1", record.Pass)
	_, _, err := l.OpenRun(context.Background(), opening(4, "LMP-3"))
	require.NoError(t, err)
	require.NoError(t, l.Close())
	require.NoError(t, reopen(t, path).Close())
	return path
}

// alter runs statements on a closed ledger, as someone with the file could.
func alter(t testing.TB, path string, statements ...string) {
	t.Helper()
	db, err := connect(path, "mode", "rw")
	require.NoError(t, err)
	for _, statement := range statements {
		_, err := db.Exec(statement)
		require.NoError(t, err, statement)
	}
	require.NoError(t, db.Close())
}

// stored reads the bytes of the entries by number.
func stored(t testing.TB, path string) [][]byte {
	t.Helper()
	v, err := OpenView(context.Background(), path)
	require.NoError(t, err)
	var list [][]byte
	for data, err := range v.Entries(context.Background()) {
		require.NoError(t, err)
		list = append(list, data)
	}
	require.NoError(t, v.Close())
	return list
}
