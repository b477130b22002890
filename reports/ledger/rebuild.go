package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"sinkproof/reports/record"
)

// Rebuild makes the projection anew from the stored entries, whose bytes it
// does not touch, and returns how many there are. It needs no key: what the
// entries are worth is for Verify to say. It wraps ErrWriter while another
// program writes, record.ErrForm or record.ErrSchema when an entry cannot be
// read; the projection stays as it was then.
func Rebuild(ctx context.Context, path string) (int64, error) {
	doing := "ledger " + path + ": rebuild the columns"
	if err := exists(path); err != nil {
		return 0, explain(doing, err)
	}
	lock, w, err := connectLocked(ctx, path)
	if err != nil {
		return 0, explain(doing, err)
	}
	count, err := rebuild(ctx, w)
	return count, explain(doing, errors.Join(err, w.Close(), lock.Close()))
}

func rebuild(ctx context.Context, db *sql.DB) (int64, error) {
	if err := recognise(ctx, db); err != nil {
		return 0, err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	count, err := refill(ctx, tx)
	if err != nil {
		return 0, errors.Join(err, tx.Rollback())
	}
	return count, tx.Commit()
}

// refill drops the projection and inserts a row for each entry.
func refill(ctx context.Context, tx *sql.Tx) (int64, error) {
	for _, statement := range append([]string{"drop table if exists history"}, createProjection()...) {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return 0, err
		}
	}
	row, err := tx.PrepareContext(ctx, insertHistory())
	if err != nil {
		return 0, err
	}
	var last, count int64
	for {
		var data []byte
		err := tx.QueryRowContext(ctx, "select seq, entry from entries where seq > $1 order by seq limit 1", last).
			Scan(&last, &data)
		if errors.Is(err, sql.ErrNoRows) {
			return count, nil
		}
		if err != nil {
			return 0, err
		}
		if err := insertRow(ctx, row, last, data); err != nil {
			return 0, err
		}
		count++
	}
}

func insertRow(ctx context.Context, row *sql.Stmt, seq int64, data []byte) error {
	e, err := record.DecodeEntry(data)
	if err != nil {
		return fmt.Errorf("entry %d: %w", seq, err)
	}
	doc, err := e.Document()
	if err != nil {
		return fmt.Errorf("entry %d: %w", seq, err)
	}
	if _, err := row.ExecContext(ctx, valuesOf(columnsOf(e, doc))...); err != nil {
		return fmt.Errorf("entry %d: %w", seq, err)
	}
	return nil
}
