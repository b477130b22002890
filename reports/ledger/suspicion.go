package ledger

import (
	"context"
	"fmt"

	"sinkproof/reports/record"
)

// Suspicion is a suspicion with what became of it.
type Suspicion struct {
	record.Suspicion
	// Entry is the number of the entry that holds it.
	Entry int64
	// Withdrawn is set once a named person has withdrawn it.
	Withdrawn *record.Withdrawal
}

// Suspicions returns every suspicion in the order of the chain, withdrawn ones
// included.
func (v *View) Suspicions(ctx context.Context) ([]Suspicion, error) {
	docs, err := v.documents(ctx, record.Bench{}, record.SuspicionRaised, record.SuspicionWithdrawn)
	if err != nil {
		return nil, explain("ledger "+v.path+": read the suspicions", err)
	}
	var list []Suspicion
	for _, d := range docs {
		switch doc := d.Document.(type) {
		case record.Suspicion:
			list = append(list, Suspicion{Suspicion: doc, Entry: d.seq})
		case record.Withdrawal:
			for i := range list {
				if list[i].Run == doc.Run {
					list[i].Withdrawn = &doc
				}
			}
		}
	}
	return list, nil
}

// Suspects returns the suspicions that fall on each record, by the id of its
// run, withdrawn ones included.
func (v *View) Suspects(ctx context.Context) (map[string][]Suspicion, error) {
	all, err := v.Suspicions(ctx)
	if err != nil {
		return nil, err
	}
	by := map[string][]Suspicion{}
	for _, s := range all {
		for _, x := range s.Suspects {
			by[x.Run] = append(by[x.Run], s)
		}
	}
	return by, nil
}

// Withdraw commits that the records of a suspicion stand after all. It wraps
// ErrRun when there is no such suspicion, or none any more, record.ErrInvalid
// or a trouble of the store.
func (l *Ledger) Withdraw(ctx context.Context, w record.Withdrawal) (record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	doing := fmt.Sprintf("ledger %s: withdraw the suspicion from golden run %s", l.path, w.Run)
	all, err := l.Suspicions(ctx)
	if err != nil {
		return record.Entry{}, fmt.Errorf("%s: %w", doing, err)
	}
	standing := false
	for _, s := range all {
		if s.Run != w.Run {
			continue
		}
		if s.Withdrawn != nil {
			return record.Entry{}, fmt.Errorf("%s: %s withdrew it: %w", doing, s.Withdrawn.By, ErrRun)
		}
		standing = true
	}
	if !standing {
		return record.Entry{}, fmt.Errorf("%s: there is none: %w", doing, ErrRun)
	}
	e, err := l.append(ctx, w)
	return e, explain(doing, err)
}

// SetClock commits that the clock was set: Latest takes no account of entries
// before this one. It wraps record.ErrInvalid or a trouble of the store.
func (l *Ledger) SetClock(ctx context.Context, c record.Clock) (record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	e, err := l.append(ctx, c)
	return e, explain("ledger "+l.path+": set the clock", err)
}
