package ledger

import (
	"context"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// The columns follow the ledger.
func TestColumnsFollowTheLedger(t *testing.T) {
	ctx, path := context.Background(), filled(t)
	var behind []int64
	told, err := OpenValues(ctx, path, func(entries int64) { behind = append(behind, entries) })
	require.NoError(t, err)
	require.NoError(t, told.Close())
	told, err = OpenValues(ctx, path, func(entries int64) { behind = append(behind, entries) })
	require.NoError(t, err)
	require.NoError(t, told.Close())
	require.Equal(t, []int64{8}, behind, "told once what was missing")
	v := openValues(t, path)
	y, err := v.Yield(ctx, Question{})
	require.NoError(t, err)
	require.Equal(t, Yield{Runs: 3, Passed: 2, Failed: 1, First: 2, FirstPassed: 1}, y)
	fails, err := v.Pareto(ctx, Question{})
	require.NoError(t, err)
	require.Equal(t, []Failing{{"c-flipped", 1}, {"rd-cc2", 1}}, fails)

	l := reopen(t, path)
	complete(t, l, 9, "LMP-9", record.None)
	require.NoError(t, l.Close())
	after, err := openValues(t, path).Yield(ctx, Question{Product: "bicycle lamp", Supplier: "board house A", Lot: "2026-19"})
	require.NoError(t, err)
	require.Equal(t, Yield{Runs: 4, Passed: 2, Failed: 1, NoVerdict: 1, First: 3, FirstPassed: 1}, after)
	again, err := v.Yield(ctx, Question{})
	require.NoError(t, err)
	require.Equal(t, y, again, "who opened them before does not see what came later")
	for _, q := range []Question{{Product: "other"}, {Lot: "other"}, {Supplier: "other"}, {Since: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)}} {
		y, err = v.Yield(ctx, q)
		require.NoError(t, err)
		require.Zero(t, y, "%+v", q)
	}
	at := time.Date(2026, 5, 4, 7, 30, 2, 0, time.UTC) // the second run started in this second
	y, err = v.Yield(ctx, Question{Since: at, Until: at.Add(time.Second)})
	require.NoError(t, err)
	require.Equal(t, Yield{Runs: 1, Passed: 1, First: 1, FirstPassed: 1}, y)
	require.Empty(t, measured(t, v, Question{Check: "rd-cc9"}))
	require.Equal(t, []string{"rd-cc1", "rd-cc2", "c-flipped"}, v.Checks())
}

// What a twin made is counted among the others, and by itself.
func TestYieldCountsWhatATwinMade(t *testing.T) {
	ctx, path := context.Background(), filled(t)
	l := reopen(t, path)
	o := opening(9, "SIM-1")
	o.Bench.Kind = record.Twin
	o, _, err := l.OpenRun(ctx, o)
	require.NoError(t, err)
	_, err = l.CloseRun(ctx, runOf(o, record.Pass))
	require.NoError(t, err)
	require.NoError(t, l.Close())
	y, err := openValues(t, path).Yield(ctx, Question{})
	require.NoError(t, err)
	require.Equal(t, Yield{Runs: 4, Passed: 3, Failed: 1, First: 3, FirstPassed: 2, Twin: 1}, y)
}

// alterColumns runs a statement on the columns of a closed ledger.
func alterColumns(statement string) func(*testing.T, string) {
	return func(t *testing.T, path string) { alter(t, columnsBeside(path), statement) }
}

// A file of columns that does not fit the ledger is made anew, never believed.
func TestColumnsAreMadeAnew(t *testing.T) {
	other := filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, other)
	for n := range 8 {
		complete(t, l, n, fmt.Sprint("LMP-", n+7), record.Pass)
	}
	require.NoError(t, l.Close())
	require.NoError(t, openValues(t, other).Close())
	for name, spoil := range map[string]func(*testing.T, string){
		"another ledger's": func(t *testing.T, path string) {
			data, err := os.ReadFile(columnsBeside(other))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(columnsBeside(path), data, 0o644))
		},
		"no database": func(t *testing.T, path string) {
			require.NoError(t, os.WriteFile(columnsBeside(path), []byte("columns"), 0o644))
		},
		"nothing":                func(t *testing.T, path string) { require.NoError(t, os.Truncate(columnsBeside(path), 0)) },
		"an earlier version":     alterColumns("pragma user_version = 1"),
		"a longer chain":         alterColumns("update followed set seq = seq + 2"),
		"another chain":          alterColumns("update followed set hash = '" + record.Genesis + "'"),
		"a changed last block":   alterColumns("update blocks set data = zeroblob(length(data))"),
		"a block of another run": alterColumns("update blocks set data = (select data from blocks where col = 3) where col = 0"),
	} {
		path := filled(t)
		require.NoError(t, openValues(t, path).Close())
		spoil(t, path)
		v := openValues(t, path)
		y, err := v.Yield(context.Background(), Question{})
		require.NoError(t, err, name)
		require.Equal(t, Yield{Runs: 3, Passed: 2, Failed: 1, First: 2, FirstPassed: 1}, y, name)
		require.Equal(t, []float64{5103.25, 5103.25, 5103.25}, measured(t, v, Question{Check: "rd-cc1"}), name)
		require.NoError(t, v.Close())
	}
}

// batchesOf yields batches of records.
func batchesOf(batches ...[]record.Run) iter.Seq2[[]record.Run, error] {
	return func(yield func([]record.Run, error) bool) {
		for _, b := range batches {
			if !yield(b, nil) {
				return
			}
		}
	}
}

// tiny is the n-th of many runs of a twin: one check, one run in fifty failed.
func tiny(n int) record.Run {
	o := numbered(n)
	o.Bench.Kind = record.Twin
	r := runOf(o, record.Pass)
	r.Checks[0].Value.Value = float64(n)
	if n%50 == 0 {
		r.Verdict, r.Bin, r.Reason = record.Fail, record.BinRework, "Rd"
		r.Checks[0].Answer, r.Checks[0].Why = record.Failed, "open"
	}
	return r
}

// many makes a ledger of simulated runs.
func many(t testing.TB, n int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "many.ledger")
	l := reopen(t, path)
	require.NoError(t, l.Simulate(context.Background(), func(yield func([]record.Run, error) bool) {
		for from := 0; from < n; from += 1000 {
			var runs []record.Run
			for i := from; i < min(n, from+1000); i++ {
				runs = append(runs, tiny(i))
			}
			if !yield(runs, nil) {
				return
			}
		}
	}, func(int) {}))
	require.NoError(t, l.Close())
	return path
}

// contents are the blocks and texts of a ledger's columns.
func contents(t *testing.T, path string) map[string]string {
	t.Helper()
	db, err := connect(columnsBeside(path), "mode", "ro")
	require.NoError(t, err)
	defer db.Close()
	found := map[string]string{}
	for _, query := range []string{
		"select col || ' ' || number || ' ' || low || ' ' || high || ' ' || sum, hex(data) from blocks",
		"select 'text ' || code, name from texts", "select 'followed ' || seq || ' ' || runs, hash from followed",
	} {
		rows, err := db.Query(query)
		require.NoError(t, err)
		for rows.Next() {
			var key, value string
			require.NoError(t, rows.Scan(&key, &value))
			found[key] = value
		}
		require.NoError(t, errorsOf(rows.Err(), rows.Close()))
	}
	return found
}

func errorsOf(list ...error) error {
	for _, err := range list {
		if err != nil {
			return err
		}
	}
	return nil
}

// Columns that are made while records are written, in steps, or all at once from the
// entries are the same.
func TestColumnsDoNotDependOnTheWay(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, path)
	var runs []record.Run
	for n := range 30 {
		r := rich(n)
		r.Serial, r.Attempt = fmt.Sprint("LMP-", n), 1
		runs = append(runs, r)
	}
	require.NoError(t, l.Simulate(context.Background(), batchesOf(runs[:10], runs[10:]), func(int) {}))
	require.NoError(t, l.Close())
	written := contents(t, path)
	require.Len(t, written["followed 60 30"], 64)
	require.NoError(t, os.Remove(columnsBeside(path)))
	require.NoError(t, openValues(t, path).Close())
	require.Equal(t, written, contents(t, path))

	// A ledger that had runs before, whose columns nobody has opened yet.
	l = reopen(t, path)
	complete(t, l, 900, "LMP-900", record.Pass)
	require.NoError(t, l.Simulate(context.Background(), batchesOf([]record.Run{tiny(901)}), func(int) {}))
	require.NoError(t, l.Close())
	require.NoError(t, openValues(t, path).Close())
	followed := contents(t, path)
	require.Len(t, followed["followed 64 32"], 64)
	require.NoError(t, os.Remove(columnsBeside(path)))
	require.NoError(t, openValues(t, path).Close())
	require.Equal(t, followed, contents(t, path))
}

// Two programs that open the same columns at once do not tread on each other.
func TestColumnsOfSeveralPrograms(t *testing.T) {
	path := many(t, 600)
	require.NoError(t, os.Remove(columnsBeside(path)))
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			v, err := OpenValues(context.Background(), path, nil)
			if err == nil {
				var y Yield
				if y, err = v.Yield(context.Background(), Question{}); err == nil && y.Runs != 600 {
					err = fmt.Errorf("%d runs", y.Runs)
				}
				err = errorsOf(err, v.Close())
			}
			if err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
}

// Simulated records verify like others; evidence does not come in by the many.
func TestSimulatedRecords(t *testing.T) {
	ctx, l, done := context.Background(), NewLedger(t), 0
	var runs []record.Run
	for n := range 5 {
		runs = append(runs, tiny(n))
	}
	require.NoError(t, l.Simulate(ctx, batchesOf(runs[:2], nil, runs[2:]), func(n int) { done = n }))
	require.Equal(t, 5, done)
	seq, _, err := l.Head(ctx)
	require.NoError(t, err)
	require.EqualValues(t, 10, seq)
	complete(t, l, 8, "LMP-8", record.Pass)
	require.ErrorIs(t, l.Simulate(ctx, batchesOf([]record.Run{runOf(numbered(7), record.Pass)}), func(int) {}), ErrTwin)
	broken := tiny(11)
	broken.DurationUS = -1
	err = l.Simulate(ctx, batchesOf([]record.Run{tiny(9)}, []record.Run{tiny(10), broken}, []record.Run{tiny(12)}), func(n int) { done = n })
	require.ErrorIs(t, err, record.ErrInvalid)
	require.Equal(t, 1, done, "the batch before stands")
	seq, _, err = l.Head(ctx)
	require.NoError(t, err)
	require.EqualValues(t, 14, seq)
	stopped, stop := context.WithCancel(ctx)
	stop()
	require.ErrorIs(t, l.Simulate(stopped, batchesOf([]record.Run{tiny(13)}), func(int) {}), context.Canceled)
	complete(t, l, 14, "LMP-14", record.Pass)
}

// An index that came later is made when an older ledger is written to, and its
// absence is no complaint.
func TestAnOlderLedgerGetsItsIndexes(t *testing.T) {
	path := filled(t)
	for _, x := range laterIndexes() {
		alter(t, path, "drop index "+x.name)
	}
	verify(t, path, VerifyOpts{})
	l := reopen(t, path)
	for _, x := range laterIndexes() {
		var n int
		require.NoError(t, l.w.QueryRow("select count(*) from sqlite_schema where name = $1", x.name).Scan(&n))
		require.Equal(t, 1, n, x.name)
	}
	require.NoError(t, l.Close())
	verify(t, path, VerifyOpts{})
}
