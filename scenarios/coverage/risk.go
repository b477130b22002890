package coverage

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// Normal is a normal distribution.
type Normal struct {
	Mean float64 `json:"mean"`
	SD   float64 `json:"sd"`
}

// Band is an interval of values; an open side is infinite.
type Band struct{ Low, High float64 }

// Risks are the global risks of a conformity decision, as probabilities.
type Risks struct {
	// Conforming is the share of the production within the tolerance.
	Conforming float64 `json:"conforming"`
	// Accepted is the share whose measured value is in the acceptance interval.
	Accepted float64 `json:"accepted"`
	// Consumer is the probability that a unit does not conform and is accepted.
	Consumer float64 `json:"consumer"`
	// Producer is the probability that a unit conforms and is rejected.
	Producer float64 `json:"producer"`
}

// Global returns the risks of accepting, within the acceptance interval, what
// is to conform with the tolerance, for a production of normally distributed
// true values and a measurement with the standard uncertainty u > 0, normally
// distributed about them. NaN for a spread that is not above zero.
//
// Source: JCGM 106:2012, 9.5: R_C is the integral over the values outside the
// tolerance, R_P that over those inside. Method:
// Gauss-Legendre in pieces that end at the limits, eight standard deviations
// to each side of the mean; the rest is below 1e-15.
func Global(production Normal, u float64, tolerance, acceptance Band) Risks {
	if !(production.SD > 0) || !(u > 0) {
		return Risks{math.NaN(), math.NaN(), math.NaN(), math.NaN()}
	}
	least, most := production.Mean-8*production.SD, production.Mean+8*production.SD
	within := Band{max(least, min(most, tolerance.Low)), min(most, max(least, tolerance.High))}
	accepted := func(from, to float64) float64 {
		return integral(from, to, u, acceptance, func(truth float64) float64 {
			z := (truth - production.Mean) / production.SD
			density := math.Exp(-z*z/2) / (production.SD * math.Sqrt(2*math.Pi))
			return density * (phi((acceptance.High-truth)/u) - phi((acceptance.Low-truth)/u))
		})
	}
	r := Risks{Conforming: phi((tolerance.High-production.Mean)/production.SD) - phi((tolerance.Low-production.Mean)/production.SD)}
	// A measured value is the sum of two normal ones, and normal itself.
	both := math.Hypot(production.SD, u)
	r.Accepted = phi((acceptance.High-production.Mean)/both) - phi((acceptance.Low-production.Mean)/both)
	r.Consumer = accepted(least, within.Low) + accepted(within.High, most)
	r.Producer = max(0, r.Conforming-accepted(within.Low, within.High))
	return r
}

// integral integrates over pieces that are short where the integrand turns:
// within ten u of an acceptance limit.
func integral(from, to, u float64, acceptance Band, f func(float64) float64) float64 {
	if !(to > from) {
		return 0
	}
	cuts := []float64{from}
	for _, limit := range []float64{acceptance.Low, acceptance.High} {
		for k := -10; k <= 10; k++ {
			if x := limit + float64(k)*u; x > cuts[len(cuts)-1] && x < to {
				cuts = append(cuts, x)
			}
		}
	}
	cuts = append(cuts, to)
	sum := 0.0
	const pieces, points = 8, 16
	for i := range cuts[1:] {
		width := (cuts[i+1] - cuts[i]) / pieces
		for p := range pieces {
			start := cuts[i] + float64(p)*width
			sum += quad.Fixed(f, start, start+width, points, quad.Legendre{}, 0)
		}
	}
	return sum
}

// phi is the distribution function of the standard normal distribution.
func phi(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// Conformance returns the probability that a value lies within the tolerance
// which was measured as x with the standard uncertainty u > 0, where nothing
// else is known of it (JCGM 106:2012, 7.2 to 7.4). One minus it is the
// specific consumer's risk of accepting that value.
func Conformance(x, u float64, tolerance Band) float64 {
	return phi((tolerance.High-x)/u) - phi((tolerance.Low-x)/u)
}
