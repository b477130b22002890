package ledger

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sinkproof/reports/record"
)

// Yield counts runs by what became of them.
type Yield struct {
	Runs, Passed, Failed, NoVerdict int
	// First counts those of them that are first runs of their serial.
	First, FirstPassed int
}

// Failing is a check with the number of runs that it failed in.
type Failing struct {
	Check string `json:"check"`
	Runs  int    `json:"runs"`
}

// Point is a value of a check.
type Point struct {
	Started time.Time
	Value   float64
	Answer  record.Answer
}

// Terms are the unit and the limits that values were judged by; open ones are
// infinite.
type Terms struct {
	Unit         string
	Lower, Upper float64
}

// Span is the half-open time from an instant to another; the zero time leaves a
// side open.
type Span struct{ From, To time.Time }

// microseconds are the ends of the span.
func (s Span) microseconds() (from, to int64) {
	from, to = math.MinInt64, math.MaxInt64
	if !s.From.IsZero() {
		from = s.From.UnixMicro()
	}
	if !s.To.IsZero() {
		to = s.To.UnixMicro()
	}
	return from, to
}

// picked selects runs of a block.
type picked struct {
	from, to               int64
	product, lot, supplier uint32
	first                  bool
	suspects               map[int64]bool
	// never tells that a text is asked for which no run has.
	never bool
}

// pick prepares the question. Records under a suspicion are left out.
func (v *Values) pick(ctx context.Context, q Question, s Span) (picked, error) {
	p := picked{first: q.First, suspects: map[int64]bool{}}
	p.from, p.to = s.microseconds()
	if !q.Since.IsZero() {
		p.from = max(p.from, q.Since.UnixMicro())
	}
	for _, c := range []struct {
		text string
		into *uint32
	}{{q.Product, &p.product}, {q.Lot, &p.lot}, {q.Supplier, &p.supplier}} {
		if c.text == "" {
			continue
		}
		code, known := v.codes[c.text]
		*c.into, p.never = code, p.never || !known
	}
	suspects, err := v.view.Suspects(ctx)
	if err != nil {
		return p, err
	}
	for run, list := range suspects {
		if !standing(list) {
			continue
		}
		var seq int64
		err := v.view.db.QueryRowContext(ctx, "select seq from history where run = $1 and kind = $2", run, string(record.RunClosed)).Scan(&seq)
		if err != nil {
			return p, err
		}
		p.suspects[seq] = true
	}
	return p, nil
}

// run tells whether the row of a run is wanted.
func (p picked) run(row []byte) bool {
	at := int64(binary.LittleEndian.Uint64(row[8:]))
	code := func(i int) uint32 { return binary.LittleEndian.Uint32(row[16+4*i:]) }
	return !p.never && at >= p.from && at < p.to &&
		(p.product == 0 || p.product == code(0)) && (p.lot == 0 || p.lot == code(1)) && (p.supplier == 0 || p.supplier == code(2)) &&
		(!p.first || binary.LittleEndian.Uint16(row[32:]) == 1) &&
		(len(p.suspects) == 0 || !p.suspects[int64(binary.LittleEndian.Uint64(row))])
}

// blocks reads the blocks of two columns side by side: that of the runs, and
// that of a column which may be absent.
func (v *Values) blocks(ctx context.Context, p picked, col uint32, take func(runs, data []byte) error) error {
	if p.never {
		return nil
	}
	rows, err := v.db.QueryContext(ctx, `select r.data, coalesce(c.data, x'') from blocks r left join blocks c on c.col = $1 and c.number = r.number
		where r.col = 0 and r.high >= $2 and r.low < $3 order by r.number`, col, p.from, p.to)
	if err != nil {
		return err
	}
	defer rows.Close()
	var runs, data []byte
	for rows.Next() {
		if err := rows.Scan(&runs, &data); err != nil {
			return err
		}
		if len(runs)%runSize != 0 {
			return fmt.Errorf("block of %d bytes: %w", len(runs), ErrDamaged)
		}
		if err := take(runs, data); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Yield counts the runs that fit the question, whose check is not looked at.
func (v *Values) Yield(ctx context.Context, q Question, s Span) (Yield, error) {
	var y Yield
	p, err := v.pick(ctx, q, s)
	if err == nil {
		err = v.blocks(ctx, p, runColumn, func(runs, _ []byte) error {
			for i := 0; i < len(runs); i += runSize {
				row := runs[i : i+runSize]
				if p.run(row) {
					y.add(row)
				}
			}
			return nil
		})
	}
	return y, explain("ledger "+v.view.path+": count the yield", err)
}

func (y *Yield) add(row []byte) {
	y.Runs++
	first := binary.LittleEndian.Uint16(row[32:]) == 1
	if first {
		y.First++
	}
	switch row[34] {
	case verdictCodes[record.Pass]:
		y.Passed++
		if first {
			y.FirstPassed++
		}
	case verdictCodes[record.Fail]:
		y.Failed++
	default:
		y.NoVerdict++
	}
}

// Pareto counts the runs in which each check failed, the most frequent first.
func (v *Values) Pareto(ctx context.Context, q Question, s Span) ([]Failing, error) {
	doing := "ledger " + v.view.path + ": count the fails"
	p, err := v.pick(ctx, q, s)
	if err != nil {
		return nil, explain(doing, err)
	}
	counts := map[uint32]int{}
	err = v.blocks(ctx, p, failColumn, func(runs, fails []byte) error {
		for i := 0; i+failSize <= len(fails); i += failSize {
			row, ok := rowAt(runs, fails[i:])
			if !ok {
				return fmt.Errorf("a fail of no run: %w", ErrDamaged)
			}
			if p.run(row) {
				counts[binary.LittleEndian.Uint32(fails[i+4:])]++
			}
		}
		return nil
	})
	var list []Failing
	for code, n := range counts {
		list = append(list, Failing{strings.TrimPrefix(v.names[code], "check "), n})
	}
	slices.SortFunc(list, func(a, b Failing) int {
		if a.Runs != b.Runs {
			return b.Runs - a.Runs
		}
		return strings.Compare(a.Check, b.Check)
	})
	return list, explain(doing, err)
}

// rowAt is the row of the run that a value belongs to.
func rowAt(runs, value []byte) ([]byte, bool) {
	at := int(binary.LittleEndian.Uint16(value)) * runSize
	if at+runSize > len(runs) {
		return nil, false
	}
	return runs[at : at+runSize], true
}

// errUnknownCheck is the cause when no run has a value of the check.
var errUnknownCheck = errors.New("no run has a value of it")

// Points gives every value of the check in the question to take, in the order of
// the chain, with the terms that it was judged by. Unanswered checks and values
// of which only a bound is known are no values. It returns how many were left
// out for that.
func (v *Values) Points(ctx context.Context, q Question, s Span, take func(Point, *Terms) error) (left int, err error) {
	doing := fmt.Sprintf("ledger %s: read the values of check %q", v.view.path, q.Check)
	col, known := v.codes["check "+q.Check]
	if !known {
		return 0, fmt.Errorf("%s: %w", doing, errUnknownCheck)
	}
	p, err := v.pick(ctx, q, s)
	if err != nil {
		return 0, explain(doing, err)
	}
	terms := map[uint32]*Terms{}
	err = v.blocks(ctx, p, col, func(runs, values []byte) error {
		for i := 0; i+valueSize <= len(values); i += valueSize {
			x := values[i : i+valueSize]
			row, ok := rowAt(runs, x)
			if !ok {
				return fmt.Errorf("a value of no run: %w", ErrDamaged)
			}
			if !p.run(row) {
				continue
			}
			if x[3] != 0 || x[2] == answerCodes[record.Unanswered] {
				left++
				continue
			}
			point := Point{Started: time.UnixMicro(int64(binary.LittleEndian.Uint64(row[8:]))).UTC(),
				Value: math.Float64frombits(binary.LittleEndian.Uint64(x[8:])), Answer: record.Passed}
			if x[2] == answerCodes[record.Failed] {
				point.Answer = record.Failed
			}
			t, err := v.terms(terms, binary.LittleEndian.Uint32(x[4:]))
			if err == nil {
				err = take(point, t)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	return left, explain(doing, err)
}

// terms decodes the terms of a code, each once.
func (v *Values) terms(seen map[uint32]*Terms, code uint32) (*Terms, error) {
	if t := seen[code]; t != nil {
		return t, nil
	}
	if int(code) >= len(v.names) {
		return nil, fmt.Errorf("text %d is unknown: %w", code, ErrDamaged)
	}
	t := &Terms{}
	if _, err := fmt.Sscanf(v.names[code], "terms %s %g %g", &t.Unit, &t.Lower, &t.Upper); err != nil {
		return nil, fmt.Errorf("terms %q: %w: %w", v.names[code], ErrDamaged, err)
	}
	seen[code] = t
	return t, nil
}
