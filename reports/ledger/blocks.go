package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// picked selects runs.
type picked struct {
	from, to               int64
	product, lot, supplier uint32
	first                  bool
	suspects               map[int64]bool
	// never tells that a text is asked for which no run has.
	never bool
}

// pick prepares a question.
func (v *Values) pick(ctx context.Context, q Question) (picked, error) {
	p := picked{first: q.First, suspects: map[int64]bool{}}
	p.from, p.to = q.microseconds()
	for _, c := range []struct {
		text string
		into *uint32
	}{{q.Product, &p.product}, {q.Lot, &p.lot}, {q.Supplier, &p.supplier}} {
		if c.text == "" {
			continue
		}
		code, known := v.cols.dict.codes[c.text]
		*c.into, p.never = code, p.never || !known
	}
	suspicions, err := v.view.Suspicions(ctx)
	for _, s := range suspicions {
		if s.Withdrawn != nil {
			continue
		}
		for _, x := range s.Suspects {
			p.suspects[x.Seq] = true
		}
	}
	return p, err
}

// wants tells whether the row of a run is asked for.
func (p picked) wants(row []byte) bool {
	at := rowStarted(row)
	return at >= p.from && at < p.to &&
		(p.product == 0 || p.product == rowText(row, 0)) && (p.lot == 0 || p.lot == rowText(row, 1)) &&
		(p.supplier == 0 || p.supplier == rowText(row, 2)) && (!p.first || rowAttempt(row) == 1)
}

// suspect tells whether a record is under a suspicion.
func (p picked) suspect(row []byte) bool { return len(p.suspects) > 0 && p.suspects[rowSeq(row)] }

// runBlock is a block of runs with the columns that were asked for.
type runBlock struct {
	// runs counts the runs, which is what other programs may have added to since.
	runs  int
	data  map[uint32][]byte
	names [][]byte
}

// blocks reads the blocks that may hold runs which are asked for, in their order:
// the runs themselves and some columns.
func (v *Values) blocks(ctx context.Context, p picked, cols []uint32, take func(runBlock) error) error {
	if p.never {
		return nil
	}
	numbers, err := v.numbers(ctx, p)
	if err != nil || len(numbers) == 0 {
		return damagedColumns(err)
	}
	read, err := v.cols.db.PrepareContext(ctx, "select sum, data from blocks where col = $1 and number = $2")
	if err != nil {
		return err
	}
	defer read.Close()
	b := runBlock{data: map[uint32][]byte{}}
	for _, number := range numbers {
		for _, col := range append([]uint32{runColumn}, cols...) {
			if b.data[col], err = v.block(ctx, read, col, number); err != nil {
				return damagedColumns(err)
			}
		}
		b.runs = min(blockRuns, v.cols.runs-number*blockRuns)
		if err := b.check(); err != nil {
			return fmt.Errorf("block %d: %w", number, err)
		}
		if err := take(b); err != nil {
			return err
		}
	}
	return nil
}

// damagedColumns tells damage of the columns from damage of the ledger, which has a
// database of its own.
func damagedColumns(err error) error {
	if errors.Is(sentinelOf(err), ErrDamaged) {
		return fmt.Errorf("%w: %s", ErrColumnsDamaged, err.Error())
	}
	return err
}

// numbers are the blocks that may hold runs which are asked for.
func (v *Values) numbers(ctx context.Context, p picked) ([]int, error) {
	rows, err := v.cols.db.QueryContext(ctx, "select number from blocks where col = $1 and high >= $2 and low < $3 and number * $4 < $5 order by number",
		runColumn, p.from, p.to, blockRuns, v.cols.runs)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []int
	for rows.Next() {
		var n int
		if err := rows.Scan(&n); err != nil {
			return nil, err
		}
		list = append(list, n)
	}
	return list, rows.Err()
}

// block reads a block of a column; nil where it has none.
func (v *Values) block(ctx context.Context, read *sql.Stmt, col uint32, number int) ([]byte, error) {
	rows, err := read.QueryContext(ctx, col, number)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var data []byte
	for rows.Next() {
		var sum int64
		if err := rows.Scan(&sum, &data); err != nil {
			return nil, err
		}
		if checksum(col, number, data) != sum {
			return nil, fmt.Errorf("block %d of column %d: %w", number, col, ErrColumnsDamaged)
		}
	}
	return data, rows.Err()
}

// check demands that the runs are there, with their names where they were read.
func (b *runBlock) check() error {
	if len(b.data[runColumn]) < b.runs*runSize || b.data[idColumn] != nil && len(b.data[idColumn]) < b.runs*idSize {
		return fmt.Errorf("runs are missing: %w", ErrColumnsDamaged)
	}
	b.names = b.names[:0]
	for serials := b.data[serialColumn]; len(serials) > 0 && len(serials) > int(serials[0]); serials = serials[1+int(serials[0]):] {
		b.names = append(b.names, serials[1:1+int(serials[0])])
	}
	if b.data[serialColumn] != nil && len(b.names) < b.runs {
		return fmt.Errorf("serials are missing: %w", ErrColumnsDamaged)
	}
	return nil
}

// row is the row of a run of the block.
func (b runBlock) row(i int) []byte { return b.data[runColumn][i*runSize : (i+1)*runSize] }

// read reads a run of the block, with its names where they were asked for.
func (b runBlock) read(d *dictionary, i int, t *Tested) error {
	if err := d.readRun(b.row(i), t); err != nil {
		return err
	}
	if len(b.names) > 0 {
		t.Serial = string(b.names[i])
	}
	if ids := b.data[idColumn]; ids != nil {
		t.ID = readID(ids[i*idSize : (i+1)*idSize])
	}
	return nil
}

// each gives every row of a column with that of its run to take.
func (b runBlock) each(col uint32, size int, take func(run, row []byte) error) error {
	data := b.data[col]
	for i := 0; i+size <= len(data); i += size {
		row := data[i : i+size]
		place := rowPlace(row)
		if place >= b.runs {
			return nil // of runs that were added since
		}
		if err := take(b.row(place), row); err != nil {
			return err
		}
	}
	return nil
}

// all gives every run that is picked with the answers of its checks.
func (b runBlock) all(p picked, checks []uint32, terms *termsReader, take func(*Tested, []Answered) error) error {
	var t Tested
	var answers []Answered
	next := make([]int, len(checks))
	for i := range b.runs {
		answers = answers[:0]
		wanted := p.wants(b.row(i))
		for k, col := range checks {
			data := b.data[col]
			for ; next[k]+valueSize <= len(data) && rowPlace(data[next[k]:]) == i; next[k] += valueSize {
				if !wanted {
					continue
				}
				a, err := terms.answered(data[next[k] : next[k]+valueSize])
				if err != nil {
					return err
				}
				answers = append(answers, a)
			}
		}
		if !wanted {
			continue
		}
		if err := b.read(terms.dict, i, &t); err != nil {
			return err
		}
		t.Suspect = p.suspect(b.row(i))
		if err := take(&t, answers); err != nil {
			return err
		}
	}
	return nil
}

// termsReader reads terms, each once.
type termsReader struct {
	dict *dictionary
	seen map[uint32]*Terms
}

// answered reads the row of a check.
func (r *termsReader) answered(row []byte) (Answered, error) {
	code := rowCode(row)
	t := r.seen[code]
	if t == nil {
		var err error
		if t, err = r.dict.readTerms(code); err != nil {
			return Answered{}, err
		}
		r.seen[code] = t
	}
	if int(row[2]) >= len(answerCodes()) {
		return Answered{}, fmt.Errorf("answer %d: %w", row[2], ErrColumnsDamaged)
	}
	return Answered{Terms: t, Answer: answerCodes()[row[2]], Value: rowValue(row), Bounded: row[3] == isBound}, nil
}
