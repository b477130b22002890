package ledger

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"sinkproof/reports/record"
)

// foreign makes a database of somebody else's.
func foreign(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "other.db")
	db, err := connect(path, "mode", "rwc")
	require.NoError(t, err)
	_, err = db.Exec("create table addresses (name text)")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	return path
}

func textFile(t *testing.T, text string) string {
	path := filepath.Join(t.TempDir(), "bench.ledger")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

// damaged overwrites the pages that follow the header page.
func damaged(t *testing.T) string {
	path := filled(t)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	for i := 4096; i < len(data); i++ {
		data[i] = 0xa5
	}
	require.NoError(t, os.WriteFile(path, data, 0o600))
	return path
}

func newer(t *testing.T) string {
	path := filled(t)
	alter(t, path, "pragma user_version = 2")
	return path
}

// Whatever stands at the path, it is named, and it is not changed.
func TestWhatIsNoLedgerIsRefusedUnchanged(t *testing.T) {
	ctx := context.Background()
	for name, c := range map[string]struct {
		path  string
		cause error
	}{
		"text":              {textFile(t, strings.Repeat("this is a letter\n", 100)), ErrNotLedger},
		"another database":  {foreign(t), ErrNotLedger},
		"a later version":   {newer(t), ErrNewer},
		"a damaged one":     {damaged(t), ErrDamaged},
		"a folder":          {t.TempDir(), nil},
		"nowhere to put it": {filepath.Join(t.TempDir(), "no", "bench.ledger"), ErrAccess},
	} {
		t.Run(name, func(t *testing.T) {
			before, readErr := os.ReadFile(c.path)
			_, err := Open(ctx, c.path, Opts{Key: benchKey()})
			require.Error(t, err)
			require.ErrorContains(t, err, c.path)
			_, rebuildErr := Rebuild(ctx, c.path)
			require.Error(t, rebuildErr)
			if c.cause != nil {
				require.ErrorIs(t, err, c.cause)
				require.ErrorIs(t, rebuildErr, c.cause)
			}
			if readErr == nil {
				after, err := os.ReadFile(c.path)
				require.NoError(t, err)
				require.Equal(t, before, after)
			}
		})
	}
}

func TestAViewOfWhatIsNoLedgerIsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		path  string
		cause error
	}{
		"text":             {textFile(t, strings.Repeat("this is a letter\n", 100)), ErrNotLedger},
		"an empty file":    {textFile(t, ""), ErrNotLedger},
		"another database": {foreign(t), ErrNotLedger},
		"a later version":  {newer(t), ErrNewer},
		"a folder":         {t.TempDir(), ErrNotLedger},
		"nothing":          {filepath.Join(t.TempDir(), "none"), ErrAccess},
	} {
		_, err := OpenView(context.Background(), c.path)
		require.ErrorIs(t, err, c.cause, name)
	}
	_, err := OpenView(context.Background(), filepath.Join(t.TempDir(), "none"))
	require.ErrorIs(t, err, fs.ErrNotExist)
}

func TestADamagedLedgerDoesNotVerify(t *testing.T) {
	v, err := OpenView(context.Background(), damaged(t))
	if err == nil {
		_, err = v.Verify(context.Background(), VerifyOpts{})
		require.NoError(t, v.Close())
	}
	require.ErrorIs(t, err, ErrDamaged)
}

// Everything that reads says so when the pages under it are damaged.
func TestReadingADamagedLedger(t *testing.T) {
	ctx := context.Background()
	v, err := OpenView(ctx, damaged(t))
	require.NoError(t, err, "the header page is whole")
	_, err = v.History(ctx, "LMP-1")
	require.ErrorIs(t, err, ErrDamaged)
	_, err = v.Attempts(ctx, "LMP-1")
	require.ErrorIs(t, err, ErrDamaged)
	_, _, err = v.Head(ctx)
	require.ErrorIs(t, err, ErrDamaged)
	_, _, err = v.Run(ctx, "x")
	require.ErrorIs(t, err, ErrDamaged)
	for _, err := range v.Entries(ctx) {
		require.ErrorIs(t, err, ErrDamaged)
	}
	require.NoError(t, v.Close())
	require.NoError(t, v.Close(), "safe to call twice")
}

// An altered last entry is not continued.
func TestAnAlteredHeadIsNotContinued(t *testing.T) {
	path := filled(t)
	replace(t, path, 8, []byte("junk"))
	_, err := Open(context.Background(), path, Opts{Key: benchKey()})
	require.ErrorIs(t, err, record.ErrAltered)
	v, err := OpenView(context.Background(), path)
	require.NoError(t, err)
	_, _, err = v.Head(context.Background())
	require.ErrorIs(t, err, record.ErrForm)
	require.NoError(t, v.Close())
}

// An altered opening is not closed as interrupted as if it were good.
func TestAnAlteredOpenRunStopsTheStart(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.ledger")
	l := reopen(t, path)
	_, _, err := l.OpenRun(context.Background(), opening(1, "LMP-1"))
	require.NoError(t, err)
	complete(t, l, 2, "LMP-2", record.Pass)
	require.NoError(t, l.Close())
	replace(t, path, 1, []byte("junk"))
	_, err = Open(context.Background(), path, Opts{Key: benchKey()})
	require.ErrorIs(t, err, record.ErrAltered)
}

// A full disk is named, nothing is half-written, and the run goes on once
// there is room. SQLite's own limit on pages stands in for the disk: it gives
// the same result code.
func TestAFullDisk(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	o, opened, err := l.OpenRun(ctx, opening(1, "LMP-1"))
	require.NoError(t, err)
	run := runOf(o, record.Fail)
	run.Reason = strings.Repeat("a long story ", 4000)
	_, err = l.w.Exec("pragma max_page_count = 8")
	require.NoError(t, err)
	_, err = l.CloseRun(ctx, run)
	require.ErrorIs(t, err, ErrFull)
	_, hash, err := l.Head(ctx)
	require.NoError(t, err)
	require.Equal(t, opened.Hash, hash)

	_, err = l.w.Exec("pragma max_page_count = 100000")
	require.NoError(t, err)
	_, err = l.CloseRun(ctx, run)
	require.NoError(t, err)
}

// The result codes of sqlite.org/rescode.html lead to what a person can do.
func TestResultCodesAreExplained(t *testing.T) {
	require.NoError(t, explain("x", nil))
	plain := errors.New("odd")
	require.Nil(t, sentinelOf(plain))
	require.ErrorIs(t, explain("x", plain), plain)
	require.ErrorIs(t, explain("x", fs.ErrPermission), ErrAccess)

	db, err := connect(filepath.Join(t.TempDir(), "a.db"), "mode", "rwc")
	require.NoError(t, err)
	_, err = db.Exec("create table t (n integer primary key); insert into t values (1)")
	require.NoError(t, err)
	_, err = db.Exec("insert into t values (1)")
	var trouble *sqlite.Error
	require.ErrorAs(t, err, &trouble)
	require.Equal(t, sqlite3.SQLITE_CONSTRAINT, trouble.Code()&0xff)
	require.Nil(t, sentinelOf(err), "a code with no advice of its own")
	_, err = db.Exec("pragma query_only = 1; insert into t values (2)")
	require.ErrorIs(t, explain("x", err), ErrAccess)
	require.NoError(t, db.Close())
}

// A commit that was reported as failed may have reached the disk: the ledger
// looks again before it goes on, and does not fork.
func TestACommitOfUnknownOutcome(t *testing.T) {
	ctx, l := context.Background(), NewLedger(t)
	complete(t, l, 1, "LMP-1", record.Pass)
	landed := opening(2, "LMP-2")
	landed.Attempt = 1
	e, err := record.Seal(l.head, landed, benchKey())
	require.NoError(t, err)
	require.NoError(t, l.commit(ctx, []record.Entry{e}, []record.Document{landed}))

	_, _, err = l.OpenRun(ctx, opening(3, "LMP-3"))
	require.Error(t, err, "its place is taken")
	_, next, err := l.OpenRun(ctx, opening(3, "LMP-3"))
	require.NoError(t, err)
	require.Equal(t, e.Hash, next.Previous)
}

// An index that lost a row answers questions by serial wrongly, though every
// entry is whole.
func TestAnIndexThatLostARowIsDamage(t *testing.T) {
	path := filled(t)
	const retype = "pragma writable_schema = 1; update sqlite_schema set sql = '%s' where name = 'history_serial'"
	alter(t, path, fmt.Sprintf(retype, createIndex+" where 0"))
	names := strings.Join(columnNames(), ", ")
	alter(t, path, "create table aside as select * from history where seq = 4", "delete from history where seq = 4",
		"insert into history ("+names+") select "+names+" from aside", "drop table aside")
	alter(t, path, fmt.Sprintf(retype, createIndex))
	_, err := tryVerify(t, path, VerifyOpts{})
	require.ErrorIs(t, err, ErrDamaged)
	require.ErrorContains(t, err, "integrity check")
}
