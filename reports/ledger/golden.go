package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"

	"sinkproof/reports/record"
)

// GoldenUnit is a golden unit as the ledger knows it.
type GoldenUnit struct {
	record.Golden
	// Seq is the number of the entry that registered it.
	Seq int64
	// Retired is set once it is out of use.
	Retired *record.GoldenRetirement
	// Runs counts its runs, interrupted ones included.
	Runs int
	// Last is its latest run; nil before the first.
	Last *GoldenRun
	// Good is its latest run that answered as expected; nil for none.
	Good *GoldenRun
}

// GoldenRun is a run of a golden unit.
type GoldenRun struct {
	record.Opening
	// Seq is the number of the entry that closed the run; 0 while it is open.
	Seq int64
	// Interrupted tells that the run came to no verdict.
	Interrupted bool
	Answer      record.GoldenAnswer
	Deviations  []string
	// Run is the record; empty where there is none.
	Run record.Run
}

// RegisterGolden commits a golden unit; it may have been tested as a product
// before. It wraps ErrGolden when its serial is a golden unit in use, ErrRun when
// the id is known, record.ErrInvalid or a trouble of the store.
func (l *Ledger) RegisterGolden(ctx context.Context, g record.Golden) (record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	doing := fmt.Sprintf("ledger %s: register golden unit %q", l.path, g.Serial)
	in, err := inUse(ctx, l.w, g.Serial)
	if err != nil {
		return record.Entry{}, explain(doing, err)
	}
	if in != nil {
		return record.Entry{}, fmt.Errorf("%s: it is registered in entry %d: %w", doing, in.Seq, ErrGolden)
	}
	if err := unknown(ctx, l.w, g.ID); err != nil {
		return record.Entry{}, explain(doing, err)
	}
	e, err := l.append(ctx, g)
	return e, explain(doing, err)
}

// RetireGolden commits that a golden unit is out of use; its id and bench are
// filled in from the registration. It wraps ErrGolden when it is not in use,
// ErrRun while a run of it is open, record.ErrInvalid or a trouble of the store.
func (l *Ledger) RetireGolden(ctx context.Context, r record.GoldenRetirement) (record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	doing := fmt.Sprintf("ledger %s: retire golden unit %q", l.path, r.Serial)
	in, err := l.mustBeInUse(ctx, r.Serial)
	if err != nil {
		return record.Entry{}, explain(doing, err)
	}
	for _, opened := range l.open {
		o, err := record.DecodeOpening(opened.Body)
		if err == nil && opened.Kind == record.GoldenOpened && o.Serial == r.Serial {
			err = fmt.Errorf("a run of it is open: %w", ErrRun)
		}
		if err != nil {
			return record.Entry{}, fmt.Errorf("%s: %w", doing, err)
		}
	}
	r.Golden, r.Bench = in.ID, in.Bench
	e, err := l.append(ctx, r)
	return e, explain(doing, err)
}

// OpenGolden commits the opening of a run of a golden unit. It is OpenRun but
// for its attempts, which are counted apart and are not limited. It wraps
// ErrGolden when the serial is no golden unit in use of this bench and product.
func (l *Ledger) OpenGolden(ctx context.Context, o record.Opening) (record.Opening, record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	doing := fmt.Sprintf("ledger %s: open golden run %s of serial %q", l.path, o.ID, o.Serial)
	if err := l.admitGolden(ctx, &o); err != nil {
		return o, record.Entry{}, explain(doing, err)
	}
	e, err := l.append(ctx, record.GoldenOpening{Opening: o})
	if err != nil {
		return o, record.Entry{}, explain(doing, err)
	}
	l.open[o.ID] = e
	return o, e, nil
}

func (l *Ledger) admitGolden(ctx context.Context, o *record.Opening) error {
	if err := unknown(ctx, l.w, o.ID); err != nil {
		return err
	}
	in, err := l.mustBeInUse(ctx, o.Serial)
	if err != nil {
		return err
	}
	if err := in.fits(*o); err != nil {
		return err
	}
	runs, err := goldenRuns(ctx, l.w, o.Serial)
	if err != nil {
		return err
	}
	if runs.Open > 0 {
		return fmt.Errorf("another run of this serial is open: %w", ErrRun)
	}
	if o.Attempt == 0 {
		o.Attempt = runs.Runs + 1
	}
	if o.Attempt != runs.Runs+1 {
		return fmt.Errorf("attempt is %d, the next is %d: %w", o.Attempt, runs.Runs+1, ErrRun)
	}
	return nil
}

// fits demands that a golden unit proves the bench and the product of a run.
func (g GoldenUnit) fits(o record.Opening) error {
	if g.Product != o.Product || g.Bench.Name != o.Bench.Name || g.Bench.Kind != o.Bench.Kind {
		return fmt.Errorf("the golden unit is registered for product %s on %s %s, this is %s on %s %s: %w",
			g.Product, g.Bench.Kind, g.Bench.Name, o.Product, o.Bench.Kind, o.Bench.Name, ErrGolden)
	}
	return nil
}

// CloseGolden judges the record of a golden run that was opened before and
// commits it with its answer. Where it deviates, the suspicion that follows is
// committed in the same transaction: no power cut comes between. Otherwise the
// suspicion is nil. It wraps what CloseRun wraps; the run stays open then.
func (l *Ledger) CloseGolden(ctx context.Context, r record.Run) (record.GoldenRun, *record.Suspicion, record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	fail := func(err error) (record.GoldenRun, *record.Suspicion, record.Entry, error) {
		return record.GoldenRun{}, nil, record.Entry{}, explain(fmt.Sprintf("ledger %s: close golden run %s of serial %q", l.path, r.ID, r.Serial), err)
	}
	if err := l.closable(r.ID, r.Opening, record.GoldenOpened); err != nil {
		return fail(err)
	}
	in, err := l.mustBeInUse(ctx, r.Serial)
	if err != nil {
		return fail(err)
	}
	g := record.GoldenRun{Golden: in.ID, Run: r}
	g.Answer, g.Deviations = in.Judge(r)
	docs := []record.Document{g}
	var suspicion *record.Suspicion
	if g.Answer == record.Deviates {
		s, err := l.suspect(ctx, *in, g)
		if err != nil {
			return fail(err)
		}
		suspicion, docs = &s, append(docs, s)
	}
	entries, err := l.appendAll(ctx, docs...)
	if err != nil {
		return fail(err)
	}
	delete(l.open, r.ID)
	return g, suspicion, entries[0], nil
}

// suspect names the records of the nest since the last good answer in it.
func (l *Ledger) suspect(ctx context.Context, in GoldenUnit, g record.GoldenRun) (record.Suspicion, error) {
	since, err := in.lastGoodIn(ctx, l.w, g.Run.Nest)
	if err != nil {
		return record.Suspicion{}, err
	}
	rows, err := l.w.QueryContext(ctx, `select h.seq, h.run, h.serial, e.entry from history h join entries e on e.seq = h.seq
		where h.kind = $1 and h.bench = $2 and h.bench_kind = $3 and h.seq > $4 order by h.seq`,
		string(record.RunClosed), g.Run.Bench.Name, g.Run.Bench.Kind, since)
	if err != nil {
		return record.Suspicion{}, err
	}
	defer rows.Close()
	var list []record.Suspect
	var skimmer record.Skimmer
	for rows.Next() {
		var s record.Suspect
		var data sql.RawBytes
		if err := rows.Scan(&s.Seq, &s.Run, &s.Serial, &data); err != nil {
			return record.Suspicion{}, err
		}
		nest, err := nestOf(&skimmer, data)
		if err != nil {
			return record.Suspicion{}, fmt.Errorf("entry %d: %w", s.Seq, err)
		}
		if convicts(g.Run.Nest, nest) {
			list = append(list, s)
		}
	}
	if err := rows.Err(); err != nil {
		return record.Suspicion{}, err
	}
	return g.Suspect(since, list)
}

// convicts tells whether a golden unit that deviated in a nest puts a record of
// another under suspicion: one that says no nest speaks of all.
func convicts(golden, record int) bool { return golden == 0 || golden == record }

// nestOf reads the nest of a record.
func nestOf(s *record.Skimmer, data []byte) (int, error) {
	e, err := s.Entry(data)
	if err != nil {
		return 0, err
	}
	r, err := s.Run(e.Body)
	return r.Nest, err
}

// lastGoodIn is the entry of the unit's last good answer in a nest, else that of its
// registration.
func (g *GoldenUnit) lastGoodIn(ctx context.Context, db *sql.DB, nest int) (int64, error) {
	for run, err := range backwards(ctx, db, g.Serial, g.Seq) {
		if err != nil {
			return 0, err
		}
		if run.Answer == record.AsExpected && run.Nest == nest {
			return run.Seq, nil
		}
	}
	return g.Seq, nil
}

// mustBeInUse is the golden unit of a serial. The lock is held.
func (l *Ledger) mustBeInUse(ctx context.Context, serial string) (*GoldenUnit, error) {
	in, err := inUse(ctx, l.w, serial)
	if err == nil && in == nil {
		err = fmt.Errorf("serial %q is no golden unit in use: %w", serial, ErrGolden)
	}
	return in, err
}

// inUse is the golden unit of a serial; nil where it is none, or retired.
func inUse(ctx context.Context, db *sql.DB, serial string) (*GoldenUnit, error) {
	var data []byte
	err := db.QueryRowContext(ctx, `select e.entry from history h join entries e on e.seq = h.seq
		where h.serial = $1 and h.kind in ($2, $3) order by h.seq desc limit 1`,
		serial, string(record.GoldenRegistered), string(record.GoldenRetired)).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	e, err := record.DecodeEntry(data)
	if err != nil || e.Kind == record.GoldenRetired {
		return nil, err
	}
	g, err := record.DecodeGolden(e.Body)
	if err != nil {
		return nil, fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	unit := &GoldenUnit{Golden: g, Seq: e.Seq}
	return unit, unit.find(ctx, db)
}

// find fills in the runs of a golden unit since its registration.
func (g *GoldenUnit) find(ctx context.Context, db *sql.DB) error {
	for run, err := range backwards(ctx, db, g.Serial, g.Seq) {
		if err != nil {
			return err
		}
		if g.Last == nil {
			g.Last = &run
		}
		if run.Answer == record.AsExpected {
			g.Good = &run
			break
		}
	}
	return db.QueryRowContext(ctx, "select count(*) from history where serial = $1 and kind = $2 and seq > $3",
		g.Serial, string(record.GoldenOpened), g.Seq).Scan(&g.Runs)
}

// backwards yields the runs of a golden unit behind an entry, the latest first.
func backwards(ctx context.Context, db *sql.DB, serial string, after int64) iter.Seq2[GoldenRun, error] {
	return func(yield func(GoldenRun, error) bool) {
		rows, err := db.QueryContext(ctx, `select o.seq, coalesce(c.seq, 0)
			from history o left join history c on c.run = o.run and c.kind in ($3, $4)
			where o.serial = $1 and o.kind = $2 and o.seq > $5 order by o.seq desc`,
			serial, string(record.GoldenOpened), string(record.GoldenClosed), string(record.GoldenInterrupted), after)
		if err != nil {
			yield(GoldenRun{}, err)
			return
		}
		// The writer has one connection: the numbers are read before the entries.
		var pairs [][2]int64
		for rows.Next() {
			var p [2]int64
			if err := rows.Scan(&p[0], &p[1]); err != nil {
				yield(GoldenRun{}, errors.Join(err, rows.Close()))
				return
			}
			pairs = append(pairs, p)
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			yield(GoldenRun{}, err)
			return
		}
		for _, p := range pairs {
			if run, err := goldenRun(ctx, db, p[0], p[1]); !yield(run, err) || err != nil {
				return
			}
		}
	}
}

// goldenRun reads a run from the entries that opened and closed it.
func goldenRun(ctx context.Context, db *sql.DB, opened, closed int64) (GoldenRun, error) {
	doc, err := documentAt(ctx, db, opened)
	if err != nil {
		return GoldenRun{}, err
	}
	o, ok := doc.(record.GoldenOpening)
	if !ok {
		return GoldenRun{}, fmt.Errorf("entry %d is no opening of a golden run: %w", opened, ErrColumns)
	}
	g := GoldenRun{Opening: o.Opening, Seq: closed}
	if closed == 0 {
		return g, nil
	}
	if doc, err = documentAt(ctx, db, closed); err != nil {
		return GoldenRun{}, err
	}
	switch d := doc.(type) {
	case record.GoldenRun:
		g.Answer, g.Deviations, g.Run = d.Answer, d.Deviations, d.Run
	case record.GoldenInterruption:
		g.Interrupted, g.Answer, g.Deviations = true, record.NoAnswer, []string{d.Reason}
	default:
		return GoldenRun{}, fmt.Errorf("entry %d closes no golden run: %w", closed, ErrColumns)
	}
	return g, nil
}

// documentAt is what the entry of a number holds.
func documentAt(ctx context.Context, db *sql.DB, seq int64) (record.Document, error) {
	var data []byte
	if err := db.QueryRowContext(ctx, "select entry from entries where seq = $1", seq).Scan(&data); err != nil {
		return nil, err
	}
	e, err := record.DecodeEntry(data)
	if err != nil {
		return nil, fmt.Errorf("entry %d: %w", seq, err)
	}
	doc, err := e.Document()
	if err != nil {
		return nil, fmt.Errorf("entry %d: %w", seq, err)
	}
	return doc, nil
}

// unknown demands that no entry has the id.
func unknown(ctx context.Context, db *sql.DB, id string) error {
	var known int
	if err := db.QueryRowContext(ctx, "select count(*) from history where run = $1", id).Scan(&known); err != nil {
		return err
	}
	if known > 0 {
		return fmt.Errorf("the ledger holds this id: %w", ErrRun)
	}
	return nil
}
