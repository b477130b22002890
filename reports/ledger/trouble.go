package ledger

import (
	"errors"
	"fmt"
	"io/fs"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

var (
	// ErrNotLedger is the cause when the file is something else.
	ErrNotLedger = errors.New("not a ledger")
	// ErrNewer is the cause when a later version of the program made the
	// tables.
	ErrNewer = errors.New("ledger of a newer version of the program")
	// ErrDamaged is the cause when the file is a damaged database.
	ErrDamaged = errors.New("ledger is damaged")
	// ErrWriter is the cause when another program, or another part of this
	// one, writes to the ledger.
	ErrWriter = errors.New("another program writes to this ledger")
	// ErrFull is the cause when the disk is full; nothing was written then.
	ErrFull = errors.New("disk is full")
	// ErrAccess is the cause when the file or its folder cannot be opened, or
	// cannot be written.
	ErrAccess = errors.New("no access")
	// ErrRun is the cause when a run cannot be opened or closed as asked: its
	// id is known already, it is not open, or its identity changed.
	ErrRun = errors.New("run does not fit the ledger")
	// ErrAttempts is the cause when a serial has had its one retest, and no
	// engineer is named who allows another run.
	ErrAttempts = errors.New("one retest was done: a named engineer decides")
	// ErrGolden is the cause when a serial is a golden unit and must not be, or
	// is none and must be.
	ErrGolden = errors.New("golden units are for proving the bench, and nothing else is")
	// ErrColumns is the cause when a column of the projection differs from
	// what the entries say; Rebuild repairs it.
	ErrColumns = errors.New("columns differ from the entries")
	// ErrColumnsDamaged is the cause when the columns beside a ledger are not what was
	// written. They are given up: the next question makes them anew.
	ErrColumnsDamaged = errors.New("columns beside the ledger are damaged")
	// ErrTwin is the cause when a record comes from the twin and the caller
	// did not ask for such.
	ErrTwin = errors.New("record of the twin, no evidence of a real unit")
)

// explain adds the sentinel that fits a trouble of the store to its error.
func explain(doing string, err error) error {
	if err == nil {
		return nil
	}
	if sentinel := sentinelOf(err); sentinel != nil {
		return fmt.Errorf("%s: %w: %w", doing, sentinel, err)
	}
	return fmt.Errorf("%s: %w", doing, err)
}

// sentinelOf maps SQLite's primary result codes (sqlite.org/rescode.html) to
// what a person can act on; nil for others.
func sentinelOf(err error) error {
	var trouble *sqlite.Error
	switch {
	case errors.Is(err, fs.ErrPermission), errors.Is(err, fs.ErrNotExist):
		return ErrAccess
	case !errors.As(err, &trouble):
		return nil
	}
	switch trouble.Code() & 0xff {
	case sqlite3.SQLITE_NOTADB:
		return ErrNotLedger
	case sqlite3.SQLITE_CORRUPT:
		return ErrDamaged
	case sqlite3.SQLITE_FULL:
		return ErrFull
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return ErrWriter
	case sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH:
		return ErrAccess
	}
	return nil
}
