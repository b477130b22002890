package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"time"

	"sinkproof/reports/record"
)

// columns are the answers of all runs by column, in a file beside the ledger. It is
// made of the entries and of nothing else, and can be deleted at any time.
//
// Runs are numbered from 0 in the order of the chain. A block holds blockRuns of
// them in one column: a row of fixed size each for the runs themselves, one for each
// check that was put, one for each fail, and the texts of the serials. So a question
// reads the blocks of the columns that it asks for, and skips those outside its time.
type columns struct {
	filling
	path string
	db   *sql.DB
	// texts counts the names that the file has.
	texts int
}

// columnsVersion counts the versions of the file (PRAGMA user_version). Another one
// is made anew.
const columnsVersion = 2

// errStale is the cause when the file of columns does not fit the chain.
var errStale = errors.New("columns do not fit the ledger")

// openColumns opens the file of columns, without looking at what is in it.
func openColumns(ctx context.Context, path string) (*columns, error) {
	db, err := connect(path, "mode", "rwc", "_txlock", "immediate",
		"_pragma", "busy_timeout(60000)", "_pragma", "journal_mode(WAL)", "_pragma", "synchronous(NORMAL)")
	if err != nil {
		return nil, err
	}
	awaitLog(ctx, db)
	return &columns{path: path, db: db}, nil
}

// awaitLog lets the first connection turn the write-ahead log on. Of several
// programs that meet at a new file only one can, and SQLite does not let the others
// wait for it as for other locks. What else is wrong shows at the first use.
func awaitLog(ctx context.Context, db *sql.DB) {
	for range 600 {
		if err := db.PingContext(ctx); !errors.Is(sentinelOf(err), ErrWriter) {
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// Close gives the file back.
func (c *columns) Close() error { return c.db.Close() }

// remove deletes the file: what is damaged is made again.
func (c *columns) remove() error {
	err := c.Close()
	for _, suffix := range []string{"", "-wal", "-shm"} {
		if gone := os.Remove(c.path + suffix); gone != nil && !errors.Is(gone, os.ErrNotExist) {
			err = errors.Join(err, gone)
		}
	}
	return err
}

// checksum guards a block against what disks and power cuts do, with its place.
func checksum(col uint32, number int, data []byte) int64 {
	table := crc32.MakeTable(crc32.Castagnoli)
	sum := crc32.Update(0, table, fmt.Appendf(nil, "%d %d ", col, number))
	return int64(crc32.Update(sum, table, data))
}

// createColumns are the statements that make the tables.
func createColumns() []string {
	return []string{
		"drop table if exists followed", "drop table if exists texts", "drop table if exists blocks",
		"create table followed (seq bigint not null, hash text not null, runs bigint not null)",
		"create table texts (code bigint not null primary key, name text not null)",
		"create table blocks (col bigint not null, number bigint not null, low bigint not null, high bigint not null," +
			" sum bigint not null, data blob not null, primary key (col, number))",
		fmt.Sprintf("pragma user_version = %d", columnsVersion),
	}
}

// reader is what a database, a connection and a transaction have in common.
type reader interface {
	querier
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// load reads where the file stands. fits says whether the ledger has an entry with a
// number and a hash; errStale is the cause when it has not.
func (c *columns) load(ctx context.Context, db reader, fits func(seq int64, hash string) error) error {
	c.filling = newFilling()
	var version int
	if err := db.QueryRowContext(ctx, "pragma user_version").Scan(&version); err != nil {
		return err
	}
	if version != columnsVersion {
		return fmt.Errorf("version %d: %w", version, errStale)
	}
	err := db.QueryRowContext(ctx, "select seq, hash, runs from followed").Scan(&c.seq, &c.hash, &c.runs)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err == nil {
		err = fits(c.seq, c.hash)
	}
	return errors.Join(err, c.readTexts(ctx, db), c.readTail(ctx, db))
}

func (c *columns) readTexts(ctx context.Context, db reader) error {
	rows, err := db.QueryContext(ctx, "select name from texts order by code")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return err
		}
		c.dict.add(name)
	}
	c.texts = len(c.dict.names)
	return rows.Err()
}

func (c *columns) readTail(ctx context.Context, db reader) error {
	if c.runs%blockRuns == 0 {
		return nil
	}
	number := c.runs / blockRuns
	rows, err := db.QueryContext(ctx, "select col, low, high, sum, data from blocks where number = $1", number)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var col uint32
		var sum int64
		b := &block{}
		if err := rows.Scan(&col, &b.low, &b.high, &sum, &b.data); err != nil {
			return err
		}
		if checksum(col, number, b.data) != sum {
			return fmt.Errorf("block %d of column %d: %w", number, col, ErrColumnsDamaged)
		}
		c.tail[col] = b
	}
	return rows.Err()
}

// make empties the file.
func (c *columns) make(ctx context.Context, tx *sql.Tx) error {
	for _, statement := range createColumns() {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return err
		}
	}
	c.filling = newFilling()
	c.texts = len(c.dict.names)
	return nil
}

// begin starts to write. Another program may have written meanwhile: what the file
// holds then counts.
func (c *columns) begin(ctx context.Context, fits func(seq int64, hash string) error) (*sql.Tx, error) {
	tx, err := c.db.BeginTx(ctx, nil)
	if err != nil {
		return nil, err
	}
	same, err := c.unchanged(ctx, tx)
	if err == nil && !same {
		err = c.load(ctx, tx, fits)
	}
	if errors.Is(err, errStale) || errors.Is(err, ErrColumnsDamaged) {
		err = c.make(ctx, tx)
	}
	if err != nil {
		return nil, errors.Join(err, tx.Rollback())
	}
	return tx, nil
}

// unchanged tells whether the file stands where this program knows it to be.
func (c *columns) unchanged(ctx context.Context, tx *sql.Tx) (bool, error) {
	var version int
	if err := tx.QueryRowContext(ctx, "pragma user_version").Scan(&version); err != nil || version != columnsVersion || c.dict == nil {
		return false, err
	}
	var hash string
	err := tx.QueryRowContext(ctx, "select hash from followed").Scan(&hash)
	if errors.Is(err, sql.ErrNoRows) {
		return c.seq == 0, nil
	}
	return hash == c.hash, err
}

// end keeps what was taken.
func (c *columns) end(ctx context.Context, tx *sql.Tx) error {
	err := errors.Join(c.flush(ctx, tx), c.keepTexts(ctx, tx))
	if err == nil {
		_, err = tx.ExecContext(ctx, "delete from followed")
	}
	if err == nil {
		_, err = tx.ExecContext(ctx, "insert into followed (seq, hash, runs) values ($1, $2, $3)", c.seq, c.hash, c.runs)
	}
	if err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

func (c *columns) keepTexts(ctx context.Context, tx *sql.Tx) error {
	for ; c.texts < len(c.dict.names); c.texts++ {
		if _, err := tx.ExecContext(ctx, "insert into texts (code, name) values ($1, $2)", c.texts, c.dict.names[c.texts]); err != nil {
			return err
		}
	}
	return nil
}

// follows follows one entry; see filling.step.
func (c *columns) follows(ctx context.Context, tx *sql.Tx, e record.Entry, run *record.Run) error {
	return c.step(e, run, func() error { return c.flush(ctx, tx) })
}

// flush writes the tail.
func (c *columns) flush(ctx context.Context, tx *sql.Tx) error {
	if len(c.tail) == 0 {
		return nil
	}
	insert, err := tx.PrepareContext(ctx, "insert or replace into blocks (col, number, low, high, sum, data) values ($1, $2, $3, $4, $5, $6)")
	if err != nil {
		return err
	}
	defer insert.Close()
	number := c.number()
	for col, b := range c.tail {
		if _, err := insert.ExecContext(ctx, col, number, b.low, b.high, checksum(col, number, b.data), b.data); err != nil {
			return err
		}
	}
	return nil
}
