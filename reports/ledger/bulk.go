package ledger

import (
	"context"
	"fmt"

	"sinkproof/reports/record"
)

// Simulate commits many records of a twin at once, each with its opening, in the
// order given: a ledger of a size that a line would fill in years. They are
// signed and chained like any others. Only first runs of serials that the ledger
// does not hold yet come in this way; whether that is so is for Verify to say. It
// wraps ErrTwin for a record that is not a twin's, record.ErrInvalid or a
// trouble of the store; nothing was written then.
func (l *Ledger) Simulate(ctx context.Context, runs []record.Run) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	doing := "ledger " + l.path + ": add simulated records"
	docs := make([]record.Document, 0, 2*len(runs))
	for _, r := range runs {
		if r.Bench.Kind != record.Twin || r.Attempt != 1 {
			return fmt.Errorf("%s: attempt %d of serial %q on bench %q, kind %q: only first runs of a twin come in by the many: %w",
				doing, r.Attempt, r.Serial, r.Bench.Name, r.Bench.Kind, ErrTwin)
		}
		docs = append(docs, r.Opening, r)
	}
	_, err := l.appendAll(ctx, docs...)
	return explain(doing, err)
}
