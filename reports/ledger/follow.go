package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"sinkproof/reports/record"
)

// followed is how many entries are followed in one transaction of the columns: some
// seconds' work, which is not lost when somebody loses patience.
const followed = 32_768

// chunk is how many entries are read before they are skimmed side by side.
const chunk = 512

// fits tells whether the ledger has the entry up to which columns were made.
func (v *View) fits(ctx context.Context) func(seq int64, hash string) error {
	return func(seq int64, hash string) error {
		var data []byte
		err := v.db.QueryRowContext(ctx, "select entry from entries where seq = $1", seq).Scan(&data)
		if errors.Is(err, sql.ErrNoRows) {
			return fmt.Errorf("entry %d: %w", seq, errStale)
		}
		if err != nil {
			return err
		}
		var s record.Skimmer
		e, err := s.Entry(data)
		if err != nil || e.Seq != seq || e.Hash != hash {
			return fmt.Errorf("entry %d: %w", seq, errStale)
		}
		return nil
	}
}

// last is the number of the last entry.
func (v *View) last(ctx context.Context) (int64, error) {
	var seq int64
	err := v.db.QueryRowContext(ctx, "select coalesce(max(seq), 0) from entries").Scan(&seq)
	return seq, err
}

// follow brings columns up to the end of the ledger. It takes the entries
// themselves, each held against its hash and the entry before. told is told how many
// there are, unless there are none or it is nil.
func (c *columns) follow(ctx context.Context, v *View, told func(entries int64)) error {
	last, err := v.last(ctx)
	if err != nil {
		return err
	}
	err = c.load(ctx, c.db, v.fits(ctx))
	for err != nil || c.seq < last {
		if err != nil && !errors.Is(err, errStale) && !errors.Is(err, ErrColumnsDamaged) {
			return err
		}
		if err != nil {
			c.dict = nil // what was read is not to be trusted
		}
		tx, begun := c.begin(ctx, v.fits(ctx))
		if begun != nil {
			return begun
		}
		if told != nil && c.seq < last {
			told(last - c.seq)
			told = nil
		}
		if err := c.followSome(ctx, tx, v, min(last, c.seq+followed)); err != nil {
			return errors.Join(err, tx.Rollback())
		}
		if err := c.end(ctx, tx); err != nil {
			return err
		}
		err = nil
	}
	return nil
}

// skimmed is an entry with its record, where it closes a run.
type skimmed struct {
	record.Entry
	run *record.Run
	err error
}

// followSome follows the entries up to a number.
func (c *columns) followSome(ctx context.Context, tx *sql.Tx, v *View, upTo int64) error {
	reading, stop := context.WithCancel(ctx)
	from := c.seq
	read := make(chan []skimmed, 2)
	failed := make(chan error, 1)
	go func() {
		defer close(read)
		failed <- v.skimAll(reading, from, upTo, read)
	}()
	var err error
	for list := range read {
		for i := 0; i < len(list) && err == nil; i++ {
			x := &list[i]
			if err = x.err; err == nil {
				err = c.follows(ctx, tx, x.Entry, x.run)
			}
		}
		if err != nil {
			stop() // and read on until the reader has ended
		}
	}
	stop()
	return errors.Join(err, <-failed, ctx.Err())
}

// skimAll reads the entries after one number up to another.
func (v *View) skimAll(ctx context.Context, after, upTo int64, into chan<- []skimmed) error {
	rows, err := v.db.QueryContext(ctx, "select entry from entries where seq > $1 and seq <= $2 order by seq", after, upTo)
	if err != nil {
		return err
	}
	defer rows.Close()
	var skimmers [8]record.Skimmer
	for more := true; more; {
		stored := make([][]byte, 0, chunk)
		for len(stored) < chunk {
			if more = rows.Next(); !more {
				break
			}
			var data []byte
			if err := rows.Scan(&data); err != nil {
				return err
			}
			stored = append(stored, data)
		}
		list := make([]skimmed, len(stored))
		part := (len(stored) + len(skimmers) - 1) / len(skimmers)
		record.Spread(len(skimmers), func(k int) {
			for i := k * part; i < min(len(stored), (k+1)*part); i++ {
				list[i] = skim(&skimmers[k], stored[i])
			}
		})
		select {
		case into <- list:
		case <-ctx.Done():
			return nil // the cause is told by who stopped it
		}
	}
	return rows.Err()
}

func skim(s *record.Skimmer, data []byte) skimmed {
	e, err := s.Entry(data)
	if err != nil || e.Kind != record.RunClosed {
		return skimmed{Entry: e, err: err}
	}
	run, err := s.Run(e.Body)
	if err != nil {
		err = fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	e.Body = nil
	return skimmed{e, &run, err}
}
