package record

import (
	"math"

	"sinkproof/reports/quality/conformance"
)

// Conformity is what the uncertainty of a check's value means for its answer.
type Conformity struct {
	// Conforms is the probability that the true value keeps the tolerance limits.
	Conforms float64
	// Risk is the probability that this one answer is wrong: the specific
	// consumer's risk of a pass, the specific producer's risk of a fail.
	Risk float64
}

// Conformity works out what the record's own numbers say, so that nothing has to
// be kept beside them: the true value is normal about the value with the standard
// uncertainty U/2, and nothing is known of the process (JCGM 106:2012, 7.2; 3.3.13
// and 3.3.14 for the specific risks).
//
// It is nil for what says nothing: an unanswered check, no value, a bound, no
// uncertainty, no limit.
func (c Check) Conformity() *Conformity {
	if c.Answer == Unanswered || c.Value == nil || c.Value.Bound != "" || !(c.Value.U > 0) || c.Lower == nil && c.Upper == nil {
		return nil
	}
	l := conformance.Limits{Lower: math.Inf(-1), Upper: math.Inf(1)}
	if c.Lower != nil {
		l.Lower = c.Lower.Value
	}
	if c.Upper != nil {
		l.Upper = c.Upper.Value
	}
	u := c.Value.U / 2
	k := &Conformity{Conforms: l.Probability(c.Value.Value, u)}
	k.Risk = k.Conforms
	if c.Answer == Passed {
		k.Risk = l.Risk(c.Value.Value, u) // which keeps its digits when small
	}
	if math.IsNaN(k.Conforms) || math.IsNaN(k.Risk) {
		return nil // limits the wrong way round
	}
	return k
}
