package page

import (
	"sinkproof/reports/page/plot"
)

// Coverage is the view of a coverage study: what a scenario lets escape, what
// it wrongly rejects, and which check catches what.
type Coverage struct {
	Title string
	// Lead says in a sentence or two what was found.
	Lead string
	// Caution, when set, says why the study is not whole.
	Caution string
	Tally   []TallyRow
	Facts   []Row
	// Rates are the classes with what went wrong in each.
	Rates []CoverageRate
	// Heat is which question caught which class.
	Heat CoverageHeat
	// Curves are what other guard factors would have decided, and the limits
	// whose moving costs most.
	Curves []plot.Figure
	// Limits is how far each limit could be moved.
	Limits []CoverageLimit
	// Checks are the questions with what each is good for.
	Checks []CoverageCheck
	// Characteristics are the risks of what is measured and truly known.
	Characteristics []CoverageTrait
	// Findings are the conclusions: what escaped, what is redundant.
	Findings []Row
	// Hidden are what cannot be observed and what cannot be wrong.
	Hidden []Row
	// Method says how the figures came about.
	Method []string
	// Started dates the documents, RFC 3339.
	Started string
}

// CoverageRate is one class. The shares are fractions of 1.
type CoverageRate struct {
	Label, Name      string
	Share, Low, High float64
	// Text is count and interval, CaughtBy how many checks catch a unit.
	Text, CaughtBy string
	Tone           Tone
}

// CoverageHeat is a table of shares: a row for each class, a column for each
// question.
type CoverageHeat struct {
	Columns []string
	Rows    []CoverageHeatRow
}

// CoverageHeatRow is one class. Each cell belongs to a column.
type CoverageHeatRow struct {
	Label string
	Cells []CoverageCell
}

// CoverageCell is the share of the units that a question caught. Alone tells
// that it caught some which nothing else did.
type CoverageCell struct {
	Share float64
	Alone bool
}

// CoverageLimit is how far the limits of one question could move, as shares of
// their values, before a good unit is rejected (inwards, negative) and before
// a faulty one escapes (outwards). An end that was not reached is open.
type CoverageLimit struct {
	Label             string
	In, Out           float64
	InOpen, OutOpen   bool
	InText, OutText   string
	Rejected, Escaped string // what happens there
}

// CoverageCheck is one question.
type CoverageCheck struct {
	Name, Title   string
	Rounds        string
	Caught, Alone string
	Good          string
	Standing      string
	Tone          Tone
	Only          string
}

// CoverageTrait is one characteristic.
type CoverageTrait struct {
	Title, Check, Limits string
	Good, Uncertainty    string
	Ratio                string
	Consumer, Producer   string
	Computed             string
}
