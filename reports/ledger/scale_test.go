package ledger

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/chart"
	"sinkproof/reports/quality/spread"
	"sinkproof/reports/record"
)

// scaled is the n-th of all runs of a year: twenty checks with values, one run in
// fifty with a fail.
func scaled(r *rand.Rand, n, all int) record.Run {
	at := time.Date(2026, 1, 5, 6, 0, 0, 0, time.UTC).Add(time.Duration(float64(365*24*time.Hour) * float64(n) / float64(all)))
	run := record.Run{Schema: record.RunSchema, Verdict: record.Pass, Bin: record.BinPass, Opening: record.Opening{
		ID: fmt.Sprintf("run-%d", n), Serial: fmt.Sprintf("SIM-%08d", n), Product: "bicycle lamp", Lot: fmt.Sprint("lot ", n*200/all),
		Supplier: fmt.Sprint("supplier ", n%3), Attempt: 1, Nest: 1 + n%4, Bench: record.Bench{Name: "bench 3", Kind: record.Twin}, Started: record.Instant(at),
	}}
	for i := range 20 {
		c := record.Check{Name: fmt.Sprint("check-", i), Answer: record.Passed, Value: &record.Value{Value: 5 + 0.1*r.NormFloat64(), Unit: "V"},
			Lower: &record.Limit{Value: 4.5}, Upper: &record.Limit{Value: 5.5}}
		if i == n%20 && n%50 == 0 {
			c.Answer, run.Verdict, run.Bin = record.Failed, record.Fail, record.BinRework
		}
		run.Checks = append(run.Checks, c)
	}
	return run
}

// fillColumns makes the projections of a ledger of n runs, the table of histories
// and the file of columns, as their own code makes them of entries. The entries
// themselves would take a signature each and 15 kB a run; no question about many
// runs reads them.
func fillColumns(t testing.TB, n int) string {
	t.Helper()
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "many.ledger")
	l := reopen(t, path)
	_, err := l.w.Exec("pragma synchronous = off")
	require.NoError(t, err)
	v, err := OpenValues(ctx, path)
	require.NoError(t, err)
	r, kept := rand.New(rand.NewPCG(1, uint64(n))), firstText
	for from := 0; from < n; from += 10_000 {
		tx, err := l.w.BeginTx(ctx, nil)
		require.NoError(t, err)
		columns, err := v.db.BeginTx(ctx, nil)
		require.NoError(t, err)
		for i := from; i < min(n, from+10_000); i++ {
			run := scaled(r, i, n)
			for k, doc := range []record.Document{run.Opening, run} {
				e := record.Entry{Seq: int64(2*i + k + 1), Kind: doc.Kind(), Hash: strconv.Itoa(2*i + k + 1)}
				_, err := tx.Exec(insertHistory(), valuesOf(columnsOf(e, doc))...)
				require.NoError(t, err)
			}
			require.NoError(t, v.take(ctx, columns, Kept{Run: run, Seq: int64(2*i + 2)}))
		}
		require.NoError(t, tx.Commit())
		require.NoError(t, v.flush(ctx, columns))
		require.NoError(t, v.keepTexts(ctx, columns, kept))
		kept = len(v.names)
		_, err = columns.Exec("delete from followed")
		require.NoError(t, err)
		last := 2 * min(n, from+10_000)
		_, err = columns.Exec("insert into followed (version, seq, hash, runs) values ($1, $2, $3, $4)", valuesVersion, last, strconv.Itoa(last), v.runs)
		require.NoError(t, err)
		require.NoError(t, columns.Commit())
	}
	require.NoError(t, v.Close())
	require.NoError(t, l.Close())
	return path
}

// peak is the most memory that the process has held, in MiB (proc(5), VmHWM).
func peak(t testing.TB) float64 {
	t.Helper()
	data, err := os.ReadFile("/proc/self/status")
	require.NoError(t, err)
	_, text, _ := strings.Cut(string(data), "VmHWM:")
	var kib float64
	_, err = fmt.Sscanf(strings.TrimSpace(text), "%f", &kib)
	require.NoError(t, err)
	return kib / 1024
}

// BenchmarkScale asks what a quality engineer asks, of ledgers that grow. The
// promises at a million runs (go test -tags study): yield, Pareto and a chart over
// a month in a second, capability over all in three, a history in 20 ms, 300 MiB.
// Measured on two busy cores at 10,000, 100,000 and 1,000,000 runs, the opening of
// the file included: the month 22, 21 and 78 ms; capability 26, 93 and 506 ms; a
// history 8, 5 and 5 ms; memory 27, 33 and 87 MiB.
func BenchmarkScale(b *testing.B) {
	for _, n := range scales() {
		path := fillColumns(b, n)
		debug.FreeOSMemory()
		_ = os.WriteFile("/proc/self/clear_refs", []byte("5"), 0) // forget the peak of filling; without the right it stands
		ctx := context.Background()
		month := Span{From: time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC), To: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)}
		ask := func(name string, f func(v *Values) error) {
			b.Run(fmt.Sprintf("%s/%d", name, n), func(b *testing.B) {
				for b.Loop() {
					v, err := OpenValues(ctx, path)
					require.NoError(b, err)
					require.NoError(b, f(v))
					require.NoError(b, v.Close())
				}
				b.ReportMetric(peak(b), "MiB-peak")
			})
		}
		ask("yield of all", func(v *Values) error { _, err := v.Yield(ctx, Question{}, Span{}); return err })
		ask("pareto of all", func(v *Values) error { _, err := v.Pareto(ctx, Question{}, Span{}); return err })
		ask("yield, pareto and chart of a month", func(v *Values) error {
			if _, err := v.Yield(ctx, Question{}, month); err != nil {
				return err
			}
			if _, err := v.Pareto(ctx, Question{}, month); err != nil {
				return err
			}
			return charted(ctx, v, month)
		})
		ask("capability over all", func(v *Values) error { return capable(ctx, v) })
		ask("history of a serial", func(v *Values) error {
			rows, err := v.view.History(ctx, fmt.Sprintf("SIM-%08d", n/3))
			if err == nil && len(rows) != 1 {
				err = fmt.Errorf("%d rows", len(rows))
			}
			return err
		})
	}
}

// charted puts a month of a check on a chart of means by hour.
func charted(ctx context.Context, v *Values, s Span) error {
	var hours [][]float64
	last := time.Time{}
	_, err := v.Points(ctx, Question{Check: "check-7"}, s, func(p Point, _ *Terms) error {
		if at := p.Started.Truncate(time.Hour); at != last {
			last, hours = at, append(hours, nil)
		}
		hours[len(hours)-1] = append(hours[len(hours)-1], p.Value)
		return nil
	})
	if err != nil {
		return err
	}
	hours = slices.DeleteFunc(hours, func(g []float64) bool { return len(g) < 2 })
	if len(hours) < 2 {
		return nil // ten thousand a year are one an hour
	}
	base, err := chart.Estimate(chart.XbarS, hours)
	if err == nil {
		_, err = base.Variables(chart.XbarS, hours, nil)
	}
	return err
}

// capable studies all values of a check.
func capable(ctx context.Context, v *Values) error {
	var all []float64
	terms := Terms{}
	_, err := v.Points(ctx, Question{Check: "check-7"}, Span{}, func(p Point, t *Terms) error {
		all, terms = append(all, p.Value), *t
		return nil
	})
	if err != nil {
		return err
	}
	r, err := capability.Study([][]float64{all}, capability.Between(terms.Lower, terms.Upper), spread.MovingRange, 0.95)
	if err == nil && math.Abs(r.Ppk.Value-5.0/3) > 0.1 {
		err = fmt.Errorf("Ppk %v of a process at 5/3", r.Ppk.Value)
	}
	return err
}
