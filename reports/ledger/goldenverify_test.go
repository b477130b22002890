package ledger

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// What somebody with the bench's key and another program could write is refused
// all the same: verification judges golden runs anew and works out which
// suspicion follows.
func TestVerificationFollowsGoldenUnits(t *testing.T) {
	ctx := context.Background()
	// deviating is a golden run that deviates after one record, opened but not
	// closed, with the suspicion that belongs to it.
	deviating := func(t *testing.T, l *Ledger) (record.GoldenRun, record.Suspicion) {
		g := registered(t, l, 1, "GOLD-1")
		closed := complete(t, l, 2, "LMP-1", record.Pass)
		o, _, err := l.OpenGolden(ctx, goldenOpening(3, "GOLD-1"))
		require.NoError(t, err)
		run := record.GoldenRun{Golden: g.ID, Run: runOf(o, record.Fail)}
		run.Answer, run.Deviations = g.Judge(run.Run)
		s, err := run.Suspect(1, []record.Suspect{{Seq: closed.Seq, Run: opening(2, "").ID, Serial: "LMP-1"}})
		require.NoError(t, err)
		return run, s
	}
	for name, c := range map[string]struct {
		write func(t *testing.T, l *Ledger) []record.Document
		cause error
		says  string
	}{
		"in order": {func(t *testing.T, l *Ledger) []record.Document {
			run, s := deviating(t, l)
			return []record.Document{run, s}
		}, nil, ""},
		"the suspicion left out": {func(t *testing.T, l *Ledger) []record.Document {
			run, _ := deviating(t, l)
			return []record.Document{run}
		}, record.ErrMissing, "is missing at the end"},
		"something else in its place": {func(t *testing.T, l *Ledger) []record.Document {
			run, _ := deviating(t, l)
			o := opening(9, "LMP-9")
			o.Attempt = 1
			return []record.Document{run, o}
		}, record.ErrMissing, "stands where the suspicion"},
		"a suspect left out": {func(t *testing.T, l *Ledger) []record.Document {
			run, s := deviating(t, l)
			s.Suspects = nil
			return []record.Document{run, s}
		}, ErrRun, "another suspicion than follows"},
		"a suspicion out of nowhere": {func(t *testing.T, l *Ledger) []record.Document {
			_, s := deviating(t, l)
			return []record.Document{s}
		}, ErrRun, "no golden run before it asks for"},
		"an answer that its readings deny": {func(t *testing.T, l *Ledger) []record.Document {
			run, _ := deviating(t, l)
			run.Answer, run.Deviations = record.AsExpected, nil
			return []record.Document{run}
		}, ErrRun, `answers "as expected", its readings say "deviates"`},
		"a golden run closed as a product": {func(t *testing.T, l *Ledger) []record.Document {
			run, _ := deviating(t, l)
			return []record.Document{run.Run}
		}, ErrRun, "which is not open"},
		"a golden unit run as a product": {func(t *testing.T, l *Ledger) []record.Document {
			registered(t, l, 1, "GOLD-1")
			o := opening(9, "GOLD-1")
			o.Attempt = 1
			return []record.Document{o}
		}, ErrGolden, "which is a golden unit"},
		"registered twice": {func(t *testing.T, l *Ledger) []record.Document {
			registered(t, l, 1, "GOLD-1")
			return []record.Document{goldenUnit(2, "GOLD-1")}
		}, ErrGolden, "which is in use"},
		"retired twice": {func(t *testing.T, l *Ledger) []record.Document {
			r := retirement("GOLD-1")
			g := registered(t, l, 1, "GOLD-1")
			r.Golden, r.Bench = g.ID, g.Bench
			return []record.Document{r, r}
		}, ErrGolden, "which is not in use"},
		"run after its retirement": {func(t *testing.T, l *Ledger) []record.Document {
			r := retirement("GOLD-1")
			g := registered(t, l, 1, "GOLD-1")
			r.Golden, r.Bench = g.ID, g.Bench
			o := goldenOpening(9, "GOLD-1")
			o.Attempt = 1
			return []record.Document{r, record.GoldenOpening{Opening: o}}
		}, ErrGolden, "no golden unit in use"},
		"a number of its runs left out": {func(t *testing.T, l *Ledger) []record.Document {
			registered(t, l, 1, "GOLD-1")
			o := goldenOpening(9, "GOLD-1")
			o.Attempt = 2
			return []record.Document{record.GoldenOpening{Opening: o}}
		}, ErrRun, "the chain makes it 1"},
		"a suspicion withdrawn that never was": {func(t *testing.T, l *Ledger) []record.Document {
			g := goldenUnit(1, "GOLD-1")
			return []record.Document{record.Withdrawal{Run: g.ID, Bench: g.Bench, Made: g.Made, By: "Q", Reason: "x"}}
		}, ErrRun, "which does not stand"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "bench.ledger")
			l := reopen(t, path)
			for _, doc := range c.write(t, l) {
				_, err := l.append(ctx, doc)
				require.NoError(t, err)
			}
			require.NoError(t, l.Close())
			_, err := tryVerify(t, path, VerifyOpts{})
			if c.cause == nil {
				require.NoError(t, err)
				return
			}
			require.ErrorIs(t, err, c.cause)
			require.ErrorContains(t, err, c.says)
		})
	}
}
