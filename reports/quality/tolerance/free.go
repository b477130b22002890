package tolerance

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
)

// Confidence returns the trust that the limits hold the coverage, of whatever
// law the units are, when the limits are those of a sample of n after dropping
// the m-1 outermost values: m = 1 is one limit at the extreme value, m = 2 the
// smallest and the largest, or one limit at the value next to the extreme.
// Domain: 1 <= m <= n, coverage strictly between 0 and 1; NaN outside.
//
// Source: Wilks, Annals of Mathematical Statistics 12 (1941) 91: the coverage
// follows the beta law with parameters n-m+1 and m.
func Confidence(n, m int, coverage float64) float64 {
	if m < 1 || m > n || !quality.Probability(coverage) {
		return math.NaN()
	}
	return mathext.RegIncBeta(float64(m), float64(n-m+1), 1-coverage)
}

// ExtremeSize returns the fewest units whose extreme value, on the side that
// matters, is a limit that holds the coverage with the confidence; 0 outside
// the domain.
func ExtremeSize(coverage, confidence float64) int { return size(1, coverage, confidence) }

// RangeSize returns the fewest units whose smallest and largest value are
// limits that hold the coverage with the confidence; 0 outside the domain.
func RangeSize(coverage, confidence float64) int { return size(2, coverage, confidence) }

func size(m int, coverage, confidence float64) int {
	if !known(2, coverage, confidence) {
		return 0
	}
	holds := func(n int) bool { return Confidence(n, m, coverage) >= confidence }
	high := 2 * m
	for !holds(high) {
		if high > math.MaxInt/4 {
			return 0
		}
		high *= 2
	}
	return root.First(holds, m, high)
}

// Dropped returns how many of the outermost values of n may be dropped, on both
// sides together, so that the limits still hold the coverage with the
// confidence: 1 leaves the extreme value itself as the one limit, 2 the smallest
// and the largest. It is 0 when even the extreme value does not do.
func Dropped(n int, coverage, confidence float64) int {
	if !known(max(n, 2), coverage, confidence) || n < 1 {
		return 0
	}
	return root.First(func(m int) bool { return Confidence(n, m, coverage) < confidence }, 1, n) - 1
}
