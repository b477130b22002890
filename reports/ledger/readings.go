package ledger

import (
	"context"
	"fmt"
	"iter"
	"time"

	"sinkproof/reports/record"
)

// Question asks what one check found on many units. Empty members ask for all.
type Question struct {
	Check                  string
	Product, Lot, Supplier string
	// Since leaves out what was started before; the zero time leaves out
	// nothing.
	Since time.Time
	// First leaves out all runs of a serial but the first, so that a retest
	// does not count a unit twice.
	First bool
}

// Found is what a check found in one run.
type Found struct {
	record.Opening
	Check record.Check
	// Suspect tells that a golden unit has put the record under a suspicion that
	// nobody withdrew.
	Suspect bool
}

// Readings yields the check of every closed run that fits the question and put
// it, in the order of the chain, unanswered ones and such without a value
// included. Ties to nothing but the records: interrupted runs have none.
func (v *View) Readings(ctx context.Context, q Question) iter.Seq2[Found, error] {
	doing := fmt.Sprintf("ledger %s: read the values of check %q", v.path, q.Check)
	return func(yield func(Found, error) bool) {
		suspects, err := v.Suspects(ctx)
		if err != nil {
			yield(Found{}, err)
			return
		}
		query, args := q.query()
		rows, err := v.db.QueryContext(ctx, query, args...)
		if err != nil {
			yield(Found{}, explain(doing, err))
			return
		}
		defer rows.Close()
		for rows.Next() {
			var data []byte
			err := rows.Scan(&data)
			var run record.Run
			if err == nil {
				run, err = closedRun(data)
			}
			if err != nil {
				yield(Found{}, explain(doing, err))
				return
			}
			for _, c := range run.Checks {
				if c.Name == q.Check && !yield(Found{run.Opening, c, standing(suspects[run.ID])}, nil) {
					return
				}
			}
		}
		if err := rows.Err(); err != nil {
			yield(Found{}, explain(doing, err))
		}
	}
}

// query is the statement with its arguments, in the dialect that both engines
// share.
func (q Question) query() (string, []any) {
	text := "select e.entry from history h join entries e on e.seq = h.seq where h.kind = $1"
	args := []any{string(record.RunClosed)}
	also := func(condition string, value any) {
		args = append(args, value)
		text += fmt.Sprintf(" and h.%s $%d", condition, len(args))
	}
	for _, c := range []struct{ column, value string }{
		{"product", q.Product}, {"lot", q.Lot}, {"supplier", q.Supplier},
	} {
		if c.value != "" {
			also(c.column+" =", c.value)
		}
	}
	if !q.Since.IsZero() {
		also("started_us >=", q.Since.UnixMicro())
	}
	if q.First {
		also("attempt =", int64(1))
	}
	return text + " order by h.seq", args
}

// closedRun decodes the record in an entry.
func closedRun(data []byte) (record.Run, error) {
	e, err := record.DecodeEntry(data)
	if err != nil {
		return record.Run{}, err
	}
	return record.DecodeRun(e.Body)
}
