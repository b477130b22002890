package ledger

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sinkproof/reports/record"
)

// Values answer questions about many runs. They read columns beside the ledger,
// which follow it when they are opened, are made anew where they do not fit it, and
// prove nothing.
type Values struct {
	view *View
	cols *columns
	// folder holds the columns where the ledger's own folder cannot be written;
	// empty otherwise.
	folder string
	// told is told how many entries the columns are behind; nil for nobody.
	told func(entries int64)
}

// OpenValues opens the values of a ledger. In a folder that cannot be written
// columns that are there already are read; where they fall short others are made in
// a temporary folder, anew each time. told, unless it is nil, is told beforehand how
// many entries they are behind. It wraps what OpenView wraps, and record.ErrAltered, record.ErrForm or record.ErrMisplaced for an entry that is not
// what was written.
func OpenValues(ctx context.Context, path string, told func(entries int64)) (*Values, error) {
	doing := "ledger " + path + ": read the values by column"
	view, err := OpenView(ctx, path)
	if err != nil {
		return nil, err
	}
	v := &Values{view: view, told: told}
	if err := v.open(ctx); err != nil {
		return nil, explain(doing, errors.Join(err, v.Close()))
	}
	return v, nil
}

// Close gives the values back. Safe to call twice.
func (v *Values) Close() error {
	err := v.view.Close()
	if v.cols != nil {
		err = errors.Join(err, v.cols.Close())
	}
	if v.folder != "" {
		err = errors.Join(err, os.RemoveAll(v.folder))
	}
	return err
}

// columnsBeside is the name of the file of columns of a ledger.
func columnsBeside(path string) string { return path + "-values" }

// open opens the columns and lets them follow.
func (v *Values) open(ctx context.Context) error {
	path := columnsBeside(v.view.path)
	err := v.openAt(ctx, path)
	if sentinel := sentinelOf(err); errors.Is(sentinel, ErrNotLedger) || errors.Is(sentinel, ErrDamaged) {
		// No database, or a broken one: made again.
		if err = v.cols.remove(); err == nil {
			err = v.openAt(ctx, path)
		}
	}
	if !errors.Is(sentinelOf(err), ErrAccess) {
		return err
	}
	if v.openReadOnly(ctx, path) == nil {
		return nil
	}
	if v.folder, err = os.MkdirTemp("", "sinkproof-values-"); err != nil {
		return err
	}
	return v.openAt(ctx, filepath.Join(v.folder, "values"))
}

func (v *Values) openAt(ctx context.Context, path string) error {
	if v.cols != nil {
		if err := v.cols.Close(); err != nil {
			return err
		}
	}
	var err error
	if v.cols, err = openColumns(ctx, path); err != nil {
		return err
	}
	return v.cols.follow(ctx, v.view, v.told)
}

// openReadOnly takes columns as they are, where nothing is missing in them.
func (v *Values) openReadOnly(ctx context.Context, path string) error {
	if err := exists(path); err != nil {
		return err
	}
	if !closedInOrder(path) {
		return errStale
	}
	if err := v.cols.Close(); err != nil {
		return err
	}
	db, err := connectReader(path, "immutable", "1")
	if err != nil {
		return err
	}
	v.cols = &columns{path: path, db: db}
	last, err := v.view.last(ctx)
	if err == nil {
		err = v.cols.load(ctx, db, v.view.fits(ctx))
	}
	if err == nil && v.cols.seq != last {
		err = errStale
	}
	return err
}

// Yield counts runs by what became of them.
type Yield struct {
	Runs, Passed, Failed, NoVerdict int
	// First counts those of them that are first runs of their serial.
	First, FirstPassed int
	// Twin counts those of them that a twin made.
	Twin int
}

// Failing is a check with the number of runs that it failed in.
type Failing struct {
	Check string `json:"check"`
	Runs  int    `json:"runs"`
}

// Yield counts the runs that fit the question, whose check is not looked at. Records
// under a suspicion are left out.
func (v *Values) Yield(ctx context.Context, q Question) (Yield, error) {
	var y Yield
	p, err := v.pick(ctx, q)
	if err == nil {
		err = v.blocks(ctx, p, nil, func(b runBlock) error {
			for i := range b.runs {
				if row := b.row(i); p.wants(row) && !p.suspect(row) {
					y.add(row)
				}
			}
			return nil
		})
	}
	return y, v.explain("count the yield", err)
}

func (y *Yield) add(row []byte) {
	y.Runs++
	if rowFlags(row)&twinFlag != 0 {
		y.Twin++
	}
	first := rowAttempt(row) == 1
	if first {
		y.First++
	}
	switch verdictCodes()[rowVerdict(row)] {
	case record.Pass:
		y.Passed++
		if first {
			y.FirstPassed++
		}
	case record.Fail:
		y.Failed++
	default:
		y.NoVerdict++
	}
}

// Pareto counts the runs in which each check failed, the most frequent first.
// Records under a suspicion are left out.
func (v *Values) Pareto(ctx context.Context, q Question) ([]Failing, error) {
	counts := map[uint32]int{}
	p, err := v.pick(ctx, q)
	if err == nil {
		err = v.blocks(ctx, p, []uint32{failColumn}, func(b runBlock) error {
			return b.each(failColumn, failSize, func(row, fail []byte) error {
				if p.wants(row) && !p.suspect(row) {
					counts[binary.LittleEndian.Uint32(fail[4:])]++
				}
				return nil
			})
		})
	}
	var list []Failing
	for code, n := range counts {
		name, bad := v.cols.dict.name(code)
		err = errors.Join(err, bad)
		list = append(list, Failing{strings.TrimPrefix(name, checkText), n})
	}
	slices.SortFunc(list, func(a, b Failing) int {
		if a.Runs != b.Runs {
			return b.Runs - a.Runs
		}
		return strings.Compare(a.Check, b.Check)
	})
	return list, v.explain("count the fails", err)
}

// Checks are the names of all checks that were put, in the order in which records
// first show them.
func (v *Values) Checks() []string {
	var list []string
	for _, name := range v.cols.dict.names {
		if check, is := strings.CutPrefix(name, checkText); is {
			list = append(list, check)
		}
	}
	return list
}

// Answers gives the answer of the check in the question, in every run that it was
// put to and that fits, to take, in the order of the chain: unanswered ones, such
// without a value, and those of records under a suspicion included. What take is
// given holds until it returns.
func (v *Values) Answers(ctx context.Context, q Question, take func(*Tested, Answered) error) error {
	p, err := v.pick(ctx, q)
	col, known := v.cols.dict.codes[checkText+q.Check]
	if err == nil && known {
		terms := termsReader{dict: v.cols.dict, seen: map[uint32]*Terms{}}
		err = v.blocks(ctx, p, v.named(q, col), func(b runBlock) error {
			var t Tested
			return b.each(col, valueSize, func(row, value []byte) error {
				if !p.wants(row) {
					return nil
				}
				a, err := terms.answered(value)
				if err == nil {
					err = b.read(v.cols.dict, rowPlace(value), &t)
				}
				if err != nil {
					return err
				}
				t.Suspect = p.suspect(row)
				return take(&t, a)
			})
		})
	}
	return v.explain(fmt.Sprintf("read the values of check %q", q.Check), err)
}

// Runs gives every run that fits the question, whose check is not looked at, to take,
// in the order of the chain, those of records under a suspicion included; with the
// answers of all its checks where these are asked for. What take is given holds until
// it returns.
func (v *Values) Runs(ctx context.Context, q Question, answers bool, take func(*Tested, []Answered) error) error {
	p, err := v.pick(ctx, q)
	if err == nil {
		var checks []uint32
		for name, code := range v.cols.dict.codes {
			if answers && strings.HasPrefix(name, checkText) {
				checks = append(checks, code)
			}
		}
		slices.Sort(checks) // in the order in which records first show them
		terms := termsReader{dict: v.cols.dict, seen: map[uint32]*Terms{}}
		err = v.blocks(ctx, p, v.named(q, checks...), func(b runBlock) error {
			return b.all(p, checks, &terms, take)
		})
	}
	return v.explain("read the runs", err)
}

// named adds the columns of the names that a question asks for.
func (v *Values) named(q Question, cols ...uint32) []uint32 {
	if q.Names {
		cols = append(slices.Clone(cols), serialColumn, idColumn)
	}
	return cols
}

// explain says what was being done. Columns that turn out to be damaged are given
// up: the next who opens them makes them anew.
func (v *Values) explain(doing string, err error) error {
	if errors.Is(err, ErrColumnsDamaged) && v.folder == "" {
		err = errors.Join(err, v.cols.remove())
	}
	return explain("ledger "+v.view.path+": "+doing, err)
}
