package ledger

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// openValues opens the values of a ledger for one test.
func openValues(t testing.TB, path string) *Values {
	t.Helper()
	v, err := OpenValues(context.Background(), path, nil)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, v.Close()) })
	return v
}

// measured are the values that a question gets.
func measured(t testing.TB, v *Values, q Question) []float64 {
	t.Helper()
	var list []float64
	require.NoError(t, v.Answers(context.Background(), q, func(_ *Tested, a Answered) error {
		if a.Measured() {
			list = append(list, a.Value)
		}
		return nil
	}))
	return list
}

// answered makes a ledger of five runs of one check and returns its path: LMP-1
// twice, LMP-2 of another lot and supplier, LMP-3 of another product, LMP-4
// interrupted.
func answered(t *testing.T) string {
	t.Helper()
	path := t.TempDir() + "/bench.ledger"
	l := reopen(t, path)
	for n, change := range []func(*record.Opening){
		func(*record.Opening) {},
		func(o *record.Opening) { o.Serial, o.Lot, o.Supplier = "LMP-2", "2026-20", "board house B" },
		func(o *record.Opening) { o.Serial, o.Product = "LMP-3", "torch" },
		func(*record.Opening) {},
		func(o *record.Opening) { o.Serial = "LMP-4" },
	} {
		o := opening(n, "LMP-1")
		change(&o)
		o, _, err := l.OpenRun(context.Background(), o)
		require.NoError(t, err)
		if o.Serial == "LMP-4" {
			_, err := l.InterruptRun(context.Background(), o.ID, "power went")
			require.NoError(t, err)
			continue
		}
		r := runOf(o, record.Pass)
		r.Checks[0].Value.Value = float64(5100 + n)
		_, err = l.CloseRun(context.Background(), r)
		require.NoError(t, err)
	}
	require.NoError(t, l.Close())
	return path
}

func TestAnswers(t *testing.T) {
	v := openValues(t, answered(t))
	for _, c := range []struct {
		name string
		q    Question
		want []float64
	}{
		{"all", Question{Check: "rd-cc1"}, []float64{5100, 5101, 5102, 5103}},
		{"another check", Question{Check: "c-normal"}, nil},
		{"product", Question{Check: "rd-cc1", Product: "torch"}, []float64{5102}},
		{"lot", Question{Check: "rd-cc1", Lot: "2026-20"}, []float64{5101}},
		{"supplier", Question{Check: "rd-cc1", Supplier: "board house A"}, []float64{5100, 5102, 5103}},
		{"several", Question{Check: "rd-cc1", Supplier: "board house A", Product: "bicycle lamp"}, []float64{5100, 5103}},
		{"first runs", Question{Check: "rd-cc1", First: true}, []float64{5100, 5101, 5102}},
		{"since the start of the second", Question{Check: "rd-cc1", Since: time.Date(2026, 5, 4, 7, 30, 1, 250_000_000, time.UTC)}, []float64{5101, 5102, 5103}},
		{"until the start of the third", Question{Check: "rd-cc1", Until: time.Date(2026, 5, 4, 7, 30, 2, 250_000_000, time.UTC)}, []float64{5100, 5101}},
		{"since later", Question{Check: "rd-cc1", Since: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)}, nil},
		{"a text that looks like a statement", Question{Check: "rd-cc1", Lot: "x' or '1'='1"}, nil},
		{"a check's name as lot", Question{Check: "rd-cc1", Lot: "check rd-cc1"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, measured(t, v, c.q))
		})
	}
}

func TestAnswersEndWhereTheCallerDoes(t *testing.T) {
	n, enough := 0, errors.New("enough")
	err := openValues(t, answered(t)).Answers(context.Background(), Question{Check: "rd-cc1"}, func(*Tested, Answered) error {
		n++
		return enough
	})
	require.ErrorIs(t, err, enough)
	require.Equal(t, 1, n)
}

func TestAlteredEntriesAreRefused(t *testing.T) {
	for name, statement := range map[string]string{
		"no entry":       "update entries set entry = x'00' where seq = 2",
		"another number": "update entries set entry = replace(cast(entry as text), '5103.25', '5203.25') where seq = 4",
		"two swapped":    "update entries set seq = -4 where seq = 4; update entries set seq = 4 where seq = 6; update entries set seq = 6 where seq = -4",
		"one is missing": "delete from entries where seq = 4",
	} {
		path := filled(t)
		alter(t, path, statement)
		_, err := OpenValues(context.Background(), path, nil)
		require.Error(t, err, name)
		require.True(t, errors.Is(err, record.ErrForm) || errors.Is(err, record.ErrAltered) || errors.Is(err, record.ErrMisplaced), "%s: %v", name, err)
	}
}

func TestAnswersStopWhenInterrupted(t *testing.T) {
	path := answered(t)
	v := openValues(t, path)
	ctx, stop := context.WithCancel(context.Background())
	stop()
	require.ErrorIs(t, v.Answers(ctx, Question{Check: "rd-cc1"}, nil), context.Canceled)
	_, err := OpenValues(ctx, path, nil)
	require.ErrorIs(t, err, context.Canceled)
}

// rich is a run of a twin with all that columns hold.
func rich(n int) record.Run {
	o := opening(n, fmt.Sprintf("LMP-%03d", n/2))
	o.Attempt, o.Nest, o.Bench.Kind, o.Lot = 1+n%2, n%5, record.Twin, fmt.Sprintf("2026-%d", n/7)
	if n%4 == 0 {
		o.Supplier, o.Bench.Name = "", "bench of  two words"
	}
	r := runOf(o, []record.Verdict{record.Pass, record.Fail, record.None}[n%3])
	if r.Verdict == record.Pass {
		r.Readings = []record.Reading{{Name: "open-circuit", Channel: "vbat", Value: record.Value{Value: 3.7, Unit: "V"}}}
	}
	if n%6 == 1 {
		r.Suspects = []record.Finding{{Title: "Rd “missing” at CC2"}}
	}
	low := &record.Limit{Value: 4590 + float64(n%2), Unit: "Ω", Source: "a table", Acceptance: 4600}
	r.Checks = append(r.Checks,
		record.Check{Name: "bound", Title: "B \"quoted\"", Answer: record.Passed, Value: &record.Value{Value: float64(n), Unit: "F", Bound: record.AtLeast}},
		record.Check{Name: "limited", Title: "L", Answer: record.Passed, Control: n%2 == 0, Value: &record.Value{Value: 5000 + float64(n)/8, Unit: "Ω", U: 3}, Lower: low})
	return r
}

// columnar is what columns must say of a run, from the record itself.
func columnar(r record.Run, seq int64) (Tested, []Answered) {
	at, _ := time.Parse(time.RFC3339Nano, r.Started)
	t := Tested{
		Seq: seq, Started: at.UTC(), Serial: r.Serial, ID: r.ID, Product: r.Product, Lot: r.Lot, Supplier: r.Supplier,
		Bench: r.Bench.Name, Nest: max(r.Nest, 1), Attempt: r.Attempt, Verdict: r.Verdict, Papers: "charge path  0a0a0a0a",
		Twin: r.Bench.Kind == record.Twin, OwnCell: len(r.Readings) > 0,
	}
	if r.Verdict == record.Fail {
		t.Wrong = "rd-cc2"
		if len(r.Suspects) > 0 {
			t.Wrong = r.Suspects[0].Title
		}
	}
	var answers []Answered
	for _, c := range r.Checks {
		a := Answered{Terms: &Terms{Check: c.Name, Title: c.Title, Control: c.Control}, Answer: c.Answer, Value: math.Inf(1)}
		if c.Value != nil {
			a.Unit, a.Value, a.Bounded = c.Value.Unit, c.Value.Value, c.Value.Bound != ""
		}
		if c.Lower != nil {
			a.Lower = &c.Lower.Value
		}
		answers = append(answers, a)
	}
	return t, answers
}

// The columns say of every run what its record says.
func TestRunsAreTheRecords(t *testing.T) {
	path := t.TempDir() + "/bench.ledger"
	l := reopen(t, path)
	var runs []record.Run
	for n := range 40 {
		o := rich(n).Opening
		o.Attempt, o.AllowedBy = 0, "M. Weber"
		o, _, err := l.OpenRun(context.Background(), o)
		require.NoError(t, err)
		r := rich(n)
		r.Opening = o
		runs = append(runs, r)
		_, err = l.CloseRun(context.Background(), r)
		require.NoError(t, err)
	}
	n := 0
	require.NoError(t, openValues(t, path).Runs(context.Background(), Question{Names: true}, true, func(got *Tested, answers []Answered) error {
		want, wanted := columnar(runs[n], int64(2*n+2))
		require.Equal(t, want, *got)
		require.Len(t, answers, len(wanted))
		for _, w := range wanted {
			at := 0
			for answers[at].Check != w.Check {
				at++
			}
			a := answers[at]
			require.Equal(t, *w.Terms, *a.Terms)
			if math.IsInf(w.Value, 1) { // no value
				require.True(t, math.IsNaN(a.Value))
				w.Value, a.Value = 0, 0
			}
			require.Equal(t, []any{w.Answer, w.Value, w.Bounded}, []any{a.Answer, a.Value, a.Bounded})
		}
		n++
		return nil
	}))
	require.Equal(t, 40, n)
	require.NoError(t, openValues(t, path).Runs(context.Background(), Question{}, false, func(got *Tested, answers []Answered) error {
		require.Empty(t, answers)
		require.Empty(t, got.Serial)
		return nil
	}))
}
