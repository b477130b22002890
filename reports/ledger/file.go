package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	// The driver registers itself under the name "sqlite".
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"sinkproof/reports/record"
)

// applicationID marks the file as a ledger in its header (PRAGMA
// application_id): "SKPF" in ASCII.
const applicationID = 0x534b5046

// tablesVersion counts the versions of the tables (PRAGMA user_version).
const tablesVersion = 1

// createEntries makes the table that is never migrated. The types are those
// that PostgreSQL knows as well.
const createEntries = `create table entries (
	seq bigint not null primary key,
	entry blob not null
)`

// connect prepares a database handle of one connection on the file. The
// options are SQLite's own (sqlite.org/uri.html) and the driver's.
func connect(path string, options ...string) (*sql.DB, error) {
	absolute, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	uri := url.URL{Scheme: "file", Path: filepath.ToSlash(absolute)}
	query := url.Values{}
	for i := 0; i+1 < len(options); i += 2 {
		query.Add(options[i], options[i+1])
	}
	uri.RawQuery = query.Encode()
	db, err := sql.Open("sqlite", uri.String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return db, nil
}

// connectWriter opens the file for writing: write-ahead log, every commit
// synced to the disk before it returns.
func connectWriter(path string) (*sql.DB, error) {
	return connect(path, "mode", "rwc", "_txlock", "immediate",
		"_pragma", "busy_timeout(2000)", "_pragma", "journal_mode(WAL)", "_pragma", "synchronous(FULL)")
}

// connectReader opens the file for reading. Several connections let a caller
// ask one question while walking through the answer of another.
func connectReader(path string, options ...string) (*sql.DB, error) {
	db, err := connect(path, append([]string{"mode", "ro", "_pragma", "busy_timeout(2000)"}, options...)...)
	if err == nil {
		db.SetMaxOpenConns(4)
	}
	return db, err
}

// writerLock is the right to write: an exclusive transaction on a file beside
// the ledger that stays empty. The operating system gives it back when the
// process ends, however it ends; readers never look at it.
type writerLock struct {
	db   *sql.DB
	conn *sql.Conn
}

// holdWriter takes the right to write, or fails at once.
func holdWriter(ctx context.Context, path string) (*writerLock, error) {
	db, err := connect(path+"-writer", "mode", "rwc", "_pragma", "busy_timeout(0)")
	if err != nil {
		return nil, err
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	lock := &writerLock{db, conn}
	if _, err := conn.ExecContext(ctx, "begin exclusive"); err != nil {
		return nil, errors.Join(err, lock.Close())
	}
	return lock, nil
}

// Close gives the right back. Safe to call twice.
func (w *writerLock) Close() error {
	err := w.conn.Close()
	if errors.Is(err, sql.ErrConnDone) {
		err = nil
	}
	return errors.Join(err, w.db.Close())
}

// connectLocked takes the right to write and opens the file for it, after
// having looked at what the file is.
func connectLocked(ctx context.Context, path string) (*writerLock, *sql.DB, error) {
	lock, err := holdWriter(ctx, path)
	if err != nil {
		return nil, nil, err
	}
	err = survey(ctx, path)
	var w *sql.DB
	if err == nil {
		w, err = connectWriter(path)
	}
	if err != nil {
		return nil, nil, errors.Join(err, lock.Close())
	}
	return lock, w, nil
}

// survey looks at a file before anything is changed in it: nothing may be
// written into a database that is not a ledger. No file, or a database
// without tables, is a ledger that is still to be made.
func survey(ctx context.Context, path string) error {
	if info, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) || err == nil && info.Size() == 0 {
		return nil
	}
	err := look(ctx, path, "ro")
	if isCutOff(err) {
		err = look(ctx, path, "rw")
	}
	return err
}

// look tells whether a file is, or may become, a ledger.
func look(ctx context.Context, path, mode string) error {
	db, err := connect(path, "mode", mode, "_pragma", "busy_timeout(2000)")
	if err != nil {
		return err
	}
	objects, err := countObjects(ctx, db)
	if err == nil && objects > 0 {
		err = recognise(ctx, db)
	}
	return errors.Join(err, db.Close())
}

// isCutOff says that a transaction was cut off by a kill or a loss of power
// before the write-ahead log was on, as when a ledger is made. Whoever opens the
// file next for writing takes it back, which leaves it as it was before; a reader
// may not (sqlite.org/rescode.html, SQLITE_READONLY_ROLLBACK and _RECOVERY).
func isCutOff(err error) bool {
	var trouble *sqlite.Error
	return errors.As(err, &trouble) &&
		(trouble.Code() == sqlite3.SQLITE_READONLY_ROLLBACK || trouble.Code() == sqlite3.SQLITE_READONLY_RECOVERY)
}

func countObjects(ctx context.Context, db *sql.DB) (int, error) {
	var objects int
	err := db.QueryRowContext(ctx, "select count(*) from sqlite_schema").Scan(&objects)
	return objects, err
}

// prepare makes the tables of a new ledger, or proves that the file is a
// ledger of this version.
func prepare(ctx context.Context, db *sql.DB, path string) error {
	objects, err := countObjects(ctx, db)
	if err != nil {
		return err
	}
	if objects > 0 {
		if err := recognise(ctx, db); err != nil {
			return err
		}
		for _, x := range laterIndexes() {
			if _, err := db.ExecContext(ctx, strings.Replace(x.statement, "index", "index if not exists", 1)); err != nil {
				return err
			}
		}
		return nil
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	for _, statement := range append(createProjection(),
		createEntries,
		fmt.Sprintf("pragma application_id = %d", applicationID),
		fmt.Sprintf("pragma user_version = %d", tablesVersion),
	) {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return errors.Join(err, tx.Rollback())
		}
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	return record.SyncDir(filepath.Dir(path))
}

// recognise proves by the header that a database is a ledger of this version.
func recognise(ctx context.Context, db *sql.DB) error {
	var application, version int
	if err := db.QueryRowContext(ctx, "pragma application_id").Scan(&application); err != nil {
		return err
	}
	if application != applicationID {
		return fmt.Errorf("application id is %#x, a ledger has %#x: %w", application, applicationID, ErrNotLedger)
	}
	if err := db.QueryRowContext(ctx, "pragma user_version").Scan(&version); err != nil {
		return err
	}
	if version > tablesVersion {
		return fmt.Errorf("tables have version %d, this program knows %d: %w", version, tablesVersion, ErrNewer)
	}
	return nil
}

// exists refuses a path that leads to no file, before SQLite says the same
// less clearly.
func exists(path string) error {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() || info.Size() == 0 {
		return fmt.Errorf("%s, %d bytes: %w", info.Mode(), info.Size(), ErrNotLedger)
	}
	return nil
}
