package ledger

import (
	"context"
	"fmt"
	"time"

	"sinkproof/reports/record"
)

// Calibrate commits a calibration. It wraps ErrRun when the ledger holds its id
// already, record.ErrInvalid, or a trouble of the store.
func (l *Ledger) Calibrate(ctx context.Context, c record.Calibration) (record.Entry, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	doing := fmt.Sprintf("ledger %s: keep calibration %s", l.path, c.ID)
	if err := unknown(ctx, l.w, c.ID); err != nil {
		return record.Entry{}, explain(doing, err)
	}
	e, err := l.append(ctx, c)
	return e, explain(doing, err)
}

// Calibrations returns every calibration of a bench in the order of the chain,
// the last one last.
func (v *View) Calibrations(ctx context.Context, bench record.Bench) ([]record.Calibration, error) {
	doing := fmt.Sprintf("ledger %s: read the calibrations of %s", v.path, bench.Name)
	rows, err := v.db.QueryContext(ctx, `select e.entry from history h join entries e on e.seq = h.seq
		where h.kind = $1 and `+rare+` and h.bench = $2 and h.bench_kind = $3 order by h.seq`,
		string(record.CalibrationMade), bench.Name, bench.Kind)
	if err != nil {
		return nil, explain(doing, err)
	}
	defer rows.Close()
	var list []record.Calibration
	for rows.Next() {
		var data []byte
		if err := rows.Scan(&data); err != nil {
			return nil, explain(doing, err)
		}
		e, err := record.DecodeEntry(data)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", doing, err)
		}
		c, err := record.DecodeCalibration(e.Body)
		if err != nil {
			return nil, fmt.Errorf("%s: entry %d: %w", doing, e.Seq, err)
		}
		list = append(list, c)
	}
	return list, explain(doing, rows.Err())
}

// Latest is the latest wall-clock instant that any entry begins with, from the
// last time on that the clock was set; the zero Time in an empty ledger. A clock
// that shows less cannot be trusted.
func (v *View) Latest(ctx context.Context) (time.Time, error) {
	var us int64
	err := v.db.QueryRowContext(ctx, `select coalesce(max(started_us), 0) from history
		where seq >= (select coalesce(max(seq), 0) from history where kind = $1)`, string(record.ClockSet)).Scan(&us)
	if err != nil || us == 0 {
		return time.Time{}, explain("ledger "+v.path+": read the latest instant", err)
	}
	return time.UnixMicro(us).UTC(), nil
}
