package lifetime

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
)

// Step is a time at which units failed, and the share that lives longer.
type Step struct {
	Time     float64
	AtRisk   int // running just before
	Failed   int
	Survival float64
	quality.Interval
}

// KaplanMeier returns the share of survivors over time without trusting in any
// law, one step per time of failure, with the interval of its log-log transform.
// A unit censored at a time of failure was still at risk. It needs a life, all
// times at 0 or above.
//
// Source: Kaplan and Meier, JASA 53 (1958) 457; the variance by Greenwood.
func KaplanMeier(lives []Life, confidence float64) ([]Step, error) {
	if len(lives) == 0 {
		return nil, fmt.Errorf("survival: no life: %w", quality.ErrSample)
	}
	sorted := slices.Clone(lives)
	slices.SortFunc(sorted, func(a, b Life) int {
		switch {
		case a.Time < b.Time:
			return -1
		case a.Time > b.Time:
			return 1
		}
		return 0
	})
	var steps []Step
	survival, greenwood := 1.0, 0.0
	for i := 0; i < len(sorted); {
		at := sorted[i].Time
		if !(at >= 0) || math.IsInf(at, 1) {
			return nil, fmt.Errorf("survival: time %v: %w", at, quality.ErrSample)
		}
		s := Step{Time: at, AtRisk: len(sorted) - i}
		for ; i < len(sorted) && sorted[i].Time == at; i++ {
			if sorted[i].Failed {
				s.Failed++
			}
		}
		if s.Failed == 0 {
			continue
		}
		n, d := float64(s.AtRisk), float64(s.Failed)
		survival *= 1 - d/n
		greenwood += d / (n * (n - d))
		s.Survival, s.Interval = survival, logLog(survival, greenwood, confidence)
		steps = append(steps, s)
	}
	return steps, nil
}

// logLog returns the interval of a survival; undefined when nobody is left.
func logLog(s, greenwood, confidence float64) quality.Interval {
	if !(s > 0 && s < 1) || !quality.Probability(confidence) {
		return quality.Undefined()
	}
	half := mathext.NormalQuantile((1+confidence)/2) * math.Sqrt(greenwood) / math.Abs(math.Log(s))
	return quality.Interval{Low: math.Pow(s, math.Exp(half)), High: math.Pow(s, math.Exp(-half))}
}
