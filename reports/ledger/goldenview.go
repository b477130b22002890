package ledger

import (
	"context"
	"fmt"
	"iter"
	"slices"

	"sinkproof/reports/record"
)

// GoldenUnits returns the golden units of a bench in the order in which they
// were registered, retired ones included. An empty name of the bench stands for
// all.
func (v *View) GoldenUnits(ctx context.Context, bench record.Bench) ([]GoldenUnit, error) {
	doing := "ledger " + v.path + ": read the golden units"
	docs, err := v.documents(ctx, bench, record.GoldenRegistered, record.GoldenRetired)
	if err != nil {
		return nil, explain(doing, err)
	}
	var list []GoldenUnit
	for _, d := range docs {
		switch doc := d.Document.(type) {
		case record.Golden:
			list = append(list, GoldenUnit{Golden: doc, Seq: d.seq})
		case record.GoldenRetirement:
			for i := range list {
				if list[i].ID == doc.Golden {
					list[i].Retired = &doc
				}
			}
		}
	}
	for i := range list {
		if list[i].Retired != nil {
			continue
		}
		if err := list[i].find(ctx, v.db); err != nil {
			return nil, explain(doing, fmt.Errorf("golden unit %q: %w", list[i].Serial, err))
		}
	}
	return list, nil
}

// LatestGoldenRuns yields the runs of a golden unit since its registration, the
// latest one first.
func (v *View) LatestGoldenRuns(ctx context.Context, g GoldenUnit) iter.Seq2[GoldenRun, error] {
	return func(yield func(GoldenRun, error) bool) {
		for run, err := range backwards(ctx, v.db, g.Serial, g.Seq) {
			if !yield(run, explain(fmt.Sprintf("ledger %s: read the runs of golden unit %q", v.path, g.Serial), err)) {
				return
			}
		}
	}
}

// GoldenRuns returns the runs of a golden unit since its registration, the
// first one first.
func (v *View) GoldenRuns(ctx context.Context, g GoldenUnit) ([]GoldenRun, error) {
	var list []GoldenRun
	for run, err := range v.LatestGoldenRuns(ctx, g) {
		if err != nil {
			return nil, err
		}
		list = append(list, run)
	}
	slices.Reverse(list)
	return list, nil
}

// placed is a document with the number of its entry.
type placed struct {
	record.Document
	seq int64
}

// documents reads what the entries of two kinds hold, in the order of the
// chain. An empty name of the bench stands for all.
func (v *View) documents(ctx context.Context, bench record.Bench, one, other record.Kind) ([]placed, error) {
	rows, err := v.db.QueryContext(ctx, `select e.entry from history h join entries e on e.seq = h.seq
		where h.kind in ($1, $2) and `+rare+` and ($3 = '' or h.bench = $3 and h.bench_kind = $4) order by h.seq`,
		string(one), string(other), bench.Name, bench.Kind)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []placed
	for rows.Next() {
		var data []byte
		if err := rows.Scan(&data); err != nil {
			return nil, err
		}
		e, err := record.DecodeEntry(data)
		if err != nil {
			return nil, err
		}
		doc, err := e.Document()
		if err != nil {
			return nil, fmt.Errorf("entry %d: %w", e.Seq, err)
		}
		list = append(list, placed{doc, e.Seq})
	}
	return list, rows.Err()
}
