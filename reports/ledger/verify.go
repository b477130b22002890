package ledger

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"sinkproof/reports/record"
)

// VerifyOpts says what a verification demands.
type VerifyOpts struct {
	// Keys are the public keys whose signatures count.
	Keys []ed25519.PublicKey
	// Head is the hash of an entry that must be there, as a report prints it;
	// empty where none is known.
	Head string
	// AllowTwin accepts records of the twin, which are refused otherwise.
	AllowTwin bool
}

// Report is what a verification found good, up to the first complaint.
type Report struct {
	// Entries counts the good entries, Hash is that of the last one.
	Entries int64
	Hash    string
	// Opened, Closed and Interrupted count the entries by kind.
	Opened, Closed, Interrupted int64
	// Calibrations counts the calibrations.
	Calibrations int64
	// GoldenUnits counts their registrations, GoldenRuns the closed runs of them.
	GoldenUnits, GoldenRuns int64
	// Suspicions counts the suspicions, Suspects the records under one that
	// nobody withdrew.
	Suspicions, Suspects int64
	// Lots counts the incoming lots, LotsJudged those that were judged.
	Lots, LotsJudged int64
	// Orders counts the orders of testing.
	Orders int64
	// Twin counts the runs, calibrations, golden units, lots and orders of a twin.
	Twin int64
	// HeadSeq is the number of the entry that Head named; 0 when none did.
	HeadSeq int64
}

// Open is how many runs have no closing yet.
func (r Report) Open() int64 { return r.Opened - r.Closed - r.Interrupted }

// Tail says in one sentence what the verification knows about the end of the
// chain.
func (r Report) Tail() string {
	switch {
	case r.HeadSeq == 0:
		return "Entries cut off the end cannot be seen without --head: give the hash from the latest report."
	case r.HeadSeq == r.Entries:
		return fmt.Sprintf("The chain ends with the given head, entry %d.", r.HeadSeq)
	}
	return fmt.Sprintf("The given head is entry %d; entries cut off after entry %d cannot be seen.", r.HeadSeq, r.Entries)
}

// Verify reads the whole ledger as it is at one instant and checks, entry by
// entry in the order of the chain: hash, signature, place, document against
// the published schema, the way of its run, and every column of the
// projection and of the file beside the ledger. It stops at the first complaint, which names the entry, and
// reports what was good before it.
//
// It wraps record.ErrAltered, record.ErrMissing, record.ErrMisplaced,
// record.ErrFork, record.ErrKey, record.ErrInvalid, record.ErrHead, ErrRun,
// ErrColumns, ErrGolden, ErrLot, ErrDiscontinued, ErrUndecided, ErrTwin, ErrDamaged, or another trouble of the store.
func (v *View) Verify(ctx context.Context, opts VerifyOpts) (Report, error) {
	schema, err := newValidator()
	if err != nil {
		return Report{}, fmt.Errorf("ledger %s: verify: %w", v.path, err)
	}
	return v.verify(ctx, opts, schema)
}

// verify is Verify with the compiled schemas, which take longer to make than
// a small ledger to check.
func (v *View) verify(ctx context.Context, opts VerifyOpts, schema *validator) (Report, error) {
	doing := "ledger " + v.path + ": verify"
	tx, err := v.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return Report{}, explain(doing, err)
	}
	a := newAudit(ctx, tx, opts, schema)
	a.beside = newColumnsAudit(ctx, v)
	defer a.beside.close()
	err = a.run()
	return a.report, explain(doing, errors.Join(err, tx.Rollback()))
}

// audit is one verification under way.
type audit struct {
	ctx    context.Context
	tx     *sql.Tx
	opts   VerifyOpts
	schema *validator
	report Report
	// open holds the openings not closed yet, by run id; runs counts the
	// openings by serial, ids those by run id.
	open map[string]record.Entry
	runs map[string]int
	ids  map[string]bool
	// goldens follows the golden units.
	goldens *goldenAudit
	// lots follows the incoming lots.
	lots *lotAudit
	// row reads a row of the projection.
	row *sql.Stmt
	// beside holds the columns beside the ledger against it; nil where there are none
	// that would be read.
	beside *columnsAudit
}

func newAudit(ctx context.Context, tx *sql.Tx, opts VerifyOpts, schema *validator) *audit {
	return &audit{
		ctx: ctx, tx: tx, opts: opts, schema: schema, report: Report{Hash: record.Genesis},
		open: map[string]record.Entry{}, runs: map[string]int{}, ids: map[string]bool{}, goldens: newGoldenAudit(),
		lots: newLotAudit(),
	}
}

func (a *audit) run() error {
	if err := a.intact(); err != nil {
		return err
	}
	chain := record.Chain{Keys: a.opts.Keys}
	if err := a.prepare(); err != nil {
		return err
	}
	if err := chain.Walk(entriesOf(a.ctx, a.tx, "read entries"), a.examine, a.entry); err != nil {
		return err
	}
	if err := a.noOrphans(); err != nil {
		return err
	}
	a.report.Suspects = a.goldens.suspects()
	if err := a.goldens.end(); err != nil {
		return err
	}
	if a.opts.Head != "" && a.report.HeadSeq == 0 {
		return fmt.Errorf("no entry has the hash %.12s…: the end was cut off or written anew after entry %d or before: %w",
			a.opts.Head, a.report.Entries, record.ErrHead)
	}
	return nil
}

// intact lets SQLite check its own structure, and demands that the tables
// are the ones this program makes: no trigger, no view in their place.
func (a *audit) intact() error {
	var answer string
	if err := a.tx.QueryRowContext(a.ctx, "pragma integrity_check(1)").Scan(&answer); err != nil {
		return err
	}
	if answer != "ok" {
		return fmt.Errorf("integrity check: %s: %w", answer, ErrDamaged)
	}
	rows, err := a.tx.QueryContext(a.ctx, "select name, sql from sqlite_schema where sql is not null order by name")
	if err != nil {
		return err
	}
	defer rows.Close()
	want := map[string]string{"entries": createEntries, "history": createHistory(), "history_serial": createIndex}
	for _, x := range laterIndexes() {
		want[x.name] = x.statement
	}
	for rows.Next() {
		var name, statement string
		if err := rows.Scan(&name, &statement); err != nil {
			return err
		}
		if !strings.EqualFold(want[name], statement) {
			return fmt.Errorf("table, index or trigger %q is not as this program makes it: %w", name, ErrColumns)
		}
		delete(want, name)
	}
	for _, x := range laterIndexes() {
		delete(want, x.name) // absent in a ledger that was not written since
	}
	for name := range want {
		return errors.Join(rows.Err(), fmt.Errorf("table or index %q is missing: %w", name, ErrColumns))
	}
	return rows.Err()
}

// examine checks what an entry says by itself. It is called for several at once.
func (a *audit) examine(e record.Entry) (record.Document, error) {
	if err := a.schema.check(e); err != nil {
		return nil, err
	}
	doc, err := e.Document()
	if err != nil {
		return nil, fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	return doc, nil
}

// entry checks what lies beyond the chain in an entry that stands in it.
func (a *audit) entry(e record.Entry, doc record.Document) error {
	if err := a.follow(e, doc); err != nil {
		return fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	if err := a.lot(e, doc); err != nil {
		return fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	if err := a.columns(e, doc); err != nil {
		return fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	if err := a.beside.entry(a.ctx, e, doc); err != nil {
		return err
	}
	a.report.Entries, a.report.Hash = e.Seq, e.Hash
	if e.Hash == a.opts.Head {
		a.report.HeadSeq = e.Seq
	}
	return nil
}

// follow checks the way of a run: opened once with the next attempt of its
// serial, closed once with the identity that it was opened with.
func (a *audit) follow(e record.Entry, doc record.Document) error {
	if err := a.goldens.expected(doc); err != nil {
		return err
	}
	switch d := doc.(type) {
	case record.Opening:
		return a.opening(e, d)
	case record.Run:
		if err := a.identical(d.Opening, record.RunOpened); err != nil {
			return err
		}
		a.report.Closed++
		delete(a.open, d.ID)
		a.goldens.closed(e, d)
	case record.Interruption:
		opened, ok := a.open[d.ID]
		if !ok || opened.Hash != d.Opened || opened.Kind != record.RunOpened {
			return fmt.Errorf("interrupts run %s, which is not open with that hash: %w", d.ID, ErrRun)
		}
		a.report.Interrupted++
		delete(a.open, d.ID)
	case record.Calibration:
		return a.calibration(d)
	}
	return a.golden(e, doc)
}

// identical demands that the run is open with this identity.
func (a *audit) identical(o record.Opening, kind record.Kind) error {
	opened, ok := a.open[o.ID]
	if !ok || opened.Kind != kind {
		return fmt.Errorf("closes run %s, which is not open: %w", o.ID, ErrRun)
	}
	body, err := record.EncodeOpening(o)
	if err != nil || !bytes.Equal(body, opened.Body) {
		return fmt.Errorf("closes run %s with another identity than entry %d opened it with: %w", o.ID, opened.Seq, ErrRun)
	}
	return nil
}

// allowed refuses what a twin made, unless it was asked for.
func (a *audit) allowed(b record.Bench, thing string) error {
	if b.Kind != record.Twin {
		return nil
	}
	if !a.opts.AllowTwin {
		return fmt.Errorf("%s of bench %q: %w", thing, b.Name, ErrTwin)
	}
	a.report.Twin++
	return nil
}

// calibration checks that a calibration is of this bench's kind and stands in
// the chain once.
func (a *audit) calibration(c record.Calibration) error {
	if err := a.allowed(c.Bench, "calibration "+c.ID); err != nil {
		return err
	}
	if a.ids[c.ID] {
		return fmt.Errorf("holds calibration %s a second time: %w", c.ID, ErrRun)
	}
	a.ids[c.ID] = true
	a.report.Calibrations++
	return nil
}

func (a *audit) opening(e record.Entry, o record.Opening) error {
	if err := a.allowed(o.Bench, fmt.Sprintf("run %s of serial %q", o.ID, o.Serial)); err != nil {
		return err
	}
	if a.goldens.inUse[o.Serial] != nil {
		return fmt.Errorf("opens a run of serial %q, which is a golden unit: %w", o.Serial, ErrGolden)
	}
	if a.ids[o.ID] {
		return fmt.Errorf("opens run %s a second time: %w", o.ID, ErrRun)
	}
	a.runs[o.Serial]++
	if o.Attempt != a.runs[o.Serial] {
		return fmt.Errorf("is attempt %d of serial %q, the chain makes it %d: %w", o.Attempt, o.Serial, a.runs[o.Serial], ErrRun)
	}
	a.report.Opened++
	a.ids[o.ID], a.open[o.ID] = true, e
	return nil
}

// prepare prepares the reading of a row.
func (a *audit) prepare() error {
	var names []string
	for _, c := range project(record.Entry{}, record.Opening{}, record.Run{}, record.Interruption{}) {
		names = append(names, c.name)
	}
	var err error
	a.row, err = a.tx.PrepareContext(a.ctx, "select "+strings.Join(names, ", ")+" from history where seq = $1")
	return err
}

// columns recomputes the row of an entry and names the first column that
// differs.
func (a *audit) columns(e record.Entry, doc record.Document) error {
	want := columnsOf(e, doc)
	got, into := make([]any, len(want)), make([]any, len(want))
	for i := range want {
		into[i] = &got[i]
	}
	err := a.row.QueryRowContext(a.ctx, e.Seq).Scan(into...)
	if errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("has no row in the history: %w", ErrColumns)
	}
	if err != nil {
		return err
	}
	for i, c := range want {
		if got[i] != c.value {
			return fmt.Errorf("column %s holds %#v, the entry says %#v: %w", c.name, got[i], c.value, ErrColumns)
		}
	}
	return nil
}

// noOrphans demands that no row of either table stands beyond the chain.
func (a *audit) noOrphans() error {
	for _, table := range []string{"history", "entries"} {
		var count, last int64
		err := a.tx.QueryRowContext(a.ctx, "select count(*), coalesce(max(seq), 0) from "+table).Scan(&count, &last)
		if err != nil {
			return err
		}
		if count != a.report.Entries || last != a.report.Entries {
			return fmt.Errorf("table %s has %d rows up to number %d, the chain has %d entries: %w",
				table, count, last, a.report.Entries, ErrColumns)
		}
	}
	return nil
}
