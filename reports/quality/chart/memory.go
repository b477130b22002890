package chart

import (
	"fmt"
	"math"

	"sinkproof/reports/quality"
)

// EWMA is a chart of exponentially weighted moving averages.
type EWMA struct {
	Chart                                    // limits of each point at its own standard deviation
	AsymptoticLower, AsymptoticUpper float64 // where the limits tend to
}

// Moving charts the averages w·x + (1-w)·before of values, or of means of
// subgroups, that lie around target with the standard deviation sigma. The
// average starts at the target; the limits lie width of its standard
// deviations away (3, or 2.7 for a weight of 0.1). Domain: 0 < weight <= 1,
// sigma > 0, width > 0, at least one value.
//
// Source: Montgomery, section 9.2; NIST/SEMATECH e-Handbook, section 6.3.2.4, whose limits are
// the asymptotic ones.
func Moving(values []float64, target, sigma, weight, width float64) (EWMA, error) {
	if err := quality.Usable(values, 1); err != nil {
		return EWMA{}, fmt.Errorf("EWMA chart: %w", err)
	}
	if !(weight > 0 && weight <= 1) || !(sigma > 0) || !(width > 0) || math.IsNaN(target) || math.IsInf(sigma+width+target, 0) {
		return EWMA{}, fmt.Errorf("EWMA chart: target %v, sigma %v, weight %v, width %v: %w", target, sigma, weight, width, quality.ErrSample)
	}
	final := width * sigma * math.Sqrt(weight/(2-weight))
	e := EWMA{AsymptoticLower: target - final, AsymptoticUpper: target + final}
	average := target
	for i, v := range values {
		average = weight*v + (1-weight)*average
		// 1 - (1-w)^(2i), by logarithms for small weights.
		grown := -math.Expm1(2 * float64(i+1) * math.Log1p(-weight))
		half := final * math.Sqrt(grown)
		p := Point{Index: i + 1, Value: average, Centre: target, Lower: target - half, Upper: target + half}
		if average < p.Lower || average > p.Upper {
			p.Violations = []Rule{BeyondLimits}
		}
		e.Points = append(e.Points, p)
	}
	e.common()
	return e, nil
}

// Cusum is a chart of cumulated sums. Value of a point is the larger of the two
// one-sided sums, the lower one negative; its limits are the decision interval.
type Cusum struct {
	Chart
	High, Low []float64 // one-sided sums, both counted upwards
	Sum       []float64 // of all deviations from the target
}

// Cumulate charts the one-sided sums of deviations from target beyond slack
// against the decision interval, both in the unit of the values: half a standard
// deviation and four to five are common. A sum is not reset by its alarm.
// Domain: slack >= 0, decision > 0, at least one value.
//
// Source: Page, Biometrika 41 (1954) 100; NIST/SEMATECH e-Handbook, section 6.3.2.3.
func Cumulate(values []float64, target, slack, decision float64) (Cusum, error) {
	if err := quality.Usable(values, 1); err != nil {
		return Cusum{}, fmt.Errorf("CUSUM chart: %w", err)
	}
	if !(slack >= 0) || !(decision > 0) || math.IsNaN(target) || math.IsInf(target+slack+decision, 0) {
		return Cusum{}, fmt.Errorf("CUSUM chart: target %v, slack %v, decision %v: %w", target, slack, decision, quality.ErrSample)
	}
	c := Cusum{}
	var high, low, sum float64
	for i, v := range values {
		d := v - target
		high, low, sum = math.Max(0, high+d-slack), math.Max(0, low-d-slack), sum+d
		c.High, c.Low, c.Sum = append(c.High, high), append(c.Low, low), append(c.Sum, sum)
		p := Point{Index: i + 1, Value: high, Lower: -decision, Upper: decision}
		if low > high {
			p.Value = -low
		}
		if high > decision || low > decision {
			p.Violations = []Rule{BeyondLimits}
		}
		c.Points = append(c.Points, p)
	}
	c.common()
	return c, nil
}
