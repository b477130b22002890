package ledger

import (
	"fmt"
	"strings"
	"time"

	"sinkproof/reports/record"
)

// column is one column of the projection: its name and what an entry says.
type column struct {
	name string
	// value is an int64 or a string; absent members are 0 or empty.
	value any
}

// createIndex serves the history of a serial.
const createIndex = "create index history_serial on history (serial, seq)"

// index is an index of the history: its name and the statement that makes it.
type index struct{ name, statement string }

// laterIndexes came after createIndex. A ledger from before gets them when it is
// opened for writing, and is as good without, only slower.
func laterIndexes() []index {
	return []index{
		// The closing of a run is looked for at every opening and in every history.
		{"history_run", "create index history_run on history (run, seq)"},
		// Every answer looks for suspicions, which are few among many runs.
		{"history_rare", "create index history_rare on history (seq) where " + rare},
	}
}

// rare are the entries that are not about runs of units, in the words that let
// SQLite use the index of them (sqlite.org/partialindex.html, 3).
const rare = "kind <> 'run opened' and kind <> 'run closed'"

// createProjection are the statements that make the projection with its indexes.
func createProjection() []string {
	list := []string{createHistory(), createIndex}
	for _, x := range laterIndexes() {
		list = append(list, x.statement)
	}
	return list
}

// createHistory returns the statement that makes the projection's table. It
// has one column per element of project, in the same order.
func createHistory() string {
	var lines []string
	for _, c := range project(record.Entry{}, record.Opening{}, record.Run{}, record.Interruption{}) {
		kind := "text"
		if _, ok := c.value.(int64); ok {
			kind = "bigint"
		}
		if c.name == "seq" {
			kind += " primary key"
		}
		lines = append(lines, "\t"+c.name+" "+kind+" not null")
	}
	return "create table history (\n" + strings.Join(lines, ",\n") + "\n)"
}

// columnsOf computes the projection of an entry from its document.
func columnsOf(e record.Entry, doc record.Document) []column {
	switch d := doc.(type) {
	case record.Opening:
		return project(e, d, record.Run{}, record.Interruption{})
	case record.Run:
		return project(e, d.Opening, d, record.Interruption{})
	case record.Interruption:
		return project(e, record.Opening{ID: d.ID, Serial: d.Serial}, record.Run{}, d)
	case record.Calibration:
		return project(e, record.Opening{ID: d.ID, Bench: d.Bench, Started: d.Made}, record.Run{}, record.Interruption{})
	}
	return goldenColumns(e, doc)
}

// goldenColumns computes the projection of an entry about golden units and what
// follows from them. A suspicion and its withdrawal stand under the id of the
// golden run.
func goldenColumns(e record.Entry, doc record.Document) []column {
	about := func(o record.Opening, reason string) []column {
		return project(e, o, record.Run{}, record.Interruption{Reason: reason})
	}
	switch d := doc.(type) {
	case record.Golden:
		return about(record.Opening{ID: d.ID, Serial: d.Serial, Product: d.Product, Bench: d.Bench, Started: d.Made}, "")
	case record.GoldenRetirement:
		return about(record.Opening{ID: d.Golden, Serial: d.Serial, Bench: d.Bench, Started: d.Made}, d.Reason)
	case record.GoldenOpening:
		return project(e, d.Opening, record.Run{}, record.Interruption{})
	case record.GoldenRun:
		return project(e, d.Run.Opening, d.Run, record.Interruption{Reason: strings.Join(d.Deviations, "; ")})
	case record.GoldenInterruption:
		return about(record.Opening{ID: d.ID, Serial: d.Serial}, d.Reason)
	case record.Suspicion:
		return about(record.Opening{ID: d.Run, Serial: d.Serial, Bench: d.Bench, Started: d.Made}, strings.Join(d.Why, "; "))
	case record.Withdrawal:
		return about(record.Opening{ID: d.Run, Bench: d.Bench, Started: d.Made}, d.Reason)
	case record.Clock:
		return about(record.Opening{Bench: d.Bench, Started: d.Made}, d.Reason)
	}
	return lotColumns(e, doc)
}

// project lists the columns. Those of a closing repeat the identity of its
// opening, as the record does.
func project(e record.Entry, o record.Opening, r record.Run, i record.Interruption) []column {
	reason := r.Reason
	if i.Reason != "" {
		reason = i.Reason
	}
	return []column{
		{"seq", e.Seq},
		{"kind", string(e.Kind)},
		{"hash", e.Hash},
		{"run", o.ID},
		{"serial", o.Serial},
		{"product", o.Product},
		{"lot", o.Lot},
		{"supplier", o.Supplier},
		{"attempt", int64(o.Attempt)},
		{"allowed_by", o.AllowedBy},
		{"bench", o.Bench.Name},
		{"bench_kind", o.Bench.Kind},
		{"started_us", microseconds(o.Started)},
		{"duration_us", r.DurationUS},
		{"verdict", string(r.Verdict)},
		{"bin", string(r.Bin)},
		{"reason", reason},
		{"failed", strings.Join(failed(r), "\n")},
	}
}

// failed names the checks that failed.
func failed(r record.Run) []string {
	var names []string
	for _, c := range r.Checks {
		if c.Answer == record.Failed {
			names = append(names, c.Name)
		}
	}
	return names
}

// microseconds turns a record's start into microseconds since 1970; 0 for an
// absent one. A valid record has no other.
func microseconds(started string) int64 {
	at, err := time.Parse(time.RFC3339Nano, started)
	if err != nil {
		return 0
	}
	return at.UnixMicro()
}

// insertHistory returns the statement that adds one row, whose arguments are the
// values of its columns.
func insertHistory() string {
	var names, marks []string
	for i, c := range project(record.Entry{}, record.Opening{}, record.Run{}, record.Interruption{}) {
		names = append(names, c.name)
		marks = append(marks, fmt.Sprintf("$%d", i+1))
	}
	return "insert into history (" + strings.Join(names, ", ") + ") values (" + strings.Join(marks, ", ") + ")"
}

// valuesOf are the values of a row.
func valuesOf(columns []column) []any {
	values := make([]any, len(columns))
	for i, c := range columns {
		values[i] = c.value
	}
	return values
}
