package ledger

import (
	"context"
	"iter"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// openValues opens the values of a ledger for one test.
func openValues(t testing.TB, path string) *Values {
	t.Helper()
	v, err := OpenValues(context.Background(), path)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, v.Close()) })
	return v
}

// points are the values that the columns and the records give for a question.
func points(t testing.TB, path string, q Question) (columns, records []float64) {
	t.Helper()
	ctx := context.Background()
	_, err := openValues(t, path).Points(ctx, q, Span{}, func(p Point, _ *Terms) error {
		columns = append(columns, p.Value)
		return nil
	})
	require.NoError(t, err)
	view, err := OpenView(ctx, path)
	require.NoError(t, err)
	for f, err := range view.Readings(ctx, q) {
		require.NoError(t, err)
		records = append(records, f.Check.Value.Value)
	}
	require.NoError(t, view.Close())
	return columns, records
}

// The columns say what the records say, and follow them.
func TestColumnsFollowTheLedger(t *testing.T) {
	ctx, path := context.Background(), filled(t)
	columns, records := points(t, path, Question{Check: "rd-cc1"})
	require.Equal(t, records, columns)
	require.Len(t, columns, 3)
	first, records := points(t, path, Question{Check: "rd-cc1", First: true})
	require.Equal(t, records, first)
	require.Len(t, first, 2)

	v := openValues(t, path)
	y, err := v.Yield(ctx, Question{}, Span{})
	require.NoError(t, err)
	require.Equal(t, Yield{Runs: 3, Passed: 2, Failed: 1, First: 2, FirstPassed: 1}, y)
	fails, err := v.Pareto(ctx, Question{}, Span{})
	require.NoError(t, err)
	require.Equal(t, []Failing{{"c-flipped", 1}, {"rd-cc2", 1}}, fails)

	l := reopen(t, path)
	complete(t, l, 9, "LMP-9", record.None)
	require.NoError(t, l.Close())
	y, err = openValues(t, path).Yield(ctx, Question{Product: "bicycle lamp", Supplier: "board house A", Lot: "2026-19"}, Span{})
	require.NoError(t, err)
	require.Equal(t, Yield{Runs: 4, Passed: 2, Failed: 1, NoVerdict: 1, First: 3, FirstPassed: 1}, y)
	for _, q := range []Question{{Product: "other"}, {Lot: "other"}, {Supplier: "other"}, {Since: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)}} {
		y, err = v.Yield(ctx, q, Span{})
		require.NoError(t, err)
		require.Zero(t, y, "%+v", q)
	}
	at := time.Date(2026, 5, 4, 7, 30, 2, 0, time.UTC) // the second run started in this second
	y, err = v.Yield(ctx, Question{}, Span{From: at, To: at.Add(time.Second)})
	require.NoError(t, err)
	require.Equal(t, Yield{Runs: 1, Passed: 1, First: 1, FirstPassed: 1}, y)
	_, err = v.Points(ctx, Question{Check: "rd-cc9"}, Span{}, nil)
	require.ErrorContains(t, err, `"rd-cc9"`)
}

// A file of columns of another ledger, or one that is damaged, is made anew.
func TestColumnsAreMadeAnew(t *testing.T) {
	path, other := filled(t), filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, other)
	complete(t, l, 1, "LMP-7", record.Pass)
	require.NoError(t, l.Close())
	require.NoError(t, openValues(t, other).Close())
	for name, data := range map[string]func() ([]byte, error){
		"another ledger's": func() ([]byte, error) { return os.ReadFile(other + "-values") },
		"no database":      func() ([]byte, error) { return []byte("columns"), nil },
	} {
		bytes, err := data()
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path+"-values", bytes, 0o644))
		y, err := openValues(t, path).Yield(context.Background(), Question{}, Span{})
		require.NoError(t, err)
		require.Equal(t, 3, y.Runs, name)
	}
}

// Full blocks and the last one are joined, over several openings.
func TestColumnsOverBlocks(t *testing.T) {
	const n = 2*blockRuns + 100
	path := fillColumns(t, n)
	ctx, v := context.Background(), openValues(t, path)
	y, err := v.Yield(ctx, Question{}, Span{})
	require.NoError(t, err)
	require.Equal(t, n, y.Runs)
	seen := 0
	_, err = v.Points(ctx, Question{Check: "check-3", Supplier: "supplier 1"}, Span{}, func(p Point, terms *Terms) error {
		seen++
		require.InDelta(t, 5, p.Value, 1)
		require.Equal(t, Terms{Unit: "V", Lower: 4.5, Upper: 5.5}, *terms)
		return nil
	})
	require.NoError(t, err)
	require.Equal(t, n/3, seen)
}

func TestRecordsComeOnce(t *testing.T) {
	v, err := OpenView(context.Background(), filled(t))
	require.NoError(t, err)
	var got []string
	for kept, err := range v.Records(context.Background(), Question{}) {
		require.NoError(t, err)
		require.False(t, kept.Suspect)
		got = append(got, kept.Serial)
	}
	require.NoError(t, v.Close())
	require.Equal(t, []string{"LMP-1", "LMP-2", "LMP-1"}, got)
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

// Simulated records verify like others; evidence does not come in by the many.
func TestSimulatedRecords(t *testing.T) {
	ctx, l, done := context.Background(), NewLedger(t), 0
	var runs []record.Run
	for n := range 5 {
		o := numbered(n)
		o.Bench.Kind = record.Twin
		runs = append(runs, runOf(o, record.Pass))
	}
	require.NoError(t, l.Simulate(ctx, batchesOf(runs[:2], nil, runs[2:]), func(n int) { done = n }))
	require.Equal(t, 5, done)
	seq, _, err := l.Head(ctx)
	require.NoError(t, err)
	require.EqualValues(t, 10, seq)
	require.ErrorIs(t, l.Simulate(ctx, batchesOf([]record.Run{runOf(numbered(7), record.Pass)}), func(int) {}), ErrTwin)
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
