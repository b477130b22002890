package golden

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/reports/quality/chart"
	"sinkproof/reports/record"
)

// baseline is how many good answers give the limits of a chart; later ones are
// held against them. Montgomery, Introduction to Statistical Quality Control,
// asks for 20 to 25 samples in phase 1.
const baseline = 20

// fewest is how many values make a chart at all. Own choice: with fewer the
// limits say nothing.
const fewest = 5

// finest is the least standard deviation of a chart, as a part of the standard
// uncertainty of the readings: a converter may give the same code for months, and
// a step of one code that means nothing to a verdict is no move. Own choice.
const finest = 0.1

// Rules are the patterns that a rig which moves shows: one value beyond the
// limits, eight on one side, six rising or falling.
func Rules() []chart.Rule {
	return []chart.Rule{chart.BeyondLimits, chart.EightOnOneSide, chart.SixSteady}
}

// Series is the value of one check of a golden unit over its runs.
type Series struct {
	Check, Title, Unit string
	Points             []Point
	// Expected is the registered range; nil for none.
	Expected *record.ExpectedValue
	// Baseline is how many good answers gave the limits; 0 where there are too
	// few for a chart. Chart and Spread are then empty.
	Baseline      int
	Chart, Spread chart.Chart
}

// Point is one reading.
type Point struct {
	Run     string
	Started string
	Value   float64
	// U is its expanded uncertainty.
	U      float64
	Answer record.GoldenAnswer
}

// recent is over how many of the latest runs a broken rule counts: a rig that was
// mended reads as before. Own choice: five days of two shifts.
const recent = 10

// Moves tells whether a rule was broken in one of the latest runs.
func (s Series) Moves() bool {
	late := func(c chart.Chart) bool {
		return slices.ContainsFunc(c.Points[max(0, len(c.Points)-recent):], chart.Point.Out)
	}
	return late(s.Chart) || late(s.Spread)
}

// Drift makes the series of every check whose value a golden unit gave in its
// runs, in the order of the scenario.
func Drift(g record.Golden, runs []Run) ([]Series, error) {
	var list []Series
	at := map[string]int{}
	for _, run := range runs {
		for _, c := range run.Record.Checks {
			if c.Value == nil || c.Value.Bound != "" {
				continue
			}
			i, known := at[c.Name]
			if !known {
				i = len(list)
				at[c.Name] = i
				list = append(list, Series{Check: c.Name, Title: c.Title, Unit: c.Value.Unit, Expected: expectedOf(g, c.Name)})
			}
			if c.Value.Unit == list[i].Unit {
				list[i].Points = append(list[i].Points, Point{run.ID, run.Started, c.Value.Value, c.Value.U, run.Answer})
			}
		}
	}
	for i := range list {
		if err := list[i].chart(); err != nil {
			return nil, fmt.Errorf("drift of golden unit %s, check %s: %w", g.Serial, list[i].Check, err)
		}
	}
	return list, nil
}

func expectedOf(g record.Golden, check string) *record.ExpectedValue {
	for _, v := range g.Expected.Values {
		if v.Check == check {
			return &v
		}
	}
	return nil
}

// chart takes the limits from the first good answers and holds all against
// them: single values and their moving ranges.
func (s *Series) chart() error {
	var all, first []float64
	u := 0.0
	for _, p := range s.Points {
		all = append(all, p.Value)
		if p.Answer == record.AsExpected && len(first) < baseline {
			first = append(first, p.Value)
			u = max(u, p.U/2)
		}
	}
	if len(first) < fewest {
		return nil
	}
	b, err := chart.Estimate(chart.Individuals, [][]float64{first})
	if err != nil {
		return err
	}
	b.Sigma = max(b.Sigma, finest*u)
	pair, err := b.Variables(chart.Individuals, [][]float64{all}, Rules())
	if err != nil {
		return err
	}
	calm, err := b.Variables(chart.Individuals, [][]float64{stilled(all, pair.Location.Centre, finest*u)}, Rules())
	if err != nil {
		return err
	}
	for i := range pair.Location.Points {
		pair.Location.Points[i].Violations = calm.Location.Points[i].Violations
	}
	s.Baseline, s.Chart, s.Spread = len(first), pair.Location, pair.Spread
	return nil
}

// stilled puts values that are nearer to the centre than a difference that means
// anything onto it. Else a board that reads the same code for months, and another
// one once, would lie on one side of their mean for ever.
func stilled(values []float64, centre, near float64) []float64 {
	out := slices.Clone(values)
	for i, v := range out {
		if math.Abs(v-centre) <= near {
			out[i] = centre
		}
	}
	return out
}
