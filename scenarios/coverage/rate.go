package coverage

import (
	"math"

	"sinkproof/reports/quality/proportion"
)

// Rate is a count out of a number, with the exact interval for the fraction
// behind it.
type Rate struct {
	Count int `json:"count"`
	Of    int `json:"of"`
	// Share is Count/Of; Low and High bound the fraction at the confidence of
	// the study (Clopper and Pearson). Of nothing, anything may be true: 0 to 1.
	Share float64 `json:"share"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// newRate returns the rate of count out of a number.
func newRate(count, of int, confidence float64) Rate {
	if of == 0 {
		return Rate{High: 1}
	}
	i := proportion.ClopperPearson(count, of, confidence)
	return Rate{Count: count, Of: of, Share: float64(count) / float64(of), Low: i.Low, High: i.High}
}

// times scales a rate by a known factor, as when only a share of a lot can
// show it.
func (r Rate) times(factor float64) Estimate {
	return Estimate{Value: r.Share * factor, Low: r.Low * factor, High: math.Min(1, r.High*factor)}
}

// Estimate is a computed share with its interval.
type Estimate struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}
