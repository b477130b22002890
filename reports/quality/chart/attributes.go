package chart

import (
	"fmt"
	"math"

	"sinkproof/reports/quality"
)

// Count is a chart of counts.
type Count int

// Kinds of counts. P and NP count bad units among a size; C and U count faults
// on a unit or a size, of which there may be many.
const (
	P  Count = iota // fraction of bad units
	NP              // number of bad units
	C               // number of faults
	U               // faults per unit of size
)

// Attributes charts phase 1 counts around their own mean. sizes are those of
// the subgroups; for C they must be nil, for the others one per count.
//
// Limits are at three standard deviations of the binomial law (P, NP) or the
// Poisson law (C, U), a lower one below 0 is 0, and an upper one of P above 1
// stays as it is, as is custom.
func Attributes(kind Count, counts, sizes []float64, rules []Rule) (Chart, error) {
	rate, err := Rate(kind, counts, sizes)
	if err != nil {
		return Chart{}, err
	}
	return AttributesAround(rate, kind, counts, sizes, rules)
}

// Rate returns the mean rate of phase 1 counts: the fraction of bad units for P
// and NP, the faults per count for C, per unit of size for U. The arguments are
// those of Attributes.
func Rate(kind Count, counts, sizes []float64) (float64, error) {
	if err := counted(kind, counts, sizes); err != nil {
		return 0, err
	}
	total, size := 0.0, 0.0
	for i, c := range counts {
		total += c
		if kind == C {
			size++
		} else {
			size += sizes[i]
		}
	}
	return total / size, nil
}

// AttributesAround charts phase 2 counts around a known rate: the fraction of
// bad units for P and NP, the faults per count for C, per unit of size for U.
func AttributesAround(rate float64, kind Count, counts, sizes []float64, rules []Rule) (Chart, error) {
	if err := counted(kind, counts, sizes); err != nil {
		return Chart{}, err
	}
	if !(rate >= 0) || math.IsInf(rate, 0) || (kind <= NP && rate > 1) {
		return Chart{}, fmt.Errorf("control chart: rate %v: %w", rate, quality.ErrSample)
	}
	series := make([]plotted, len(counts))
	for i, c := range counts {
		n := 1.0
		if kind != C {
			n = sizes[i]
		}
		switch kind {
		case P:
			series[i] = plotted{c / n, rate, math.Sqrt(rate * (1 - rate) / n), 0}
		case NP:
			series[i] = plotted{c, n * rate, math.Sqrt(n * rate * (1 - rate)), 0}
		case C:
			series[i] = plotted{c, rate, math.Sqrt(rate), 0}
		case U:
			series[i] = plotted{c / n, rate, math.Sqrt(rate / n), 0}
		}
	}
	return chartOf(series, rules), nil
}

// counted refuses what is no count, and names it.
func counted(kind Count, counts, sizes []float64) error {
	if kind < P || kind > U {
		return fmt.Errorf("control chart: kind %d of counts: %w", int(kind), quality.ErrSample)
	}
	if err := quality.Usable(counts, 1); err != nil {
		return fmt.Errorf("control chart: counts: %w", err)
	}
	if kind != C && len(sizes) != len(counts) {
		return fmt.Errorf("control chart: %d counts, but %d sizes: %w", len(counts), len(sizes), quality.ErrSample)
	}
	for i, c := range counts {
		switch {
		case c < 0 || c != math.Trunc(c):
			return fmt.Errorf("control chart: count %d is %v: %w", i+1, c, quality.ErrSample)
		case kind == C:
		case !(sizes[i] > 0) || math.IsInf(sizes[i], 0):
			return fmt.Errorf("control chart: size %d is %v: %w", i+1, sizes[i], quality.ErrSample)
		case kind <= NP && c > sizes[i]:
			return fmt.Errorf("control chart: count %d is %v of %v: %w", i+1, c, sizes[i], quality.ErrSample)
		}
	}
	return nil
}
