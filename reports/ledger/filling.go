package ledger

import (
	"fmt"

	"sinkproof/reports/record"
)

// filling is columns that are being filled, up to an entry of the chain.
type filling struct {
	dict *dictionary
	// runs counts the runs; seq and hash are those of the last entry that was
	// followed, 0 and record.Genesis for none.
	runs int
	seq  int64
	hash string
	// tail holds the columns of the last block, which is not full.
	tail map[uint32]*block
}

// block is a column of some runs: what it holds, and the instants between which they
// were started.
type block struct {
	low, high int64
	data      []byte
}

// blockRuns is how many runs a block holds. At 16 bytes a value a block is 64 KiB:
// large enough to read fast, small enough to write anew with every run.
const blockRuns = 4096

func newFilling() filling {
	return filling{dict: newDictionary(), hash: record.Genesis, tail: map[uint32]*block{}}
}

// column returns the block of a column that is being filled.
func (f *filling) column(col uint32, at int64) *block {
	b := f.tail[col]
	if b == nil {
		b = &block{low: at, high: at}
		f.tail[col] = b
	}
	b.low, b.high = min(b.low, at), max(b.high, at)
	return b
}

// step follows one entry. Entries must come in the order of the chain; run is the
// record of one that closes a run. full is called when the tail is full, before it is
// begun anew.
func (f *filling) step(e record.Entry, run *record.Run, full func() error) error {
	if e.Seq != f.seq+1 || e.Previous != f.hash {
		return fmt.Errorf("entry %d stands where entry %d after %.12s… belongs: %w", e.Seq, f.seq+1, f.hash, record.ErrMisplaced)
	}
	f.seq, f.hash = e.Seq, e.Hash
	if run == nil {
		return nil
	}
	if err := f.take(*run, e.Seq); err != nil || f.runs%blockRuns != 0 {
		return err
	}
	err := full()
	f.tail = map[uint32]*block{}
	return err
}

// number is that of the block that is being filled.
func (f *filling) number() int { return (f.runs - 1) / blockRuns }

// take adds a run to the tail.
func (f *filling) take(r record.Run, seq int64) error {
	at, place := microseconds(r.Started), uint16(f.runs%blockRuns)
	b := f.column(runColumn, at)
	b.data = f.dict.runRow(b.data, r, seq, at)
	s := f.column(serialColumn, at)
	s.data = append(append(s.data, byte(len(r.Serial))), r.Serial...)
	id := f.column(idColumn, at)
	var err error
	if id.data, err = idRow(id.data, r.ID); err != nil {
		return err
	}
	for _, check := range r.Checks {
		col := f.dict.code(checkText + check.Name)
		if check.Answer == record.Failed {
			x := f.column(failColumn, at)
			x.data = failRow(x.data, place, col)
		}
		x := f.column(col, at)
		x.data = f.dict.valueRow(x.data, place, check)
	}
	f.runs++
	return nil
}
