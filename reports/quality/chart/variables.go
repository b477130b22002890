package chart

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/moments"
	"sinkproof/reports/quality/spread"
)

// Kind is a pair of charts of measured values.
type Kind int

// Kinds of pairs.
const (
	XbarR       Kind = iota // means and ranges of subgroups
	XbarS                   // means and standard deviations of subgroups
	Individuals             // single values and their moving ranges of two
)

// Pair is a chart of location with the chart of spread that belongs to it. In
// Individuals the first point of Spread belongs to the second value.
type Pair struct {
	Baseline
	Location, Spread Chart
}

// Baseline is what a stable process is: its mean, and its standard deviation
// within subgroups.
type Baseline struct {
	Mean, Sigma float64
}

// Estimate returns the baseline of phase 1 data. Individuals takes all values in
// their order, whatever the subgroups.
//
// Sigma is the mean range over d2, the mean deviation over c4, or the mean
// moving range over d2, with d2 not rounded (where 1.128 is used for moving
// ranges, as in NIST/SEMATECH e-Handbook, section 6.3.2.2, limits differ in the fifth
// digit). Subgroups of unequal size are weighted as in package spread.
func Estimate(kind Kind, subgroups [][]float64) (Baseline, error) {
	if err := usable(subgroups); err != nil {
		return Baseline{}, err
	}
	by := map[Kind]spread.Method{XbarR: spread.MeanRange, XbarS: spread.MeanDeviation, Individuals: spread.MovingRange}
	within, err := spread.Within(subgroups, by[kind])
	if err != nil {
		return Baseline{}, fmt.Errorf("control chart: %w", err)
	}
	return Baseline{Mean: moments.Of(slices.Concat(subgroups...)).Mean(), Sigma: within.SD}, nil
}

// Variables charts phase 1 data against their own baseline.
func Variables(kind Kind, subgroups [][]float64, rules []Rule) (Pair, error) {
	b, err := Estimate(kind, subgroups)
	if err != nil {
		return Pair{}, err
	}
	return b.Variables(kind, subgroups, rules)
}

// Variables charts phase 2 data against the baseline. The rules apply to the
// chart of location; a spread is judged by its limits alone, whose zones are
// not symmetric. A subgroup of one has no spread and no point there.
func (b Baseline) Variables(kind Kind, subgroups [][]float64, rules []Rule) (Pair, error) {
	if err := usable(subgroups); err != nil {
		return Pair{}, err
	}
	if !(b.Sigma >= 0) || math.IsNaN(b.Mean) {
		return Pair{}, fmt.Errorf("control chart: baseline of mean %v, sigma %v: %w", b.Mean, b.Sigma, quality.ErrSample)
	}
	if kind == Individuals {
		return b.individuals(slices.Concat(subgroups...), rules), nil
	}
	known := map[int]Constants{}
	var location, within []plotted
	for _, g := range subgroups {
		location = append(location, plotted{moments.Of(g).Mean(), b.Mean, b.Sigma / math.Sqrt(float64(len(g))), math.Inf(-1)})
		if len(g) < 2 {
			continue
		}
		c, ok := known[len(g)]
		if !ok {
			c = Of(len(g))
			known[len(g)] = c
		}
		within = append(within, b.inside(kind, g, c))
	}
	return Pair{b, chartOf(location, rules), chartOf(within, []Rule{BeyondLimits})}, nil
}

func (b Baseline) inside(kind Kind, g []float64, c Constants) plotted {
	if kind == XbarR {
		return plotted{slices.Max(g) - slices.Min(g), c.RangeMean * b.Sigma, c.RangeSD * b.Sigma, 0}
	}
	wobble := math.Sqrt((1 - c.DeviationMean) * (1 + c.DeviationMean))
	return plotted{moments.Of(g).SD(), c.DeviationMean * b.Sigma, wobble * b.Sigma, 0}
}

func (b Baseline) individuals(values []float64, rules []Rule) Pair {
	var location, moving []plotted
	c := Of(2)
	for i, v := range values {
		location = append(location, plotted{v, b.Mean, b.Sigma, math.Inf(-1)})
		if i > 0 {
			moving = append(moving, plotted{math.Abs(v - values[i-1]), c.RangeMean * b.Sigma, c.RangeSD * b.Sigma, 0})
		}
	}
	return Pair{b, chartOf(location, rules), chartOf(moving, []Rule{BeyondLimits})}
}
