package ledger

import (
	"math"
	"time"

	"sinkproof/reports/record"
)

// Question asks about many runs. Empty members ask for all.
type Question struct {
	Check                  string
	Product, Lot, Supplier string
	// Since leaves out what was started before, Until what was started then or
	// later; the zero time leaves out nothing.
	Since, Until time.Time
	// First leaves out all runs of a serial but the first, so that a retest
	// does not count a unit twice.
	First bool
	// Names asks for serials and ids as well, which are no two alike and take time
	// to read.
	Names bool
}

// microseconds are the ends of the time that is asked about.
func (q Question) microseconds() (from, to int64) {
	from, to = math.MinInt64, math.MaxInt64
	if !q.Since.IsZero() {
		from = q.Since.UnixMicro()
	}
	if !q.Until.IsZero() {
		to = q.Until.UnixMicro()
	}
	return from, to
}

// Tested is a closed run as the columns hold it.
type Tested struct {
	// Seq is the number of the entry that closed the run.
	Seq     int64
	Started time.Time
	// Serial and ID are there where the question asked for names.
	Serial, ID             string
	Product, Lot, Supplier string
	Bench                  string
	Nest, Attempt          int
	Verdict                record.Verdict
	// Papers names the versions of the files that the run was made from.
	Papers string
	// Wrong is what is most likely wrong with the unit: what the diagnosis found,
	// else the first check that failed; empty where neither is.
	Wrong string
	// Twin tells that a twin made the record.
	Twin bool
	// OwnCell tells that the unit had a cell of its own, whose open-circuit
	// voltage was taken.
	OwnCell bool
	// Suspect tells that a golden unit has put the record under a suspicion that
	// nobody withdrew.
	Suspect bool
}

// Answered is what a check found in a run.
type Answered struct {
	*Terms
	Answer record.Answer
	// Value is NaN where there is none.
	Value float64
	// Bounded tells that only a bound of the value is known.
	Bounded bool
}

// Measured tells whether there is a value that the bench stands by.
func (a Answered) Measured() bool {
	return a.Answer != record.Unanswered && !a.Bounded && !math.IsNaN(a.Value)
}

// Terms are what values of a check were judged by. There is one for each way in
// which records put the question.
type Terms struct {
	Check string `json:"check"`
	Title string `json:"title"`
	// Unit is empty where there was no value.
	Unit    string `json:"unit"`
	Control bool   `json:"control,omitempty"`
	// Lower and Upper are the limits; nil for an open side.
	Lower *float64 `json:"lower,omitempty"`
	Upper *float64 `json:"upper,omitempty"`
}
