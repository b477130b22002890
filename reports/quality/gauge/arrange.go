package gauge

import (
	"errors"
	"fmt"
	"math"

	"sinkproof/reports/quality"
)

// ErrUnbalanced is returned, wrapped, for a study in which some appraiser
// measured some part more or less often than another.
var ErrUnbalanced = errors.New("study not balanced")

// Reading is one measurement of one part by one appraiser.
type Reading struct {
	Part, Appraiser string
	Value           float64
}

// Arrange sorts readings into a study. It needs at least two parts, one
// appraiser and two trials.
func Arrange(readings []Reading) (Study, error) {
	var c Columns
	part, appraiser := map[string]int32{}, map[string]int32{}
	for _, r := range readings {
		c.Part = append(c.Part, numbered(part, &c.Parts, r.Part))
		c.Appraiser = append(c.Appraiser, numbered(appraiser, &c.Appraisers, r.Appraiser))
		c.Values = append(c.Values, r.Value)
	}
	return c.Arrange()
}

// numbered returns the number of a name in a list, where it goes when it is new.
func numbered(known map[string]int32, list *[]string, name string) int32 {
	n, ok := known[name]
	if !ok {
		n = int32(len(*list))
		known[name] = n
		*list = append(*list, name)
	}
	return n
}

// Columns are many readings: their values, and for each of them the number of its
// part and of its appraiser in the names. Names that no reading has are no part of
// the study.
type Columns struct {
	Parts, Appraisers []string
	Part, Appraiser   []int32
	Values            []float64
}

// Arrange sorts the columns into a study, as Arrange does. All is counted before
// anything is sorted: what is no study is refused with little time and room, however
// many parts there are.
func (c Columns) Arrange() (Study, error) {
	for i, v := range c.Values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Study{}, fmt.Errorf("gauge study: reading %d is %v: %w", i+1, v, quality.ErrSample)
		}
	}
	var s Study
	c.Part, s.Parts = renumbered(c.Part, c.Parts)
	c.Appraiser, s.Appraisers = renumbered(c.Appraiser, c.Appraisers)
	if len(s.Parts) < 2 {
		return Study{}, fmt.Errorf("gauge study: %d parts, at least 2 are needed to tell parts from gauge: %w", len(s.Parts), quality.ErrSample)
	}
	rows := c.rows(len(s.Appraisers))
	trials, err := c.trials(s, rows)
	if err != nil {
		return Study{}, err
	}
	for _, row := range rows {
		cells := make([][]float64, len(s.Parts))
		room := make([]float64, len(row))
		for j := range cells {
			cells[j], room = room[:0:trials], room[trials:]
		}
		for _, i := range row {
			cells[c.Part[i]] = append(cells[c.Part[i]], c.Values[i])
		}
		s.Values = append(s.Values, cells)
	}
	return s, nil
}

// renumbered numbers anew what a column has, in the order in which it comes, and
// returns the names in that order.
func renumbered(column []int32, names []string) (own []int32, found []string) {
	own = make([]int32, len(column))
	known := make(map[int32]int32)
	for i, old := range column {
		n, ok := known[old]
		if !ok {
			n = int32(len(found))
			known[old] = n
			found = append(found, names[old])
		}
		own[i] = n
	}
	return own, found
}

// rows lists the readings of each appraiser, by their places, in their order.
func (c Columns) rows(appraisers int) [][]int32 {
	ends := make([]int, appraisers+1)
	for _, a := range c.Appraiser {
		ends[a+1]++
	}
	for i := range appraisers {
		ends[i+1] += ends[i]
	}
	all := make([]int32, len(c.Values))
	rows := make([][]int32, appraisers)
	for i := range rows {
		rows[i] = all[ends[i]:ends[i]:ends[i+1]]
	}
	for i, a := range c.Appraiser {
		rows[a] = append(rows[a], int32(i))
	}
	return rows
}

// trials is how often each appraiser measured each part. Otherwise it names the first
// cell with another number than the first one's.
func (c Columns) trials(s Study, rows [][]int32) (int, error) {
	trials := 0
	counts := make([]int, len(s.Parts))
	for i, row := range rows {
		clear(counts)
		for _, at := range row {
			counts[c.Part[at]]++
		}
		if i == 0 {
			trials = counts[0]
		}
		// A row that is whole has a reading for each part at least, so that all
		// rows up to the first that is not take no more steps than readings.
		for j, n := range counts {
			if n != trials {
				return 0, fmt.Errorf("gauge study: appraiser %q measured part %q %d times, but %q part %q %d times: %w",
					s.Appraisers[i], s.Parts[j], n, s.Appraisers[0], s.Parts[0], trials, ErrUnbalanced)
			}
		}
	}
	if trials < 2 {
		return 0, fmt.Errorf("gauge study: %d trial of each part, at least 2 are needed to see repeatability: %w", trials, quality.ErrSample)
	}
	return trials, nil
}
