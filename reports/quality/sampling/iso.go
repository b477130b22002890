package sampling

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Level is an inspection level of ISO 2859-1: how much to test for a lot size.
type Level string

// Severity is how hard a supplier's lots are inspected.
type Severity int

// Severities. Discontinued stops inspection until the supplier has acted.
const (
	Normal Severity = iota
	Tightened
	Reduced
	Discontinued
)

// String returns the name of the severity.
func (s Severity) String() string {
	return [...]string{"normal", "tightened", "reduced", "discontinued"}[min(max(s, 0), 3)]
}

// ParseSeverity returns the severity of that name.
func ParseSeverity(name string) (Severity, error) {
	for s := Normal; s <= Discontinued; s++ {
		if s.String() == name {
			return s, nil
		}
	}
	return 0, fmt.Errorf("severity %q: normal, tightened or reduced is known: %w", name, ErrPlan)
}

// Levels returns the inspection levels in the order of the standard.
func Levels() []Level { return []Level{"S-1", "S-2", "S-3", "S-4", "I", "II", "III"} }

// CodeLetter returns the sample size code letter of a lot (ISO 2859-1, table 1).
// A lot has two units at least.
func CodeLetter(lot int, level Level) (string, error) {
	return letterOf(lot, level, sizes(), letters())
}

// VariablesLetter returns the code letter of a lot for plans by variables
// (ANSI/ASQ Z1.9, table A-2), which has the levels S-3, S-4, I, II and III. What
// sample size a letter means there is not part of this package: FindVariables
// gives plans by their risks.
func VariablesLetter(lot int, level Level) (string, error) {
	return letterOf(lot, level, sizesByVariables(), lettersByVariables())
}

func letterOf(lot int, level Level, from []int, rows map[Level]string) (string, error) {
	row, ok := rows[level]
	if !ok {
		return "", fmt.Errorf("inspection level %q: the levels are %v: %w", level, Levels(), ErrPlan)
	}
	at := -1
	for i, size := range from {
		if lot >= size {
			at = i
		}
	}
	if at < 0 {
		return "", fmt.Errorf("lot of %d units: the tables begin at %d: %w", lot, from[0], ErrPlan)
	}
	return row[at : at+1], nil
}

// Drawn is the plan that the tables give for a lot.
type Drawn struct {
	CodeLetter string // from the lot size
	PlanLetter string // after following the arrows of the table
	Plan
	All bool // the sample would be as large as the lot: every unit is tested
}

// Lookup returns the single sampling plan of ISO 2859-1:1999 for a lot, with the
// acceptance quality limit in percent, one of the standard's. Arrows are
// followed to the first plan below or above, whose sample size then counts as
// well. In this edition reduced plans have no gap between Accept and Reject.
func Lookup(lot int, level Level, aql float64, s Severity) (Drawn, error) {
	letter, err := CodeLetter(lot, level)
	if err != nil {
		return Drawn{}, err
	}
	column := slices.Index(limits(), aql)
	if column < 0 {
		return Drawn{}, fmt.Errorf("acceptance quality limit %v %%: the standard has %v: %w", aql, limits(), ErrPlan)
	}
	if s < Normal || s > Reduced {
		return Drawn{}, fmt.Errorf("%v inspection has no plan: %w", s, ErrPlan)
	}
	return follow(letter, column, s, lot)
}

// follow walks from the cell of a letter along the arrows to a plan.
func follow(letter string, column int, s Severity, lot int) (Drawn, error) {
	rows := master(s)
	at := slices.IndexFunc(rows, func(r []string) bool { return r[0] == letter })
	for at >= 0 && at < len(rows) {
		switch cell := rows[at][2+column]; cell {
		case "v":
			at++
		case "^":
			at--
		default:
			return drawn(lot, letter, rows[at], cell)
		}
	}
	return Drawn{}, fmt.Errorf("letter %s, limit %v %%, %v: the arrow leads out of the table: %w", letter, limits()[column], s, ErrPlan)
}

// drawn reads one cell of the table, and tests the whole of a lot that is no
// larger than the sample.
func drawn(lot int, letter string, row []string, cell string) (Drawn, error) {
	n, err := strconv.Atoi(row[1])
	if err != nil {
		return Drawn{}, fmt.Errorf("sample size of letter %s: %w", row[0], err)
	}
	accept, err := strconv.Atoi(cell)
	if err != nil {
		return Drawn{}, fmt.Errorf("acceptance number of letter %s: %w", row[0], err)
	}
	d := Drawn{CodeLetter: letter, PlanLetter: row[0], Plan: Plan{n, accept}, All: n >= lot}
	d.N = min(n, lot)
	return d, nil
}

func master(s Severity) [][]string {
	table := [...]string{normalTable, tightenedTable, reducedTable}[s]
	var rows [][]string
	for line := range strings.Lines(strings.TrimSpace(table)) {
		rows = append(rows, strings.Fields(line))
	}
	return rows
}

// Limits returns the acceptance quality limits of the standard, in percent.
func Limits() []float64 { return limits() }

// OneStepTighter returns the next smaller acceptance quality limit; false for
// the smallest and for one that the standard does not have.
func OneStepTighter(aql float64) (float64, bool) {
	i := slices.Index(limits(), aql)
	if i < 1 {
		return 0, false
	}
	return limits()[i-1], true
}
