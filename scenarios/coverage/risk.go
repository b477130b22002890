package coverage

import "sinkproof/reports/quality/conformance"

// Normal is a normal distribution.
type Normal struct {
	Mean float64 `json:"mean"`
	SD   float64 `json:"sd"`
}

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

// risksOf are the risks of accepting, within limits that are drawn in by a guard
// band, a production that is measured with the standard uncertainty u. NaN for
// a spread that is not above zero.
func risksOf(production Normal, u float64, tolerance conformance.Limits, guard float64) Risks {
	r := conformance.Process{Mean: production.Mean, SD: production.SD, Uncertainty: u}.
		Global(conformance.Rule{Limits: tolerance, Guard: guard})
	return Risks{r.Conforming, r.Accepted, r.Consumer, r.Producer}
}
