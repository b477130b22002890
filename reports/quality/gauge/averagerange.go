package gauge

import (
	"math"
	"slices"

	"sinkproof/reports/quality/law"
)

// Ranges is a study by averages and ranges.
type Ranges struct {
	MeanRange       float64 // mean range of trials
	Spread          float64 // range of the appraisers' means
	PartRange       float64 // range of the parts' means
	K1, K2, K3      float64 // factors of the three; 0 for K2 with one appraiser
	UpperRangeLimit float64 // a range of trials beyond it is out of control
	Components
}

// AverageRange separates the components by ranges, as one does on paper. It
// cannot see an interaction.
//
// Source: AIAG MSA, 4th ed., II.D. The factors are computed, and rounded as the
// manual prints them (K to four decimals, the range limit's D4 up to two), so
// that a study agrees with one done by hand to its last digit.
func (s Study) AverageRange() Ranges {
	o, p, n := s.size()
	byPart, byAppraiser := make([]float64, len(s.Parts)), make([]float64, len(s.Appraisers))
	r := Ranges{K1: K1(len(s.Values[0][0])), K3: K3(len(s.Parts))}
	for i, row := range s.Values {
		for j, trials := range row {
			m := mean(trials)
			byPart[j] += m / o
			byAppraiser[i] += m / p
			r.MeanRange += (slices.Max(trials) - slices.Min(trials)) / (o * p)
		}
	}
	r.Spread = slices.Max(byAppraiser) - slices.Min(byAppraiser)
	r.PartRange = slices.Max(byPart) - slices.Min(byPart)
	r.UpperRangeLimit = d4(int(n)) * r.MeanRange
	r.EV = r.K1 * r.MeanRange
	if o > 1 {
		r.K2 = K3(len(s.Appraisers))
		r.AV = math.Sqrt(math.Max(0, square(r.K2*r.Spread)-r.EV*r.EV/(p*n)))
	}
	r.PV = r.K3 * r.PartRange
	r.Components = r.withTotals()
	return r
}

// K1 returns the factor from a mean range of trials to a standard deviation:
// 1/d2, rounded to four decimals. NaN below 2.
func K1(trials int) float64 { return rounded(1 / law.Range{N: trials}.Mean()) }

// K3 returns the factor from one single range of n means to a standard
// deviation: 1/d2*, where d2*² = d2² + d3², rounded to four decimals. It is K2
// of appraisers as well. NaN below 2. (Duncan, Quality Control and Industrial
// Statistics, table D3.)
func K3(n int) float64 {
	r := law.Range{N: n}
	return rounded(1 / math.Hypot(r.Mean(), r.SD()))
}

func rounded(k float64) float64 { return math.Round(k*1e4) / 1e4 }

// d4 is the upper limit of a range of n over the mean range, rounded up.
func d4(n int) float64 {
	r := law.Range{N: n}
	return math.Ceil(100*(1+3*r.SD()/r.Mean())) / 100
}
