package ledger

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"

	"sinkproof/reports/record"
)

// Simulate commits many records of a twin, each with its opening, in the order
// given: a ledger of a size that a line would fill in years. They are signed and
// chained like any others. Nobody waits for one of them, so a batch is one
// transaction, and the next one is sealed while it is written. The columns beside the
// ledger are made on the way, where they have followed so far. done is told how many
// records are on the disk.
//
// Only first runs of serials that the ledger does not hold yet come in this way;
// whether that is so is for Verify to say. It wraps ErrTwin for a record that is
// not a twin's, record.ErrInvalid, a trouble of the store, or what batches yields;
// nothing of that batch was written then.
func (l *Ledger) Simulate(ctx context.Context, batches iter.Seq2[[]record.Run, error], done func(records int)) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	doing := "ledger " + l.path + ": add simulated records"
	if !l.known {
		if err := l.findHead(ctx); err != nil {
			return explain(doing, err)
		}
	}
	cols, err := openColumns(ctx, columnsBeside(l.path))
	if err != nil {
		return explain(doing, err)
	}
	defer cols.Close()
	ctx, stop := context.WithCancel(ctx)
	sealed := make(chan batch, 1)
	go l.sealBatches(ctx, batches, sealed)
	defer func() {
		stop()
		for range sealed { // until the sealing has ended
		}
	}()
	records := 0
	for b := range sealed {
		if b.err != nil {
			return explain(doing, b.err)
		}
		if err := l.commit(ctx, b.entries, b.docs); err != nil {
			l.known = false
			return explain(doing, cmp.Or(ctx.Err(), err))
		}
		l.head = &b.entries[len(b.entries)-1]
		if err := l.inStep(ctx, cols, b); err != nil {
			return explain(doing+": make the columns", cmp.Or(ctx.Err(), err))
		}
		records += len(b.docs) / 2
		done(records)
	}
	return explain(doing, ctx.Err())
}

// inStep lets columns follow a batch that was committed, unless they are behind: who
// opens them next lets them catch up.
func (l *Ledger) inStep(ctx context.Context, cols *columns, b batch) error {
	tx, err := cols.begin(ctx, l.fits(ctx))
	if err != nil {
		return err
	}
	if cols.seq+1 != b.entries[0].Seq {
		return tx.Rollback()
	}
	for i, e := range b.entries {
		var run *record.Run
		if r, closing := b.docs[i].(record.Run); closing {
			run = &r
		}
		if err := cols.follows(ctx, tx, e, run); err != nil {
			return errors.Join(err, tx.Rollback())
		}
	}
	return cols.end(ctx, tx)
}

// batch is some sealed entries with their documents, or why there are none.
type batch struct {
	entries []record.Entry
	docs    []record.Document
	err     error
}

// sealBatches seals the records behind the head until there are no more, one is
// refused, or the context ends.
func (l *Ledger) sealBatches(ctx context.Context, batches iter.Seq2[[]record.Run, error], into chan<- batch) {
	defer close(into)
	head := l.head
	for runs, err := range batches {
		b := batch{err: err}
		if b.err == nil {
			b.docs, b.err = simulated(runs)
		}
		if b.err == nil && len(b.docs) == 0 {
			continue
		}
		if b.err == nil {
			b.entries, b.err = record.SealAll(head, b.docs, l.key)
		}
		select {
		case into <- b:
		case <-ctx.Done():
			return
		}
		if b.err != nil {
			return
		}
		head = &b.entries[len(b.entries)-1]
	}
}

// simulated are the documents of records that may come in by the many.
func simulated(runs []record.Run) ([]record.Document, error) {
	docs := make([]record.Document, 0, 2*len(runs))
	for _, r := range runs {
		if r.Bench.Kind != record.Twin || r.Attempt != 1 {
			return nil, fmt.Errorf("attempt %d of serial %q on bench %q, kind %q: only first runs of a twin come in by the many: %w",
				r.Attempt, r.Serial, r.Bench.Name, r.Bench.Kind, ErrTwin)
		}
		docs = append(docs, r.Opening, r)
	}
	return docs, nil
}
