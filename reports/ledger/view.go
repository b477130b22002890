package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"slices"
	"strings"
	"time"

	"sinkproof/reports/record"
)

// View reads a ledger. It needs no key, changes nothing, and works while
// another program writes.
type View struct {
	path string
	db   *sql.DB
}

// Row is one run in the history of a serial.
type Row struct {
	Run, Serial            string
	Product, Lot, Supplier string
	Attempt                int
	AllowedBy              string
	Bench, BenchKind       string
	Started                time.Time
	Verdict                record.Verdict
	Bin                    record.Bin
	Reason                 string
	Failed                 []string
	Interrupted, Open      bool
	OpenedSeq, ClosedSeq   int64
	OpenedHash, ClosedHash string
	// Suspicions fall on the record, withdrawn ones included.
	Suspicions []Suspicion
}

// Suspect tells whether a suspicion falls on the record that nobody withdrew.
func (r Row) Suspect() bool { return standing(r.Suspicions) }

// standing tells whether a suspicion is left that nobody withdrew.
func standing(list []Suspicion) bool {
	return slices.ContainsFunc(list, func(s Suspicion) bool { return s.Withdrawn == nil })
}

// Standing is what a ledger holds about a serial in numbers.
type Standing struct {
	// Runs counts the openings, interrupted ones included.
	Runs int
	// Unpassed counts the closed runs whose verdict is not pass: failed,
	// none, interrupted.
	Unpassed int
	// Open counts the runs without a closing.
	Open int
}

// OpenView opens a ledger for reading. A ledger on a medium that cannot be
// written is read too, provided that its writer closed it in order. It wraps
// ErrNotLedger, ErrNewer, ErrDamaged or ErrAccess.
func OpenView(ctx context.Context, path string) (*View, error) {
	doing := "ledger " + path + ": open for reading"
	if err := exists(path); err != nil {
		return nil, explain(doing, err)
	}
	db, err := connectReader(path)
	if err != nil {
		return nil, explain(doing, err)
	}
	err = recognise(ctx, db)
	if errors.Is(sentinelOf(err), ErrAccess) && closedInOrder(path) {
		// Without the right to make its index of the log, SQLite reads a file
		// that nobody is writing to when told so (sqlite.org/wal.html, 5).
		err = db.Close()
		if err == nil {
			db, err = connectReader(path, "immutable", "1")
		}
		if err == nil {
			err = recognise(ctx, db)
		}
	}
	if err != nil {
		return nil, explain(doing, errors.Join(err, db.Close()))
	}
	return &View{path: path, db: db}, nil
}

// closedInOrder says whether no log is left beside the file.
func closedInOrder(path string) bool {
	info, err := os.Stat(path + "-wal")
	return errors.Is(err, fs.ErrNotExist) || err == nil && info.Size() == 0
}

// Close gives the view back. Safe to call twice.
func (v *View) Close() error {
	return explain("ledger "+v.path+": close", v.db.Close())
}

// Head returns number and hash of the last entry; 0 and record.Genesis in an
// empty ledger. Whoever keeps the hash can later prove with it that the tail
// was not cut off.
func (v *View) Head(ctx context.Context) (int64, string, error) {
	var data []byte
	err := v.db.QueryRowContext(ctx, "select entry from entries order by seq desc limit 1").Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, record.Genesis, nil
	}
	if err != nil {
		return 0, "", explain("ledger "+v.path+": read the head", err)
	}
	e, err := record.DecodeEntry(data)
	if err != nil {
		return 0, "", fmt.Errorf("ledger %s: read the head: %w", v.path, err)
	}
	return e.Seq, e.Hash, nil
}

// Entries yields the stored bytes of every entry, in the order of the chain.
func (v *View) Entries(ctx context.Context) iter.Seq2[[]byte, error] {
	return entriesOf(ctx, v.db, "ledger "+v.path+": read entries")
}

// Run returns the record of a closed run, with the entry that holds it. It
// wraps ErrRun when the ledger holds no record under the id.
func (v *View) Run(ctx context.Context, id string) (record.Run, record.Entry, error) {
	doing := fmt.Sprintf("ledger %s: read run %s", v.path, id)
	var data []byte
	err := v.db.QueryRowContext(ctx,
		"select e.entry from history h join entries e on e.seq = h.seq where h.run = $1 and h.kind = $2",
		id, string(record.RunClosed)).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return record.Run{}, record.Entry{}, fmt.Errorf("%s: no record: %w", doing, ErrRun)
	}
	if err != nil {
		return record.Run{}, record.Entry{}, explain(doing, err)
	}
	e, err := record.DecodeEntry(data)
	if err != nil {
		return record.Run{}, record.Entry{}, fmt.Errorf("%s: %w", doing, err)
	}
	r, err := record.DecodeRun(e.Body)
	return r, e, explain(doing, err)
}

// Attempts counts the runs of a serial.
func (v *View) Attempts(ctx context.Context, serial string) (Standing, error) {
	s, err := attempts(ctx, v.db, serial)
	return s, explain(fmt.Sprintf("ledger %s: count runs of serial %q", v.path, serial), err)
}

// GoldenAttempts counts the runs of a serial as a golden unit, whatever
// registration they belong to.
func (v *View) GoldenAttempts(ctx context.Context, serial string) (Standing, error) {
	s, err := goldenRuns(ctx, v.db, serial)
	return s, explain(fmt.Sprintf("ledger %s: count golden runs of serial %q", v.path, serial), err)
}

// attempts counts the runs of a serial as a product.
func attempts(ctx context.Context, db *sql.DB, serial string) (Standing, error) {
	return count(ctx, db, serial, record.RunOpened, record.RunClosed, record.RunInterrupted)
}

// goldenRuns counts the runs of a serial as a golden unit.
func goldenRuns(ctx context.Context, db *sql.DB, serial string) (Standing, error) {
	return count(ctx, db, serial, record.GoldenOpened, record.GoldenClosed, record.GoldenInterrupted)
}

func count(ctx context.Context, db *sql.DB, serial string, opened, closed, interrupted record.Kind) (Standing, error) {
	const query = `select
		coalesce(sum(case when kind = $2 then 1 else 0 end), 0),
		coalesce(sum(case when kind in ($4, $5) then 1 else 0 end), 0),
		coalesce(sum(case when kind in ($4, $5) and verdict <> $3 then 1 else 0 end), 0)
		from history where serial = $1`
	var s Standing
	var ended int
	err := db.QueryRowContext(ctx, query, serial, string(opened), string(record.Pass), string(closed), string(interrupted)).
		Scan(&s.Runs, &ended, &s.Unpassed)
	s.Open = s.Runs - ended
	return s, err
}

// History returns every run of a serial in the order of the chain, the first
// one first: no later answer hides it. It is empty for a serial that the
// ledger does not know.
func (v *View) History(ctx context.Context, serial string) ([]Row, error) {
	const query = `select o.run, o.serial, o.product, o.lot, o.supplier, o.attempt, o.allowed_by,
			o.bench, o.bench_kind, o.started_us, o.seq, o.hash,
			coalesce(c.kind, ''), coalesce(c.verdict, ''), coalesce(c.bin, ''), coalesce(c.reason, ''),
			coalesce(c.failed, ''), coalesce(c.seq, 0), coalesce(c.hash, '')
		from history o left join history c on c.run = o.run and c.kind <> $2
		where o.serial = $1 and o.kind = $2 order by o.seq`
	doing := fmt.Sprintf("ledger %s: read history of serial %q", v.path, serial)
	rows, err := v.db.QueryContext(ctx, query, serial, string(record.RunOpened))
	if err != nil {
		return nil, explain(doing, err)
	}
	defer rows.Close()
	var list []Row
	for rows.Next() {
		row, err := scanRow(rows)
		if err != nil {
			return nil, explain(doing, err)
		}
		list = append(list, row)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil || len(list) == 0 {
		return list, explain(doing, err)
	}
	suspects, err := v.Suspects(ctx)
	for i := range list {
		list[i].Suspicions = suspects[list[i].Run]
	}
	return list, err
}

func scanRow(rows *sql.Rows) (Row, error) {
	var r Row
	var started int64
	var closing record.Kind
	var failed string
	err := rows.Scan(&r.Run, &r.Serial, &r.Product, &r.Lot, &r.Supplier, &r.Attempt, &r.AllowedBy,
		&r.Bench, &r.BenchKind, &started, &r.OpenedSeq, &r.OpenedHash,
		&closing, &r.Verdict, &r.Bin, &r.Reason, &failed, &r.ClosedSeq, &r.ClosedHash)
	r.Started = time.UnixMicro(started).UTC()
	r.Interrupted = closing == record.RunInterrupted
	r.Open = closing == ""
	if failed != "" {
		r.Failed = strings.Split(failed, "\n")
	}
	return r, err
}

// querier is what a database and a transaction have in common for reading.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// entriesOf yields the stored bytes in the order of the column seq.
func entriesOf(ctx context.Context, q querier, doing string) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		rows, err := q.QueryContext(ctx, "select entry from entries order by seq")
		if err != nil {
			yield(nil, explain(doing, err))
			return
		}
		defer rows.Close()
		for rows.Next() {
			var data []byte
			if err := rows.Scan(&data); err != nil {
				yield(nil, explain(doing, err))
				return
			}
			if !yield(data, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(nil, explain(doing, err))
		}
	}
}
