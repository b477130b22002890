package ledger

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"sinkproof/reports/record"
)

// columnsAudit holds the columns beside a ledger against its entries, as far as they
// would be read: such that do not fit the chain are made anew by who opens them, and
// are none of its business.
type columnsAudit struct {
	filling
	// file is what the file holds, in one transaction.
	file columns
	db   *sql.DB
	tx   *sql.Tx
}

// newColumnsAudit opens the columns of a ledger; nil where there are none that would
// be read.
func newColumnsAudit(ctx context.Context, v *View) *columnsAudit {
	path := columnsBeside(v.path)
	if exists(path) != nil {
		return nil
	}
	var options []string
	if closedInOrder(path) {
		options = []string{"immutable", "1"} // so that nothing need be written beside it
	}
	db, err := connectReader(path, options...)
	if err != nil {
		return nil
	}
	a := &columnsAudit{filling: newFilling(), file: columns{path: path}, db: db}
	if a.tx, err = db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true}); err == nil {
		err = a.file.load(ctx, a.tx, v.fits(ctx))
	}
	if err != nil || a.file.seq == 0 {
		a.close()
		return nil
	}
	return a
}

// close gives the file back. What a reader of a cache leaves behind is nobody's
// trouble.
func (a *columnsAudit) close() {
	if a == nil {
		return
	}
	if a.tx != nil {
		_ = a.tx.Rollback()
	}
	_ = a.db.Close()
}

// entry follows an entry that is good by itself.
func (a *columnsAudit) entry(ctx context.Context, e record.Entry, doc record.Document) error {
	if a == nil || a.seq == a.file.seq {
		return nil
	}
	var run *record.Run
	if r, closing := doc.(record.Run); closing {
		run = &r
	}
	err := a.step(e, run, func() error { return a.compare(ctx) })
	if err == nil && a.seq == a.file.seq {
		err = a.end(ctx)
	}
	if errors.Is(err, ErrColumnsDamaged) {
		err = fmt.Errorf("%s, which the next question would read: %w: %w", a.file.path, ErrColumns, err)
	}
	return err
}

// compare holds the block that is being filled against the file.
func (a *columnsAudit) compare(ctx context.Context) error {
	rows, err := a.tx.QueryContext(ctx, "select col, low, high, data from blocks where number = $1", a.number())
	if err != nil {
		return err
	}
	defer rows.Close()
	found := 0
	for ; rows.Next(); found++ {
		var col uint32
		var got block
		if err := rows.Scan(&col, &got.low, &got.high, &got.data); err != nil {
			return err
		}
		want := a.tail[col]
		if want == nil || got.low != want.low || got.high != want.high || !bytes.Equal(got.data, want.data) {
			return fmt.Errorf("block %d of column %d: %w", a.number(), col, ErrColumnsDamaged)
		}
	}
	if found != len(a.tail) {
		return fmt.Errorf("block %d has %d columns, not %d: %w", a.number(), found, len(a.tail), ErrColumnsDamaged)
	}
	return rows.Err()
}

// end holds the last block, the texts and the count of runs against the file.
func (a *columnsAudit) end(ctx context.Context) error {
	if a.runs != a.file.runs || !slices.Equal(a.dict.names, a.file.dict.names) {
		return fmt.Errorf("texts, or %d runs where the entries have %d: %w", a.file.runs, a.runs, ErrColumnsDamaged)
	}
	var blocks, last int
	if err := a.tx.QueryRowContext(ctx, "select count(distinct number), coalesce(max(number), -1) from blocks").Scan(&blocks, &last); err != nil {
		return err
	}
	if want := (a.runs + blockRuns - 1) / blockRuns; blocks != want || last != want-1 {
		return fmt.Errorf("%d blocks where the entries have %d: %w", blocks, want, ErrColumnsDamaged)
	}
	if len(a.tail) == 0 {
		return nil
	}
	return a.compare(ctx)
}
