package proportion

import (
	"math"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
)

// Needed returns the fewest units that, with bad ones among them, show with the
// confidence that the fraction is at most limit: the n whose UpperBound reaches
// it. For no bad unit it is the success run. It is 0 outside bad >= 0, limit and
// confidence strictly between 0 and 1, and when more than two billion are needed.
func Needed(bad int, limit, confidence float64) int {
	if bad < 0 || bad >= math.MaxInt32 || !quality.Probability(limit) || !quality.Probability(confidence) {
		return 0
	}
	shown := func(n int) bool { return UpperBound(bad, n, confidence) <= limit }
	high := bad + 1
	for !shown(high) {
		if high > math.MaxInt32 {
			return 0
		}
		high *= 2
	}
	return root.First(shown, bad+1, high)
}
