package ledger

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/sampling"
	"sinkproof/reports/record"
)

// lotDraw asks for the n-th lot of the tests' supplier: 60 units, level II, 4 %.
// On normal inspection 13 units are tested and one may be bad (letter E,
// ISO 2859-1:1999, table 2-A).
func lotDraw(n int) record.LotDraw {
	o := opening(n, "X")
	d := record.LotDraw{
		ID: o.ID, Bench: o.Bench, Made: o.Started, By: "A. Engineer",
		LotName: record.LotName{Lot: fmt.Sprintf("lot-%d", n), Supplier: o.Supplier, Product: o.Product},
		Plan:    record.LotPlan{Level: "II", AQL: 4}, Seed: strings.Repeat("0a", 32),
	}
	for i := range 60 {
		d.Serials = append(d.Serials, fmt.Sprintf("L%d-%02d", n, i+1))
	}
	return d
}

// smallDraw asks for a lot of eight units, level I, 6.5 %: on normal inspection 2
// units are tested and none may be bad (letter A), on tightened 3 (the arrow
// leads to letter B), on reduced 2.
func smallDraw(n int) record.LotDraw {
	d := lotDraw(n)
	d.Plan, d.Serials = record.LotPlan{Level: "I", AQL: 6.5}, d.Serials[:8]
	return d
}

func drawLot(t testing.TB, l *Ledger, n int) record.LotDraw {
	t.Helper()
	d, _, err := l.OpenLot(context.Background(), lotDraw(n))
	require.NoError(t, err)
	return d
}

// tested runs a unit against a lot.
func tested(t testing.TB, l *Ledger, n int, d record.LotDraw, serial string, verdict record.Verdict) record.Run {
	t.Helper()
	o := opening(n, serial)
	o.Lot, o.Supplier, o.Product, o.AllowedBy = d.Lot, d.Supplier, d.Product, "E. Engineer"
	o, _, err := l.OpenRun(context.Background(), o)
	require.NoError(t, err)
	r := runOf(o, verdict)
	_, err = l.CloseRun(context.Background(), r)
	require.NoError(t, err)
	return r
}

func judgementBy(d record.LotDraw) record.LotJudgement {
	return record.LotJudgement{LotName: d.LotName, Bench: d.Bench, Made: d.Made, By: "Q. Engineer"}
}

// inspected opens a small lot, tests its drawn units of which the first ones are
// bad, and judges it.
func inspected(t testing.TB, l *Ledger, n, bad int, steady bool) record.LotJudgement {
	t.Helper()
	d, _, err := l.OpenLot(context.Background(), smallDraw(n))
	require.NoError(t, err)
	for i, serial := range d.Drawn {
		verdict := record.Pass
		if i < bad {
			verdict = record.Fail
		}
		tested(t, l, 100*n+i, d, serial, verdict)
	}
	given := judgementBy(d)
	given.Steady = steady
	j, _, err := l.JudgeLot(context.Background(), given)
	require.NoError(t, err)
	return j
}

func progress(t testing.TB, l *Ledger, d record.LotDraw) record.LotStanding {
	t.Helper()
	lot, err := l.Lot(context.Background(), record.LotName{Lot: d.Lot})
	require.NoError(t, err)
	s, err := l.LotStanding(context.Background(), lot)
	require.NoError(t, err)
	return s
}

func TestALotIsDrawnBeforeItIsTestedAndJudgedByFirstAnswers(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	before := lotDraw(1)
	tested(t, l, 3, before, before.Serials[0], record.Fail) // before the draw: it does not count
	d := drawLot(t, l, 1)
	require.Equal(t, record.LotPlan{Level: "II", AQL: 4, Severity: "normal", CodeLetter: "E", PlanLetter: "E", Accept: 1}, d.Plan)
	require.Len(t, d.Drawn, 13)
	require.NotEqual(t, d.Serials[:13], d.Drawn)
	_, _, err := l.JudgeLot(ctx, judgementBy(d))
	require.ErrorIs(t, err, ErrUndecided)
	require.Equal(t, d.Drawn, progress(t, l, d).Untested)

	rest := slices.DeleteFunc(slices.Clone(d.Serials), func(s string) bool { return slices.Contains(d.Drawn, s) })
	tested(t, l, 10, d, rest[1], record.Fail) // not drawn: it does not count
	other := d
	other.Lot = "another"
	tested(t, l, 11, other, d.Drawn[0], record.Fail) // not against this lot
	tested(t, l, 12, d, d.Drawn[0], record.None)
	s := progress(t, l, d)
	require.Equal(t, d.Drawn[:1], s.Retest, "a fault of the bench asks for a retest")
	require.Zero(t, s.Tested)
	tested(t, l, 13, d, d.Drawn[0], record.Fail)
	tested(t, l, 14, d, d.Drawn[0], record.Pass)
	for i, serial := range d.Drawn[1:] {
		_, _, err = l.JudgeLot(ctx, judgementBy(d))
		require.ErrorIs(t, err, ErrUndecided)
		tested(t, l, 20+i, d, serial, record.Pass)
	}
	j, e, err := l.JudgeLot(ctx, judgementBy(d))
	require.NoError(t, err)
	require.Equal(t, record.Accepted, j.Outcome)
	require.Equal(t, 1, j.Bad, "the retest did not hide the first answer")
	require.Len(t, j.Units[0].Runs, 3)
	require.Equal(t, []string{"rd-cc2", "c-flipped"}, j.Units[0].Failed)

	lots, err := l.Lots(ctx)
	require.NoError(t, err)
	require.Len(t, lots, 1)
	require.Equal(t, e.Hash, lots[0].JudgedHash)
	tested(t, l, 50, d, d.Drawn[1], record.Fail)
	require.Equal(t, 1, progress(t, l, d).Bad, "it stays as it was judged")
	_, _, err = l.JudgeLot(ctx, judgementBy(d))
	require.ErrorIs(t, err, ErrLot)
	require.ErrorContains(t, err, "accepted on")
	report := verify(t, l.path, VerifyOpts{})
	require.EqualValues(t, 1, report.Lots)
	require.EqualValues(t, 1, report.LotsJudged)
}

func TestTheSampleDependsOnTheSeedAndThePlaceInTheChain(t *testing.T) {
	ctx := context.Background()
	draw := func(first string, seed string) []string {
		l := NewLedger(t)
		if first != "" {
			complete(t, l, 7, first, record.Pass)
		}
		d := lotDraw(1)
		d.Seed = strings.Repeat(seed, 32)
		d, _, err := l.OpenLot(ctx, d)
		require.NoError(t, err)
		return d.Drawn
	}
	one := draw("", "0a")
	require.Equal(t, one, draw("", "0a"))
	require.NotEqual(t, one, draw("", "0b"))
	require.NotEqual(t, one, draw("LMP-1", "0a"), "another history draws other units")
}

func TestLotsOfASupplierFollowTheSwitchingRules(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, path)
	next := func() string {
		in, err := l.Inspection(ctx, "board house A", "bicycle lamp")
		require.NoError(t, err)
		return in.Switching.Severity.String()
	}
	require.Equal(t, record.Accepted, inspected(t, l, 1, 0, false).Outcome)
	require.Equal(t, record.Rejected, inspected(t, l, 2, 1, false).Outcome)
	require.Equal(t, "normal", next())
	inspected(t, l, 3, 0, false)
	inspected(t, l, 4, 2, false)
	require.Equal(t, "tightened", next(), "two of five rejected")

	// Another supplier has its own history.
	d := lotDraw(5)
	d.Supplier = "board house B"
	d, _, err := l.OpenLot(ctx, d)
	require.NoError(t, err)
	require.Equal(t, "normal", d.Plan.Severity)

	// Five accepted lots in a row lead back, an abandoned one counts for nothing.
	d = drawLot(t, l, 6)
	require.Equal(t, record.LotPlan{Level: "II", AQL: 4, Severity: "tightened", CodeLetter: "E", PlanLetter: "F", Accept: 1}, d.Plan)
	require.Len(t, d.Drawn, 20)
	given := judgementBy(d)
	given.Outcome = record.Abandoned
	_, _, err = l.JudgeLot(ctx, given)
	require.ErrorIs(t, err, record.ErrInvalid, "it must be said why")
	given.Reason = "sent back unopened"
	j, _, err := l.JudgeLot(ctx, given)
	require.NoError(t, err)
	require.Equal(t, "sent back unopened", j.Reason)
	for n := 7; n <= 11; n++ {
		require.Equal(t, "tightened", next())
		inspected(t, l, n, 0, false)
	}
	require.Equal(t, "normal", next())

	// A score of 30 and a steady production reduce inspection.
	for n := 12; n <= 26; n++ {
		require.Equal(t, "normal", next(), n)
		inspected(t, l, n, 0, n > 20)
	}
	require.Equal(t, "reduced", next())
	d = drawLot(t, l, 27)
	require.Equal(t, record.LotPlan{Level: "II", AQL: 4, Severity: "reduced", CodeLetter: "E", PlanLetter: "F", Accept: 1}, d.Plan)
	require.Len(t, d.Drawn, 8)
	for i, serial := range d.Drawn {
		tested(t, l, 2700+i, d, serial, record.Fail)
	}
	j, _, err = l.JudgeLot(ctx, judgementBy(d))
	require.NoError(t, err)
	require.Equal(t, record.Rejected, j.Outcome)
	require.Equal(t, "normal", next())
	require.NoError(t, l.Close())
	verify(t, path, VerifyOpts{})
	_, err = Rebuild(ctx, path)
	require.NoError(t, err)
	verify(t, path, VerifyOpts{})
}

func TestADiscontinuedSupplierIsResumedByName(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	d := lotDraw(1)
	resume := record.SupplierResumption{Supplier: d.Supplier, Product: d.Product, Bench: d.Bench, Made: d.Made, By: "Q. Engineer", Reason: "new stencil"}
	_, err := l.ResumeSupplier(ctx, resume)
	require.ErrorIs(t, err, ErrLot)
	for n := 1; n <= 7; n++ {
		require.Equal(t, record.Rejected, inspected(t, l, n, 1, false).Outcome)
	}
	_, _, err = l.OpenLot(ctx, lotDraw(8))
	require.ErrorIs(t, err, ErrDiscontinued)
	_, err = l.ResumeSupplier(ctx, resume)
	require.NoError(t, err)
	d = drawLot(t, l, 8)
	require.Equal(t, "tightened", d.Plan.Severity)
}

func TestARejectedLotIsRejectedAsSoonAsItIs(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	d := drawLot(t, l, 1)
	tested(t, l, 10, d, d.Drawn[3], record.Fail)
	tested(t, l, 11, d, d.Drawn[5], record.Fail)
	given := judgementBy(d)
	given.Outcome, given.Reason = record.Abandoned, "let us forget it"
	_, _, err := l.JudgeLot(ctx, given)
	require.ErrorIs(t, err, ErrLot, "a lot with an answer is not abandoned")
	j, _, err := l.JudgeLot(ctx, judgementBy(d))
	require.NoError(t, err)
	require.Equal(t, record.Rejected, j.Outcome)
	require.Equal(t, "2 of 2 tested units bad, 1 may be: "+d.Drawn[3]+", "+d.Drawn[5], j.Reason)
}

// A golden unit that deviates takes the answers since its last good one out of
// the count, until somebody withdraws the suspicion.
func TestAnswersUnderSuspicionDoNotCount(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	registered(t, l, 1, "GOLD-1")
	d := drawLot(t, l, 2)
	tested(t, l, 10, d, d.Drawn[0], record.Fail)
	tested(t, l, 11, d, d.Drawn[1], record.Fail)
	require.Equal(t, record.Rejected, progress(t, l, d).Outcome())
	g, _, _ := proved(t, l, 12, "GOLD-1", record.Fail)
	s := progress(t, l, d)
	require.Equal(t, record.Undecided, s.Outcome())
	require.Equal(t, d.Drawn[:2], s.Retest)
	_, err := l.Withdraw(ctx, record.Withdrawal{Run: g.Run.ID, Bench: g.Run.Bench, Made: g.Run.Started, By: "Q", Reason: "dirt"})
	require.NoError(t, err)
	require.Equal(t, record.Rejected, progress(t, l, d).Outcome())
	// Doubted again, tested again: the doubted runs stand beside the answer.
	proved(t, l, 13, "GOLD-1", record.Fail)
	for i, serial := range d.Drawn {
		tested(t, l, 20+i, d, serial, record.Pass)
	}
	j, _, err := l.JudgeLot(ctx, judgementBy(d))
	require.NoError(t, err)
	require.Equal(t, record.Accepted, j.Outcome)
	require.Equal(t, []bool{true, false}, []bool{j.Units[0].Runs[0].Suspect, j.Units[0].Runs[1].Suspect})

	// A suspicion that comes after the judgement leaves it, and is told.
	doubts := func() []string {
		lot, err := l.Lot(ctx, d.LotName)
		require.NoError(t, err)
		list, err := l.LotDoubts(ctx, lot)
		require.NoError(t, err)
		return list
	}
	require.Empty(t, doubts())
	proved(t, l, 40, "GOLD-1", record.Fail)
	require.Equal(t, d.Drawn, doubts())
	require.Equal(t, record.Accepted, progress(t, l, d).Outcome())
}

func TestALotThatDoesNotFit(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	for name, c := range map[string]struct {
		change func(*record.LotDraw)
		cause  error
	}{
		"no such level":    {func(d *record.LotDraw) { d.Plan.Level = "IV" }, sampling.ErrPlan},
		"no such limit":    {func(d *record.LotDraw) { d.Plan.AQL = 1.1 }, sampling.ErrPlan},
		"one unit":         {func(d *record.LotDraw) { d.Serials = d.Serials[:1] }, sampling.ErrPlan},
		"a unit twice":     {func(d *record.LotDraw) { d.Serials[1] = d.Serials[0] }, sampling.ErrPlan},
		"no serial":        {func(d *record.LotDraw) { d.Serials[1] = "" }, record.ErrInvalid},
		"nobody":           {func(d *record.LotDraw) { d.By = "" }, record.ErrInvalid},
		"seed of somebody": {func(d *record.LotDraw) { d.Seed = "17" }, record.ErrInvalid},
	} {
		d := lotDraw(1)
		c.change(&d)
		_, _, err := l.OpenLot(ctx, d)
		require.ErrorIs(t, err, c.cause, name)
	}
	d := drawLot(t, l, 1)
	_, _, err := l.OpenLot(ctx, lotDraw(2))
	require.ErrorIs(t, err, ErrLot, "one lot of a supplier at a time")
	require.ErrorContains(t, err, "is open")
	again := lotDraw(3)
	again.LotName = d.LotName
	_, _, err = l.OpenLot(ctx, again)
	require.ErrorContains(t, err, "a sample is drawn once")
	_, err = l.Lot(ctx, record.LotName{Lot: "lot-9"})
	require.ErrorIs(t, err, ErrLot)
	twin := lotDraw(4)
	twin.Lot, twin.Supplier = d.Lot, "board house B"
	_, _, err = l.OpenLot(ctx, twin)
	require.NoError(t, err)
	_, err = l.Lot(ctx, record.LotName{Lot: d.Lot})
	require.ErrorContains(t, err, "may be")
	lot, err := l.Lot(ctx, record.LotName{Lot: d.Lot, Supplier: "board house B"})
	require.NoError(t, err)
	require.Equal(t, twin.ID, lot.ID)
}

// What somebody with the bench's key and another program could write is refused
// all the same.
func TestVerificationFollowsLots(t *testing.T) {
	ctx := context.Background()
	genuine := func(t *testing.T, l *Ledger, n int) record.LotDraw {
		t.Helper()
		d := lotDraw(n)
		var err error
		d.Plan, err = planOf(d, sampling.Normal)
		require.NoError(t, err)
		previous, err := l.previous(ctx)
		require.NoError(t, err)
		d.Drawn, err = drawnBy(d, previous)
		require.NoError(t, err)
		return d
	}
	rejected := func(t *testing.T, l *Ledger) record.LotJudgement {
		t.Helper()
		d := drawLot(t, l, 1)
		tested(t, l, 10, d, d.Drawn[0], record.Fail)
		tested(t, l, 11, d, d.Drawn[1], record.Fail)
		j, err := judgementOf(progress(t, l, d), judgementBy(d))
		require.NoError(t, err)
		return j
	}
	for name, c := range map[string]struct {
		write func(t *testing.T, l *Ledger) record.Document
		cause error
		says  string
	}{
		"in order": {func(t *testing.T, l *Ledger) record.Document { return genuine(t, l, 1) }, nil, ""},
		"a chosen unit": {func(t *testing.T, l *Ledger) record.Document {
			d := genuine(t, l, 1)
			at := slices.IndexFunc(d.Serials, func(s string) bool { return !slices.Contains(d.Drawn, s) })
			d.Drawn[0] = d.Serials[at]
			return d
		}, ErrLot, "other units"},
		"drawn for another place": {func(t *testing.T, l *Ledger) record.Document {
			d := genuine(t, l, 1)
			complete(t, l, 2, "LMP-1", record.Pass)
			return d
		}, ErrLot, "other units"},
		"an easier plan": {func(t *testing.T, l *Ledger) record.Document {
			d := genuine(t, l, 1)
			d.Plan.Accept++
			return d
		}, ErrLot, "another plan"},
		"drawn twice": {func(t *testing.T, l *Ledger) record.Document {
			name := drawLot(t, l, 1).LotName
			d := genuine(t, l, 2)
			d.LotName = name
			return d
		}, ErrLot, "a second time"},
		"two at a time": {func(t *testing.T, l *Ledger) record.Document {
			drawLot(t, l, 1)
			return genuine(t, l, 2)
		}, ErrLot, "while lot"},
		"a judgement on a lot that is not open": {func(t *testing.T, l *Ledger) record.Document {
			j := rejected(t, l)
			_, err := l.append(ctx, j)
			require.NoError(t, err)
			return j
		}, ErrLot, "which is not open"},
		"a judgement in order": {func(t *testing.T, l *Ledger) record.Document { return rejected(t, l) }, nil, ""},
		"a lot called good": {func(t *testing.T, l *Ledger) record.Document {
			j := rejected(t, l)
			j.Outcome = record.Accepted
			return j
		}, ErrLot, "calls lot"},
		"a fail left out": {func(t *testing.T, l *Ledger) record.Document {
			j := rejected(t, l)
			j.Units[0] = record.LotUnit{Serial: j.Units[0].Serial}
			j.Tested, j.Bad = 1, 1
			return j
		}, ErrLot, "calls lot"},
		"judged before it was tested": {func(t *testing.T, l *Ledger) record.Document {
			d := drawLot(t, l, 1)
			j := d.Standing(nil).Judgement()
			j.Outcome, j.Bench, j.Made, j.By = record.Accepted, d.Bench, d.Made, "Q"
			return j
		}, ErrUndecided, "13 drawn units not tested yet"},
		"a supplier resumed that was not discontinued": {func(t *testing.T, l *Ledger) record.Document {
			d := lotDraw(1)
			return record.SupplierResumption{Supplier: d.Supplier, Product: d.Product, Bench: d.Bench, Made: d.Made, By: "Q", Reason: "x"}
		}, ErrLot, "on normal inspection"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "bench.ledger")
			l := reopen(t, path)
			_, err := l.append(ctx, c.write(t, l))
			require.NoError(t, err)
			require.NoError(t, l.Close())
			_, err = tryVerify(t, path, VerifyOpts{})
			if c.cause == nil {
				require.NoError(t, err)
				return
			}
			require.ErrorIs(t, err, c.cause)
			require.ErrorContains(t, err, c.says)
		})
	}
}

func TestLotsOfTheTwinAreNoEvidence(t *testing.T) {
	l := NewLedger(t)
	d := lotDraw(1)
	d.Bench.Kind = record.Twin
	_, _, err := l.OpenLot(context.Background(), d)
	require.NoError(t, err)
	_, err = tryVerify(t, l.path, VerifyOpts{})
	require.ErrorIs(t, err, ErrTwin)
}
