package ledger

import (
	"context"
	"errors"
	"fmt"

	"sinkproof/reports/quality/sampling"
	"sinkproof/reports/record"
)

var (
	// ErrLot is the cause when a lot cannot be opened or judged as asked: the
	// ledger knows its name already, another one of the supplier is open, or it
	// is not open itself.
	ErrLot = errors.New("lot does not fit the ledger")
	// ErrDiscontinued is the cause when the switching rules have ended the
	// inspection of a supplier's lots.
	ErrDiscontinued = errors.New("inspection of the supplier was discontinued")
	// ErrUndecided is the cause when a lot cannot be judged yet.
	ErrUndecided = errors.New("lot cannot be judged yet")
)

// OpenLot commits the draw of a lot: when it returns, the units to test are on
// the disk. It fills in the severity by the supplier's lots before, the plan by
// the tables, and the drawn units by the seed and the head of the chain. It
// wraps ErrLot, ErrDiscontinued, sampling.ErrPlan where the tables have no such
// plan, ErrRun when the id is known, record.ErrInvalid or a trouble of the store;
// nothing was written then.
func (l *Ledger) OpenLot(ctx context.Context, d record.LotDraw) (record.LotDraw, record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	fail := func(err error) (record.LotDraw, record.Entry, error) {
		return d, record.Entry{}, explain(fmt.Sprintf("ledger %s: open %s", l.path, d.LotName), err)
	}
	in, err := l.Inspection(ctx, d.Supplier, d.Product)
	if err != nil {
		return fail(err)
	}
	severity, err := in.admit(d.LotName)
	if err != nil {
		return fail(err)
	}
	if err := unknown(ctx, l.w, d.ID); err != nil {
		return fail(err)
	}
	if d.Plan, err = planOf(d, severity); err != nil {
		return fail(err)
	}
	previous, err := l.previous(ctx)
	if err != nil {
		return fail(err)
	}
	if d.Drawn, err = drawnBy(d, previous); err != nil {
		return fail(err)
	}
	e, err := l.append(ctx, d)
	if err != nil {
		return fail(err)
	}
	return d, e, nil
}

// previous is the hash that the next entry follows. The lock is held.
func (l *Ledger) previous(ctx context.Context) (string, error) {
	if !l.known {
		if err := l.findHead(ctx); err != nil {
			return "", err
		}
	}
	if l.head == nil {
		return record.Genesis, nil
	}
	return l.head.Hash, nil
}

// planOf is the plan that the tables give for a lot; its severity is given.
func planOf(d record.LotDraw, severity sampling.Severity) (record.LotPlan, error) {
	level, size := sampling.Level(d.Plan.Level), len(d.Serials)
	plan, err := sampling.Lookup(size, level, d.Plan.AQL, severity)
	if err != nil {
		return record.LotPlan{}, err
	}
	p := record.LotPlan{
		Level: d.Plan.Level, AQL: d.Plan.AQL, Severity: severity.String(),
		CodeLetter: plan.CodeLetter, PlanLetter: plan.PlanLetter, Accept: plan.Accept,
	}
	if severity == sampling.Normal {
		if accept, ok := plan.TighterAccept(size, level, d.Plan.AQL, severity); ok {
			p.TighterAccept = &accept
		}
	}
	return p, nil
}

// drawnBy are the units that a draw takes behind the entry with that hash. A plan
// whose sample would be as large as the lot takes every unit.
func drawnBy(d record.LotDraw, previous string) ([]string, error) {
	severity, err := sampling.ParseSeverity(d.Plan.Severity)
	if err != nil {
		return nil, err
	}
	plan, err := sampling.Lookup(len(d.Serials), sampling.Level(d.Plan.Level), d.Plan.AQL, severity)
	if err != nil {
		return nil, err
	}
	return sampling.Sample(d.Key(previous), d.Serials, plan.N)
}

// JudgeLot commits the judgement on an open lot by the answers of its drawn
// units. Outcome, reason and units are worked out; bench, instant, person and
// Steady are given. With the outcome Abandoned the given reason is kept, and a
// lot that is rejected already is not abandoned. It wraps ErrLot, ErrUndecided,
// record.ErrInvalid or a trouble of the store; the lot stays open then.
func (l *Ledger) JudgeLot(ctx context.Context, given record.LotJudgement) (record.LotJudgement, record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	fail := func(err error) (record.LotJudgement, record.Entry, error) {
		return record.LotJudgement{}, record.Entry{}, explain(fmt.Sprintf("ledger %s: judge %s", l.path, given.LotName), err)
	}
	lot, err := l.Lot(ctx, given.LotName)
	if err != nil {
		return fail(err)
	}
	given.LotName = lot.LotName
	if lot.Judged != nil {
		return fail(fmt.Errorf("it was %s on %s by %s: %w", lot.Judged.Outcome, lot.Judged.Made, lot.Judged.By, ErrLot))
	}
	standing, err := l.LotStanding(ctx, lot)
	if err != nil {
		return fail(err)
	}
	j, err := judgementOf(standing, given)
	if err != nil {
		return fail(err)
	}
	e, err := l.append(ctx, j)
	if err != nil {
		return fail(err)
	}
	return j, e, nil
}

// judgementOf completes what a person gives to a judgement.
func judgementOf(s record.LotStanding, given record.LotJudgement) (record.LotJudgement, error) {
	j := s.Judgement()
	switch {
	case given.Outcome == record.Abandoned && j.Outcome != record.Undecided:
		return j, fmt.Errorf("it is %s, a lot with an answer is not abandoned: %s: %w", j.Outcome, j.Reason, ErrLot)
	case given.Outcome == record.Abandoned:
		j.Outcome, j.Reason = record.Abandoned, given.Reason
	case j.Outcome == record.Undecided:
		return j, fmt.Errorf("%s: %w", j.Reason, ErrUndecided)
	default:
		j.Steady = given.Steady
	}
	j.Bench, j.Made, j.By = given.Bench, given.Made, given.By
	return j, nil
}

// ResumeSupplier commits that a discontinued supplier has acted: the next lot is
// inspected, tightened. It wraps ErrLot when it is not discontinued,
// record.ErrInvalid or a trouble of the store.
func (l *Ledger) ResumeSupplier(ctx context.Context, r record.SupplierResumption) (record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	doing := fmt.Sprintf("ledger %s: resume supplier %q of %q", l.path, r.Supplier, r.Product)
	in, err := l.Inspection(ctx, r.Supplier, r.Product)
	if err != nil {
		return record.Entry{}, explain(doing, err)
	}
	if in.Switching.Severity != sampling.Discontinued {
		return record.Entry{}, fmt.Errorf("%s: it is not discontinued, the next lot is on %s inspection: %w", doing, in.Switching.Severity, ErrLot)
	}
	e, err := l.append(ctx, r)
	return e, explain(doing, err)
}

// lotColumns computes the projection of an entry about lots, or an order of testing. A judgement stands
// under the id of the draw.
func lotColumns(e record.Entry, doc record.Document) []column {
	about := func(id string, n record.LotName, b record.Bench, made, reason string) []column {
		o := record.Opening{ID: id, Product: n.Product, Lot: n.Lot, Supplier: n.Supplier, Bench: b, Started: made}
		return project(e, o, record.Run{}, record.Interruption{Reason: reason})
	}
	switch d := doc.(type) {
	case record.LotDraw:
		return about(d.ID, d.LotName, d.Bench, d.Made, "")
	case record.LotJudgement:
		return about(d.Draw, d.LotName, d.Bench, d.Made, string(d.Outcome)+": "+d.Reason)
	case record.TestOrder:
		return about(d.ID, record.LotName{Supplier: d.Candidate, Product: d.Product}, d.Bench, d.Made, "against "+d.Incumbent)
	case record.SupplierResumption:
		return about("", record.LotName{Supplier: d.Supplier, Product: d.Product}, d.Bench, d.Made, d.Reason)
	}
	return nil
}
