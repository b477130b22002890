package ledger

import (
	"context"
	"fmt"
	"iter"

	"sinkproof/reports/record"
)

// Kept is the record of a run as the ledger holds it.
type Kept struct {
	record.Run
	// Seq is the number of the entry that closed the run.
	Seq int64
	// Suspect tells that a golden unit has put the record under a suspicion that
	// nobody withdrew.
	Suspect bool
}

// Records yields the record of every closed run that fits the question, in the
// order of the chain, each read once however many checks are asked about. The
// question's check is not looked at.
func (v *View) Records(ctx context.Context, q Question) iter.Seq2[Kept, error] {
	doing := "ledger " + v.path + ": read records"
	return func(yield func(Kept, error) bool) {
		suspects, err := v.Suspects(ctx)
		if err != nil {
			yield(Kept{}, err)
			return
		}
		query, args := q.query()
		rows, err := v.db.QueryContext(ctx, query, args...)
		if err != nil {
			yield(Kept{}, explain(doing, err))
			return
		}
		defer rows.Close()
		for rows.Next() {
			kept, err := scanKept(rows.Scan)
			if err != nil {
				yield(Kept{}, explain(doing, err))
				return
			}
			kept.Suspect = standing(suspects[kept.ID])
			if !yield(kept, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(Kept{}, explain(doing, err))
		}
	}
}

func scanKept(scan func(...any) error) (Kept, error) {
	var data []byte
	if err := scan(&data); err != nil {
		return Kept{}, err
	}
	e, err := record.DecodeEntry(data)
	if err != nil {
		return Kept{}, err
	}
	r, err := record.DecodeRun(e.Body)
	if err != nil {
		return Kept{}, fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	return Kept{Run: r, Seq: e.Seq}, nil
}
