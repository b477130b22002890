package golden

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"sinkproof/reports/record"
)

// Valid is for how long a good answer stands where nothing else was said: 12 h.
// It covers a shift of eight hours that begins with the golden units, with the
// time for a late start and an hour of overtime; the next shift proves the rig
// anew. Common practice, no source.
const Valid = 12 * time.Hour

// The causes of a shift that is not open.
var (
	ErrNone       = errors.New("no golden unit is registered")
	ErrMissing    = errors.New("a golden unit was never run")
	ErrOverdue    = errors.New("the answer of a golden unit is overdue")
	ErrDeviates   = errors.New("a golden unit deviates from its known answer")
	ErrUnanswered = errors.New("a golden unit gave no answer")
	ErrOther      = errors.New("a golden unit was run under other terms")
)

// Unit is a golden unit in use.
type Unit struct {
	record.Golden
	// Last is its latest run that counts under the terms, else its latest one; nil
	// before the first.
	Last *Run
}

// Run is a run of a golden unit.
type Run struct {
	record.Opening
	// Answer is what it says about the rig; empty while it is open.
	Answer     record.GoldenAnswer
	Deviations []string
	// Record is empty where there is none.
	Record record.Run
}

// Terms are what production runs are made under.
type Terms struct {
	Product string
	// Files are the wiring, product and scenario files.
	Files []record.File
	// Calibration is the id of the calibration in force, empty for none.
	Calibration string
}

// Duty is a golden unit with what it means for a shift.
type Duty struct {
	Unit Unit
	// Until is when its good answer ends to stand; zero where it has none that
	// counts.
	Until time.Time
	// Err says why it keeps the shift closed; nil where it does not.
	Err error
}

// Shift is the standing of a rig at an instant.
type Shift struct{ Duties []Duty }

// NewShift works out the standing of the golden units in use for the product.
func NewShift(units []Unit, t Terms, now time.Time) Shift {
	var s Shift
	for _, u := range units {
		if u.Product != t.Product {
			continue
		}
		d := Duty{Unit: u}
		d.Until, d.Err = stands(u, t, now)
		s.Duties = append(s.Duties, d)
	}
	return s
}

// stands tells until when the latest answer of a golden unit stands, or why it
// does not.
func stands(u Unit, t Terms, now time.Time) (time.Time, error) {
	last := u.Last
	if last == nil {
		return time.Time{}, ErrMissing
	}
	started, err := time.Parse(time.RFC3339Nano, last.Started)
	if err != nil {
		return time.Time{}, fmt.Errorf("start of its run: %w", err)
	}
	until := started.Add(time.Duration(u.ValidS) * time.Second)
	switch {
	case last.Answer == record.Deviates:
		return time.Time{}, fmt.Errorf("%w: %s", ErrDeviates, record.Brief(last.Deviations))
	case last.Answer != record.AsExpected:
		return time.Time{}, fmt.Errorf("%w: %s", ErrUnanswered, cmp.Or(record.Brief(last.Deviations), "its run is not closed"))
	case !now.Before(until):
		return until, fmt.Errorf("%w: it stood until %s", ErrOverdue, record.Instant(until))
	}
	return until, t.Fit(last.Opening)
}

// Counts tells whether a run of a golden unit says anything about runs under the
// terms: one that was made under them, and one that deviates, whatever it was
// made under.
func (t Terms) Counts(r Run) bool { return r.Answer == record.Deviates || t.Fit(r.Opening) == nil }

// Fit demands that a golden run was made from the same files and on the same
// calibration as the runs that it proves. It wraps ErrOther.
func (t Terms) Fit(o record.Opening) error {
	for _, f := range t.Files {
		i := slices.IndexFunc(o.Files, func(g record.File) bool { return g.Role == f.Role })
		if i < 0 || o.Files[i].SHA256 != f.SHA256 {
			return fmt.Errorf("%w: its run was made with another %s file", ErrOther, f.Role)
		}
	}
	if o.Bench.Calibration != t.Calibration {
		return fmt.Errorf("%w: its run stood on %s, these stand on %s", ErrOther, onCalibration(o.Bench.Calibration), onCalibration(t.Calibration))
	}
	return nil
}

func onCalibration(id string) string {
	if id == "" {
		return "no calibration"
	}
	return "calibration " + id
}

// Open returns nil while the shift is open, else an error that names every
// golden unit that keeps it closed. It wraps ErrNone where there is no golden
// unit at all, or the cause of each.
func (s Shift) Open() error {
	if len(s.Duties) == 0 {
		return ErrNone
	}
	var closed []error
	for _, d := range s.Duties {
		if d.Err != nil {
			closed = append(closed, fmt.Errorf("golden unit %s (%s): %w", d.Unit.Serial, d.Unit.Title, d.Err))
		}
	}
	return errors.Join(closed...)
}

// Until is when the first good answer ends to stand; zero while the shift is
// closed.
func (s Shift) Until() time.Time {
	var first time.Time
	for _, d := range s.Duties {
		if d.Err != nil {
			return time.Time{}
		}
		if first.IsZero() || d.Until.Before(first) {
			first = d.Until
		}
	}
	return first
}
