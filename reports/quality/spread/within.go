package spread

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
	"sinkproof/reports/quality/moments"
)

// Method is a way to estimate the spread within subgroups.
type Method int

// Methods. They agree on a stable process; they differ in what they are worth
// (degrees of freedom) and how they take outliers.
const (
	Pooled         Method = iota // root of the mean of variances, weighted by n-1
	PooledUnbiased               // the same over c4 of its degrees of freedom
	MeanRange                    // mean of R/d2, weighted
	MeanDeviation                // mean of s/c4, weighted
	MovingRange                  // of neighbours, for values without subgroups
)

// String returns the name of the method.
func (m Method) String() string {
	names := []string{"pooled", "pooled over c4", "mean range", "mean deviation", "moving range"}
	if m < 0 || int(m) >= len(names) {
		return fmt.Sprintf("method %d", int(m))
	}
	return names[m]
}

// Estimate is an estimated standard deviation with the degrees of freedom that
// it is worth.
type Estimate struct {
	SD float64
	DF float64
}

// Within returns the spread within the subgroups by the method. Subgroups of
// one value do not count, save by MovingRange, which takes all values in their
// order as single ones. An error wraps quality.ErrSample when fewer than two
// values can be compared.
//
// Subgroups may differ in size: estimates are combined with the weights of
// smallest variance (Burr, Journal of Quality Technology 1 (1969) 163); for
// equal sizes they are the plain means over d2 and c4.
func Within(subgroups [][]float64, by Method) (Estimate, error) {
	for i, g := range subgroups {
		if err := quality.Usable(g, 1); err != nil {
			return Estimate{}, fmt.Errorf("subgroup %d: %w", i+1, err)
		}
	}
	if by == MovingRange {
		return movingRange(slices.Concat(subgroups...))
	}
	groups := slices.DeleteFunc(slices.Clone(subgroups), func(g []float64) bool { return len(g) < 2 })
	if len(groups) == 0 {
		return Estimate{}, fmt.Errorf("spread within subgroups: no subgroup holds two values: %w", quality.ErrSample)
	}
	if by == MeanRange || by == MeanDeviation {
		return weighted(groups, by), nil
	}
	s := pooled(groups)
	if by == PooledUnbiased {
		s.SD /= law.C4(s.DF)
	}
	return s, nil
}

func pooled(groups [][]float64) Estimate {
	squares, df := 0.0, 0.0
	for _, g := range groups {
		squares += moments.Of(g).Moments().SquaresFromMid
		df += float64(len(g) - 1)
	}
	return Estimate{SD: math.Sqrt(squares / df), DF: df}
}

// weighted combines R/d2 or s/c4 of the groups, each weighted by the inverse
// of its variance relative to sigma, d3²/d2² or (1-c4²)/c4².
func weighted(groups [][]float64, by Method) Estimate {
	known := map[int][2]float64{} // size: divisor, weight
	sum, total := 0.0, 0.0
	for _, g := range groups {
		c, ok := known[len(g)]
		if !ok {
			c = constants(len(g), by)
			known[len(g)] = c
		}
		sum += c[1] * statistic(g, by) / c[0]
		total += c[1]
	}
	return Estimate{SD: sum / total, DF: law.Degrees(1 / total)}
}

func constants(n int, by Method) (c [2]float64) {
	if by == MeanRange {
		r := law.Range{N: n}
		d2, d3 := r.Mean(), r.SD()
		return [2]float64{d2, d2 * d2 / (d3 * d3)}
	}
	c4 := law.C4(float64(n - 1))
	return [2]float64{c4, c4 * c4 / ((1 - c4) * (1 + c4))}
}

func statistic(g []float64, by Method) float64 {
	if by == MeanRange {
		return slices.Max(g) - slices.Min(g)
	}
	return moments.Of(g).SD()
}

// movingRange estimates the spread from the mean distance of neighbours.
//
// Its worth follows from the covariance of two distances that share a value:
// for a correlation of 1/2 the expected product of absolute values is
// (2/pi)(sqrt(3)/2 + asin(1/2)/2) in units of their variance (Nabeya, Annals of
// the Institute of Statistical Mathematics 3 (1951) 2).
func movingRange(data []float64) (Estimate, error) {
	if len(data) < 2 {
		return Estimate{}, fmt.Errorf("moving range of %d values, at least 2 are needed: %w", len(data), quality.ErrSample)
	}
	sum := 0.0
	for i := 1; i < len(data); i++ {
		sum += math.Abs(data[i] - data[i-1])
	}
	k := float64(len(data) - 1)
	d2 := law.Range{N: 2}.Mean()
	own := 2 - 4/math.Pi
	shared := 4 / math.Pi * (math.Sqrt(3)/2 + math.Asin(0.5)/2 - 1)
	variance := (k*own + 2*(k-1)*shared) / (k * k)
	return Estimate{SD: sum / k / d2, DF: law.Degrees(variance / (d2 * d2))}, nil
}
