package ledger

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"database/sql"
	"errors"
	"fmt"
	"sync"

	"sinkproof/reports/record"
)

// interrupted is the reason of a run that was found open at the start.
const interrupted = "the program ended before the run was closed"

// freeAttempts is how many runs that ended without a pass a serial may have
// before an engineer has to allow another: the first and one retest.
const freeAttempts = 2

// Opts says how a ledger is written.
type Opts struct {
	// Key signs every entry.
	Key ed25519.PrivateKey
}

// Ledger writes to a ledger, and reads from it. It is safe for use by several
// goroutines, one nest each.
type Ledger struct {
	View
	// Interrupted lists the runs that were found open and were closed as
	// interrupted when the ledger was opened.
	Interrupted []record.Interruption

	key  ed25519.PrivateKey
	lock *writerLock
	w    *sql.DB

	mu sync.Mutex
	// head is the last entry, nil in an empty ledger. It is valid while
	// known: after a commit whose outcome is not known it is read again.
	head  *record.Entry
	known bool
	// open holds the openings of the runs that are not closed, by run id.
	open map[string]record.Entry
}

// Open opens a ledger for writing and makes the file where there is none.
// Runs that were left open are closed as interrupted first. It wraps
// ErrWriter, ErrNotLedger, ErrNewer, ErrDamaged, ErrAccess, ErrFull, or
// record.ErrKey when the last entry was signed with another key.
func Open(ctx context.Context, path string, opts Opts) (*Ledger, error) {
	doing := "ledger " + path + ": open"
	if len(opts.Key) != ed25519.PrivateKeySize {
		return nil, fmt.Errorf("%s: no key to sign with: %w", doing, record.ErrKey)
	}
	lock, w, err := connectLocked(ctx, path)
	if err != nil {
		return nil, explain(doing, err)
	}
	l := &Ledger{View: View{path: path}, key: opts.Key, lock: lock, w: w, open: map[string]record.Entry{}}
	if err := l.start(ctx); err != nil {
		return nil, explain(doing, errors.Join(err, l.Close()))
	}
	return l, nil
}

// start makes or recognises the tables, finds the head, and closes what was
// left open.
func (l *Ledger) start(ctx context.Context) error {
	if err := prepare(ctx, l.w, l.path); err != nil {
		return err
	}
	reader, err := connectReader(l.path)
	if err != nil {
		return err
	}
	l.db = reader
	if err := l.findHead(ctx); err != nil {
		return err
	}
	if err := l.findOpen(ctx); err != nil {
		return err
	}
	return l.interruptAll(ctx)
}

// findHead reads the last entry and demands that this key signed it.
func (l *Ledger) findHead(ctx context.Context) error {
	var data []byte
	err := l.w.QueryRowContext(ctx, "select entry from entries order by seq desc limit 1").Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		l.head, l.known = nil, true
		return nil
	}
	if err != nil {
		return err
	}
	e, err := record.DecodeEntry(data)
	if err != nil {
		return fmt.Errorf("last entry: %w: %w", record.ErrAltered, err)
	}
	if err := e.Verify(record.Public(l.key)); err != nil {
		return fmt.Errorf("last entry: %w", err)
	}
	l.head, l.known = &e, true
	return nil
}

// findOpen reads the openings that have no closing.
func (l *Ledger) findOpen(ctx context.Context) error {
	const query = `select e.entry from history o join entries e on e.seq = o.seq
		where o.kind in ($1, $2) and not exists (select 1 from history c where c.run = o.run and c.seq > o.seq)
		order by o.seq`
	rows, err := l.w.QueryContext(ctx, query, string(record.RunOpened), string(record.GoldenOpened))
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var data []byte
		if err := rows.Scan(&data); err != nil {
			return err
		}
		e, err := record.DecodeEntry(data)
		if err != nil {
			return fmt.Errorf("an open run: %w: %w", record.ErrAltered, err)
		}
		opening, err := record.DecodeOpening(e.Body)
		if err != nil {
			return fmt.Errorf("entry %d: %w", e.Seq, err)
		}
		l.open[opening.ID] = e
		l.Interrupted = append(l.Interrupted, record.Interruption{
			ID: opening.ID, Serial: opening.Serial, Opened: e.Hash, Reason: interrupted,
		})
	}
	return rows.Err()
}

func (l *Ledger) interruptAll(ctx context.Context) error {
	for _, i := range l.Interrupted {
		if _, err := l.append(ctx, interruptionOf(l.open[i.ID], i)); err != nil {
			return fmt.Errorf("close run %s of serial %q as interrupted: %w", i.ID, i.Serial, err)
		}
		delete(l.open, i.ID)
	}
	return nil
}

// OpenRun commits the opening of a run: when it returns, the entry is on the
// disk and a coil may move. An attempt of 0 is filled in with the next number
// of the serial, any other must be that number. It returns the opening as
// committed. It wraps ErrAttempts, ErrRun, ErrGolden for a golden unit,
// record.ErrInvalid or a trouble of the store; nothing was written then.
func (l *Ledger) OpenRun(ctx context.Context, o record.Opening) (record.Opening, record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	doing := fmt.Sprintf("ledger %s: open run %s of serial %q", l.path, o.ID, o.Serial)
	if err := l.admit(ctx, &o); err != nil {
		return o, record.Entry{}, explain(doing, err)
	}
	e, err := l.append(ctx, o)
	if err != nil {
		return o, record.Entry{}, explain(doing, err)
	}
	l.open[o.ID] = e
	return o, e, nil
}

// admit proves that the run may be opened and fills in its attempt.
func (l *Ledger) admit(ctx context.Context, o *record.Opening) error {
	if err := unknown(ctx, l.w, o.ID); err != nil {
		return err
	}
	golden, err := inUse(ctx, l.w, o.Serial)
	if err != nil {
		return err
	}
	if golden != nil {
		return fmt.Errorf("the serial is a golden unit, registered in entry %d: %w", golden.Seq, ErrGolden)
	}
	before, err := attempts(ctx, l.w, o.Serial)
	if err != nil {
		return err
	}
	if before.Open > 0 {
		return fmt.Errorf("another run of this serial is open: %w", ErrRun)
	}
	if before.Unpassed >= freeAttempts && o.AllowedBy == "" {
		return fmt.Errorf("%d runs of this serial ended without a pass: %w", before.Unpassed, ErrAttempts)
	}
	if o.Attempt == 0 {
		o.Attempt = before.Runs + 1
	}
	if o.Attempt != before.Runs+1 {
		return fmt.Errorf("attempt is %d, the next is %d: %w", o.Attempt, before.Runs+1, ErrRun)
	}
	return nil
}

// CloseRun commits the record of a run that was opened before. Its opening
// must be the one that was committed. It wraps ErrRun, record.ErrInvalid or a
// trouble of the store; the run stays open then.
func (l *Ledger) CloseRun(ctx context.Context, r record.Run) (record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.end(ctx, r.ID, r.Opening, r)
}

// InterruptRun commits that an open run came to no verdict, with the reason.
func (l *Ledger) InterruptRun(ctx context.Context, id, reason string) (record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	opened, ok := l.open[id]
	if !ok {
		return record.Entry{}, fmt.Errorf("ledger %s: interrupt run %s: not open: %w", l.path, id, ErrRun)
	}
	o, err := record.DecodeOpening(opened.Body)
	if err != nil {
		return record.Entry{}, fmt.Errorf("ledger %s: interrupt run %s: %w", l.path, id, err)
	}
	return l.end(ctx, id, o, interruptionOf(opened, record.Interruption{ID: id, Serial: o.Serial, Opened: opened.Hash, Reason: reason}))
}

// interruptionOf is the document that interrupts what an entry opened.
func interruptionOf(opened record.Entry, i record.Interruption) record.Document {
	if opened.Kind == record.GoldenOpened {
		return record.GoldenInterruption{Interruption: i}
	}
	return i
}

// end appends the closing of an open run. The lock is held.
func (l *Ledger) end(ctx context.Context, id string, o record.Opening, doc record.Document) (record.Entry, error) {
	doing := fmt.Sprintf("ledger %s: close run %s of serial %q", l.path, id, o.Serial)
	kind := record.RunOpened
	if doc.Kind() == record.GoldenInterrupted {
		kind = record.GoldenOpened
	}
	if err := l.closable(id, o, kind); err != nil {
		return record.Entry{}, fmt.Errorf("%s: %w", doing, err)
	}
	e, err := l.append(ctx, doc)
	if err != nil {
		return record.Entry{}, explain(doing, err)
	}
	delete(l.open, id)
	return e, nil
}

// closable demands that a run is open with this identity, as a run of a product
// or of a golden unit.
func (l *Ledger) closable(id string, o record.Opening, kind record.Kind) error {
	opened, ok := l.open[id]
	if !ok || opened.Kind != kind {
		return fmt.Errorf("not open: %w", ErrRun)
	}
	body, err := record.EncodeOpening(o)
	if err != nil {
		return err
	}
	if !bytes.Equal(body, opened.Body) {
		return fmt.Errorf("identity differs from entry %d, which opened it: %w", opened.Seq, ErrRun)
	}
	return nil
}

// append seals the document behind the head and commits it.
func (l *Ledger) append(ctx context.Context, doc record.Document) (record.Entry, error) {
	entries, err := l.appendAll(ctx, doc)
	if err != nil {
		return record.Entry{}, err
	}
	return entries[0], nil
}

// appendAll seals documents behind the head, one after the other, and commits
// them together or not at all.
func (l *Ledger) appendAll(ctx context.Context, docs ...record.Document) ([]record.Entry, error) {
	if !l.known {
		if err := l.findHead(ctx); err != nil {
			return nil, err
		}
	}
	entries, err := record.SealAll(l.head, docs, l.key)
	if err != nil {
		return nil, err
	}
	if err := l.commit(ctx, entries, docs); err != nil {
		// A commit that failed in the middle may be on the disk or not.
		l.known = false
		return nil, err
	}
	l.head = &entries[len(entries)-1]
	return entries, nil
}

// commit writes entries and their rows of the projection in one transaction.
func (l *Ledger) commit(ctx context.Context, entries []record.Entry, docs []record.Document) error {
	tx, err := l.w.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := store(ctx, tx, entries, docs); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

// store inserts entries and their rows.
func store(ctx context.Context, tx *sql.Tx, entries []record.Entry, docs []record.Document) error {
	entry, err := tx.PrepareContext(ctx, "insert into entries (seq, entry) values ($1, $2)")
	if err != nil {
		return err
	}
	row, err := tx.PrepareContext(ctx, insertHistory())
	if err != nil {
		return err
	}
	for i, e := range entries {
		if _, err := entry.ExecContext(ctx, e.Seq, e.Bytes()); err != nil {
			return err
		}
		if _, err := row.ExecContext(ctx, valuesOf(columnsOf(e, docs[i]))...); err != nil {
			return err
		}
	}
	return nil
}

// Close gives the ledger back. Runs that are open stay open, and are closed
// as interrupted at the next start. Safe to call twice.
func (l *Ledger) Close() error {
	var err error
	if l.db != nil {
		err = l.db.Close()
	}
	err = errors.Join(err, l.w.Close(), l.lock.Close())
	return explain("ledger "+l.path+": close", err)
}
