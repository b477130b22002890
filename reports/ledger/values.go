package ledger

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"

	"sinkproof/reports/record"
)

// Values are the answers of all runs by column: what a question about many runs
// needs, and no more. They stand in a file beside the ledger, are made of its
// entries and of nothing else, follow it when they are opened, and can be deleted
// at any time. They prove nothing.
//
// Runs are numbered from 0 in the order of the chain. A block holds blockRuns of
// them in one column: a row of fixed size each for the runs themselves, one for
// each value of a check, one for each fail. So a question reads the blocks of the
// columns that it asks for, and skips those outside its time.
type Values struct {
	view *View
	db   *sql.DB
	// codes and names are the dictionary of texts.
	codes map[string]uint32
	names []string
	// runs counts the runs, seq is the last entry that was followed.
	runs int
	seq  int64
	// tail holds the columns of the last block, which is not full.
	tail map[uint32]*block
}

// block is a column of some runs.
type block struct {
	low, high int64
	data      []byte
}

const (
	// blockRuns is how many runs a block holds. At 16 bytes a value a block is 64
	// KiB: large enough to read fast, small enough to write anew with every run.
	blockRuns = 4096
	runSize   = 36
	valueSize = 16
	failSize  = 8
	// The columns that are no checks.
	runColumn  = 0
	failColumn = 1
	firstText  = 2
)

// valuesVersion counts the versions of the file. Another one is made anew.
const valuesVersion = 1

// OpenValues opens the values of a ledger, and lets them follow it. The folder
// must be writable. It wraps what OpenView wraps.
func OpenValues(ctx context.Context, path string) (*Values, error) {
	doing := "ledger " + path + ": read the values by column"
	view, err := OpenView(ctx, path)
	if err != nil {
		return nil, err
	}
	v := &Values{view: view}
	if err := v.open(ctx); err != nil {
		return nil, explain(doing, errors.Join(err, v.Close()))
	}
	if err := v.follow(ctx); err != nil {
		return nil, explain(doing, errors.Join(err, v.Close()))
	}
	return v, nil
}

// Close gives the values back.
func (v *Values) Close() error {
	err := v.view.Close()
	if v.db != nil {
		err = errors.Join(err, v.db.Close())
	}
	return err
}

// open opens the file, and makes it anew where it does not belong to the ledger.
func (v *Values) open(ctx context.Context) error {
	path := v.view.path + "-values"
	var err error
	for range 2 {
		// A power cut may cost the file: it is made again.
		v.db, err = connect(path, "mode", "rwc", "_pragma", "busy_timeout(5000)", "_pragma", "journal_mode(WAL)", "_pragma", "synchronous(OFF)")
		if err == nil {
			err = v.start(ctx)
		}
		if err == nil {
			return nil
		}
		if v.db != nil {
			err = errors.Join(err, v.db.Close())
		}
		for _, suffix := range []string{"", "-wal", "-shm"} {
			if remove := os.Remove(path + suffix); remove != nil && !errors.Is(remove, os.ErrNotExist) {
				return errors.Join(err, remove)
			}
		}
	}
	return err
}

// errStale is the cause when the file is not of this ledger or this version.
var errStale = errors.New("values do not belong to the ledger")

func (v *Values) start(ctx context.Context) error {
	for _, statement := range []string{
		"create table if not exists followed (version bigint not null, seq bigint not null, hash text not null, runs bigint not null)",
		"create table if not exists texts (code bigint not null primary key, name text not null)",
		"create table if not exists blocks (col bigint not null, number bigint not null, low bigint not null, high bigint not null, data blob not null, primary key (col, number))",
	} {
		if _, err := v.db.ExecContext(ctx, statement); err != nil {
			return err
		}
	}
	v.codes, v.names, v.tail, v.runs, v.seq = map[string]uint32{}, make([]string, firstText), map[uint32]*block{}, 0, 0
	var version int64
	var hash string
	err := v.db.QueryRowContext(ctx, "select version, seq, hash, runs from followed").Scan(&version, &v.seq, &hash, &v.runs)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	var found string
	err = v.view.db.QueryRowContext(ctx, "select hash from history where seq = $1", v.seq).Scan(&found)
	if version != valuesVersion || err != nil || found != hash {
		return errStale
	}
	return errors.Join(v.readTexts(ctx), v.readTail(ctx))
}

func (v *Values) readTexts(ctx context.Context) error {
	rows, err := v.db.QueryContext(ctx, "select name from texts order by code")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return err
		}
		v.codes[name] = uint32(len(v.names))
		v.names = append(v.names, name)
	}
	return rows.Err()
}

func (v *Values) readTail(ctx context.Context) error {
	rows, err := v.db.QueryContext(ctx, "select col, low, high, data from blocks where number = $1", v.runs/blockRuns)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var col uint32
		b := &block{}
		if err := rows.Scan(&col, &b.low, &b.high, &b.data); err != nil {
			return err
		}
		v.tail[col] = b
	}
	return rows.Err()
}

// code returns the number of a text.
func (v *Values) code(name string) uint32 {
	c, known := v.codes[name]
	if !known {
		c = uint32(len(v.names))
		v.codes[name] = c
		v.names = append(v.names, name)
	}
	return c
}

// follow takes the runs that were closed since.
func (v *Values) follow(ctx context.Context) error {
	var last int64
	var hash string
	err := v.view.db.QueryRowContext(ctx, "select seq, hash from history order by seq desc limit 1").Scan(&last, &hash)
	if errors.Is(err, sql.ErrNoRows) || err == nil && last == v.seq {
		return nil
	}
	if err != nil {
		return err
	}
	rows, err := v.view.db.QueryContext(ctx,
		"select e.entry from history h join entries e on e.seq = h.seq where h.seq > $1 and h.seq <= $2 and h.kind = $3 order by h.seq",
		v.seq, last, string(record.RunClosed))
	if err != nil {
		return err
	}
	defer rows.Close()
	tx, err := v.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	known := len(v.names)
	for rows.Next() {
		kept, err := scanKept(rows.Scan)
		if err == nil {
			err = v.take(ctx, tx, kept)
		}
		if err != nil {
			return errors.Join(err, tx.Rollback())
		}
	}
	err = errors.Join(rows.Err(), v.flush(ctx, tx), v.keepTexts(ctx, tx, known))
	if err == nil {
		_, err = tx.ExecContext(ctx, "delete from followed")
	}
	if err == nil {
		_, err = tx.ExecContext(ctx, "insert into followed (version, seq, hash, runs) values ($1, $2, $3, $4)", valuesVersion, last, hash, v.runs)
	}
	if err != nil {
		return errors.Join(err, tx.Rollback())
	}
	v.seq = last
	return tx.Commit()
}

func (v *Values) keepTexts(ctx context.Context, tx *sql.Tx, from int) error {
	for code := from; code < len(v.names); code++ {
		if _, err := tx.ExecContext(ctx, "insert into texts (code, name) values ($1, $2)", code, v.names[code]); err != nil {
			return err
		}
	}
	return nil
}

// column returns the block of a column that is being filled.
func (v *Values) column(col uint32, at int64) *block {
	b := v.tail[col]
	if b == nil {
		b = &block{low: at, high: at}
		v.tail[col] = b
	}
	b.low, b.high = min(b.low, at), max(b.high, at)
	return b
}

// The verdicts and answers as they stand in a row.
var verdictCodes = map[record.Verdict]byte{record.Pass: 1, record.Fail: 2, record.None: 3}
var answerCodes = map[record.Answer]byte{record.Passed: 1, record.Failed: 2, record.Unanswered: 3}

// take adds a run to the tail, and writes the tail when it is full.
func (v *Values) take(ctx context.Context, tx *sql.Tx, r Kept) error {
	at, index := microseconds(r.Started), uint16(v.runs%blockRuns)
	b := v.column(runColumn, at)
	b.data = binary.LittleEndian.AppendUint64(b.data, uint64(r.Seq))
	b.data = binary.LittleEndian.AppendUint64(b.data, uint64(at))
	for _, text := range []string{r.Product, r.Lot, r.Supplier, fmt.Sprintf("%s nest %d", r.Bench.Name, max(r.Nest, 1))} {
		b.data = binary.LittleEndian.AppendUint32(b.data, v.code(text))
	}
	b.data = binary.LittleEndian.AppendUint16(b.data, uint16(min(r.Attempt, math.MaxUint16)))
	b.data = append(b.data, verdictCodes[r.Verdict], 0)
	for _, c := range r.Checks {
		check := v.code("check " + c.Name)
		if c.Answer == record.Failed {
			f := v.column(failColumn, at)
			f.data = binary.LittleEndian.AppendUint16(f.data, index)
			f.data = append(f.data, 0, 0)
			f.data = binary.LittleEndian.AppendUint32(f.data, check)
		}
		if c.Value == nil {
			continue
		}
		bound := byte(0)
		if c.Value.Bound != "" {
			bound = 1
		}
		x := v.column(check, at)
		x.data = binary.LittleEndian.AppendUint16(x.data, index)
		x.data = append(x.data, answerCodes[c.Answer], bound)
		x.data = binary.LittleEndian.AppendUint32(x.data, v.code(termsOf(c)))
		x.data = binary.LittleEndian.AppendUint64(x.data, math.Float64bits(c.Value.Value))
	}
	v.runs++
	if v.runs%blockRuns == 0 {
		err := v.flush(ctx, tx)
		v.tail = map[uint32]*block{}
		return err
	}
	return nil
}

// flush writes the tail.
func (v *Values) flush(ctx context.Context, tx *sql.Tx) error {
	number := max(v.runs-1, 0) / blockRuns
	for col, b := range v.tail {
		_, err := tx.ExecContext(ctx, "insert or replace into blocks (col, number, low, high, data) values ($1, $2, $3, $4, $5)",
			col, number, b.low, b.high, b.data)
		if err != nil {
			return err
		}
	}
	return nil
}

// termsOf is the unit of a check with its limits.
func termsOf(c record.Check) string {
	low, high := math.Inf(-1), math.Inf(1)
	if c.Lower != nil {
		low = c.Lower.Value
	}
	if c.Upper != nil {
		high = c.Upper.Value
	}
	return fmt.Sprintf("terms %s %v %v", c.Value.Unit, low, high)
}
