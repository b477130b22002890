package ledger

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// goldenUnit is a good unit that proves the bench of the tests.
func goldenUnit(n int, serial string) record.Golden {
	o := opening(n, "X")
	return record.Golden{
		ID: o.ID, Bench: o.Bench, Made: o.Started, By: "A. Engineer", Serial: serial, Product: o.Product,
		Title: "good board", Expected: record.Expected{Verdict: record.Pass}, ValidS: 43_200,
	}
}

// goldenOpening is an opening whose attempt the ledger fills in.
func goldenOpening(n int, serial string) record.Opening {
	o := opening(n, serial)
	o.Lot, o.Supplier = "", ""
	return o
}

// proved runs the golden unit and returns its answer and the suspicion.
func proved(t testing.TB, l *Ledger, n int, serial string, verdict record.Verdict) (record.GoldenRun, *record.Suspicion, record.Entry) {
	t.Helper()
	o, _, err := l.OpenGolden(context.Background(), goldenOpening(n, serial))
	require.NoError(t, err)
	g, s, e, err := l.CloseGolden(context.Background(), runOf(o, verdict))
	require.NoError(t, err)
	return g, s, e
}

func registered(t testing.TB, l *Ledger, n int, serial string) record.Golden {
	t.Helper()
	g := goldenUnit(n, serial)
	_, err := l.RegisterGolden(context.Background(), g)
	require.NoError(t, err)
	return g
}

func serials(s *record.Suspicion) []string { return s.Serials() }

func TestADeviatingGoldenUnitPutsRecordsUnderSuspicion(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	complete(t, l, 1, "LMP-1", record.Pass) // before anything was proven
	registered(t, l, 2, "GOLD-1")
	complete(t, l, 3, "LMP-2", record.Pass)
	answer, s, _ := proved(t, l, 4, "GOLD-1", record.Pass)
	require.Equal(t, record.AsExpected, answer.Answer)
	require.Nil(t, s)
	complete(t, l, 5, "LMP-3", record.Pass)
	complete(t, l, 6, "LMP-2", record.Fail)
	complete(t, l, 7, "LMP-3", record.Pass)

	none, s, _ := proved(t, l, 8, "GOLD-1", record.None)
	require.Equal(t, record.NoAnswer, none.Answer)
	require.Nil(t, s, "a bench that could not judge convicts nobody")
	complete(t, l, 9, "LMP-4", record.Pass)
	before := stored(t, l.path)

	bad, s, e := proved(t, l, 10, "GOLD-1", record.Fail)
	require.Equal(t, record.Deviates, bad.Answer)
	require.Equal(t, []string{"LMP-3", "LMP-2", "LMP-4"}, serials(s))
	require.Len(t, s.Suspects, 4)
	after := stored(t, l.path)
	require.Equal(t, before, after[:len(before)], "the past is never rewritten")
	require.Len(t, after, len(before)+3, "opening, golden run, suspicion")
	require.EqualValues(t, len(after)-1, e.Seq)

	for serial, want := range map[string][]bool{"LMP-1": {false}, "LMP-2": {false, true}, "LMP-3": {true, true}, "LMP-4": {true}, "GOLD-1": nil} {
		rows, err := l.History(ctx, serial)
		require.NoError(t, err)
		var got []bool
		for _, r := range rows {
			got = append(got, r.Suspect())
		}
		require.Equal(t, want, got, serial)
	}
	report := verify(t, l.path, VerifyOpts{})
	require.EqualValues(t, 1, report.GoldenUnits)
	require.EqualValues(t, 3, report.GoldenRuns)
	require.EqualValues(t, 1, report.Suspicions)
	require.EqualValues(t, 4, report.Suspects)

	// Again: still everything since the last good answer.
	_, s, _ = proved(t, l, 11, "GOLD-1", record.Fail)
	require.Len(t, s.Suspects, 4)
	proved(t, l, 12, "GOLD-1", record.Pass)
	complete(t, l, 13, "LMP-5", record.Pass)
	_, s, _ = proved(t, l, 14, "GOLD-1", record.Fail)
	require.Equal(t, []string{"LMP-5"}, serials(s))
	require.EqualValues(t, 5, verify(t, l.path, VerifyOpts{}).Suspects, "each record once")
}

// A nest is proven by an answer that was given in it, and convicts its own records:
// a good answer in another one says nothing about it.
func TestASuspicionIsOfOneNest(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	in := func(nest int, o record.Opening) record.Opening {
		o.Nest = nest
		return o
	}
	tested := func(n, nest int, serial string) {
		o, _, err := l.OpenRun(ctx, in(nest, opening(n, serial)))
		require.NoError(t, err)
		_, err = l.CloseRun(ctx, runOf(o, record.Pass))
		require.NoError(t, err)
	}
	answers := func(n, nest int, verdict record.Verdict) *record.Suspicion {
		o, _, err := l.OpenGolden(ctx, in(nest, goldenOpening(n, "GOLD-1")))
		require.NoError(t, err)
		_, s, _, err := l.CloseGolden(ctx, runOf(o, verdict))
		require.NoError(t, err)
		return s
	}
	registered(t, l, 1, "GOLD-1")
	answers(2, 1, record.Pass)
	answers(3, 2, record.Pass)
	tested(4, 1, "LMP-1")
	tested(5, 2, "LMP-2")
	answers(6, 1, record.Pass)
	tested(7, 1, "LMP-3")
	tested(8, 2, "LMP-4")
	require.Equal(t, []string{"LMP-2", "LMP-4"}, serials(answers(9, 2, record.Fail)))
	require.Equal(t, []string{"LMP-3"}, serials(answers(10, 1, record.Fail)))
	require.EqualValues(t, 3, verify(t, l.path, VerifyOpts{}).Suspects)
}

func TestASuspicionIsWithdrawnByName(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	registered(t, l, 1, "GOLD-1")
	complete(t, l, 2, "LMP-1", record.Pass)
	g, _, _ := proved(t, l, 3, "GOLD-1", record.Fail)
	require.Equal(t, []bool{true}, questioned(t, l))
	w := record.Withdrawal{Run: g.Run.ID, Bench: g.Run.Bench, Made: g.Run.Started, By: "Q. Engineer", Reason: "its receptacle was dirty"}
	_, err := l.Withdraw(ctx, w)
	require.NoError(t, err)
	_, err = l.Withdraw(ctx, w)
	require.ErrorIs(t, err, ErrRun)
	require.ErrorContains(t, err, "Q. Engineer")
	other := w
	other.Run = opening(77, "X").ID
	_, err = l.Withdraw(ctx, other)
	require.ErrorIs(t, err, ErrRun)
	rows, err := l.History(ctx, "LMP-1")
	require.NoError(t, err)
	require.False(t, rows[0].Suspect())
	require.Equal(t, []bool{false}, questioned(t, l))
	require.Equal(t, "its receptacle was dirty", rows[0].Suspicions[0].Withdrawn.Reason, "it is not forgotten")
	require.Zero(t, verify(t, l.path, VerifyOpts{}).Suspects)
}

// questioned asks every record of a check whether it is suspect; golden runs are
// none of them.
func questioned(t *testing.T, l *Ledger) []bool {
	t.Helper()
	var list []bool
	require.NoError(t, openValues(t, l.path).Answers(context.Background(), Question{Check: "rd-cc1"}, func(run *Tested, _ Answered) error {
		list = append(list, run.Suspect)
		return nil
	}))
	return list
}

func TestGoldenUnitsAreNoProducts(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	complete(t, l, 1, "LMP-1", record.Pass)
	first := registered(t, l, 2, "GOLD-1")
	for name, try := range map[string]func() error{
		"registered twice":  func() error { _, err := l.RegisterGolden(ctx, goldenUnit(3, "GOLD-1")); return err },
		"run as a product":  func() error { _, _, err := l.OpenRun(ctx, opening(3, "GOLD-1")); return err },
		"product run as it": func() error { _, _, err := l.OpenGolden(ctx, goldenOpening(3, "LMP-1")); return err },
		"another product": func() error {
			o := goldenOpening(3, "GOLD-1")
			o.Product = "torch"
			_, _, err := l.OpenGolden(ctx, o)
			return err
		},
		"another bench": func() error {
			o := goldenOpening(3, "GOLD-1")
			o.Bench.Name = "bench 4"
			_, _, err := l.OpenGolden(ctx, o)
			return err
		},
		"retired and not used": func() error { _, err := l.RetireGolden(ctx, retirement("LMP-1")); return err },
	} {
		require.ErrorIs(t, try(), ErrGolden, name)
	}
	o, _, err := l.OpenGolden(ctx, goldenOpening(3, "GOLD-1"))
	require.NoError(t, err)
	_, err = l.RetireGolden(ctx, retirement("GOLD-1"))
	require.ErrorIs(t, err, ErrRun, "while it runs")
	_, err = l.CloseRun(ctx, runOf(o, record.Pass))
	require.ErrorIs(t, err, ErrRun, "not as a product")
	_, _, err = l.OpenGolden(ctx, goldenOpening(4, "GOLD-1"))
	require.ErrorIs(t, err, ErrRun, "one at a time")
	_, _, _, err = l.CloseGolden(ctx, runOf(o, record.Pass))
	require.NoError(t, err)
	for n := range 3 { // the retest rule is for products
		proved(t, l, 10+n, "GOLD-1", record.Fail)
	}
	registered(t, l, 15, "LMP-1") // a tested product may become one
	standing, err := l.Attempts(ctx, "GOLD-1")
	require.NoError(t, err)
	require.Zero(t, standing, "it has no runs as a product")

	_, err = l.RetireGolden(ctx, retirement("GOLD-1"))
	require.NoError(t, err)
	_, _, err = l.OpenGolden(ctx, goldenOpening(20, "GOLD-1"))
	require.ErrorIs(t, err, ErrGolden)
	second := registered(t, l, 21, "GOLD-1")
	units, err := l.GoldenUnits(ctx, first.Bench)
	require.NoError(t, err)
	require.Len(t, units, 3)
	require.Equal(t, first, units[0].Golden)
	require.Equal(t, "worn out", units[0].Retired.Reason)
	require.Equal(t, second, units[2].Golden)
	require.Nil(t, units[2].Last, "another registration begins anew")
	g, _, _ := proved(t, l, 22, "GOLD-1", record.Pass)
	require.Equal(t, 5, g.Run.Attempt, "its runs count on")
	other := first.Bench
	other.Name = "bench 4"
	units, err = l.GoldenUnits(ctx, other)
	require.NoError(t, err)
	require.Empty(t, units)
}

func retirement(serial string) record.GoldenRetirement {
	return record.GoldenRetirement{Serial: serial, Made: "2026-06-04T00:00:00Z", By: "A. Engineer", Reason: "worn out"}
}

func TestTheRunsOfAGoldenUnit(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	registered(t, l, 1, "GOLD-1")
	proved(t, l, 2, "GOLD-1", record.Pass)
	proved(t, l, 3, "GOLD-1", record.Fail)
	o, _, err := l.OpenGolden(ctx, goldenOpening(4, "GOLD-1"))
	require.NoError(t, err)
	_, err = l.InterruptRun(ctx, o.ID, "emergency stop")
	require.NoError(t, err)
	units, err := l.GoldenUnits(ctx, record.Bench{})
	require.NoError(t, err)
	require.Equal(t, 3, units[0].Runs)
	require.Equal(t, record.NoAnswer, units[0].Last.Answer)
	require.True(t, units[0].Last.Interrupted)
	require.EqualValues(t, 3, units[0].Good.Seq)
	runs, err := l.GoldenRuns(ctx, units[0])
	require.NoError(t, err)
	require.Len(t, runs, 3)
	require.Equal(t, []record.GoldenAnswer{record.AsExpected, record.Deviates, record.NoAnswer},
		[]record.GoldenAnswer{runs[0].Answer, runs[1].Answer, runs[2].Answer})
	require.Equal(t, []string{"check rd-cc2 failed: open", "check c-flipped failed: open"}, runs[1].Deviations)
	require.NotEmpty(t, runs[0].Run.Checks)
}

// A golden run that the program was killed in is closed at the next start, and
// is no good answer.
func TestALeftOpenGoldenRunIsNoAnswer(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, path)
	registered(t, l, 1, "GOLD-1")
	proved(t, l, 2, "GOLD-1", record.Pass)
	_, _, err := l.OpenGolden(ctx, goldenOpening(3, "GOLD-1"))
	require.NoError(t, err)
	require.NoError(t, l.Close())
	l = reopen(t, path)
	require.Len(t, l.Interrupted, 1)
	units, err := l.GoldenUnits(ctx, record.Bench{})
	require.NoError(t, err)
	require.Equal(t, record.NoAnswer, units[0].Last.Answer)
	proved(t, l, 4, "GOLD-1", record.Pass)
	require.NoError(t, l.Close())
	verify(t, path, VerifyOpts{})
	_, err = Rebuild(ctx, path)
	require.NoError(t, err)
	verify(t, path, VerifyOpts{})
}

func TestGoldenUnitsOfTheTwinAreNoEvidence(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	g := goldenUnit(1, "GOLD-1")
	g.Bench.Kind = record.Twin
	_, err := l.RegisterGolden(ctx, g)
	require.NoError(t, err)
	_, err = tryVerify(t, l.path, VerifyOpts{})
	require.ErrorIs(t, err, ErrTwin)
}

func TestAClockThatWasSetForgetsTheFuture(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	complete(t, l, 1_000_000, "LMP-1", record.Pass) // twelve days ahead
	wrong, err := l.Latest(ctx)
	require.NoError(t, err)
	right := wrong.Add(-11 * 24 * time.Hour)
	_, err = l.SetClock(ctx, record.Clock{Bench: opening(1, "X").Bench, Made: record.Instant(right), By: "A. Engineer", Reason: "battery"})
	require.NoError(t, err)
	latest, err := l.Latest(ctx)
	require.NoError(t, err)
	require.Equal(t, right, latest)
	_, err = l.SetClock(ctx, record.Clock{Bench: opening(1, "X").Bench, Made: record.Instant(right)})
	require.ErrorIs(t, err, record.ErrInvalid)
}
