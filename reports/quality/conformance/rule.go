package conformance

import (
	"math"

	"sinkproof/reports/quality/law"
)

// Limits are what the true value must keep; an open side is infinite.
type Limits struct {
	Lower, Upper float64
}

func (l Limits) valid() bool { return l.Lower < l.Upper }

// Holds reports whether a true value keeps the limits.
func (l Limits) Holds(v float64) bool { return v >= l.Lower && v <= l.Upper }

// Probability returns the probability that the true value keeps the limits, for
// a measured value with standard uncertainty u, without knowledge of the process.
//
// Source: JCGM 106:2012, 7.2.
func (l Limits) Probability(measured, u float64) float64 {
	if !(u > 0) || math.IsInf(u, 0) || !l.valid() || math.IsNaN(measured) {
		return math.NaN()
	}
	below, above := law.Phi((l.Lower-measured)/u), law.Phi((measured-l.Upper)/u)
	return 1 - below - above
}

// Risk returns the probability that a value accepted as measured does not keep
// the limits: the specific consumer's risk. It keeps its digits when small.
func (l Limits) Risk(measured, u float64) float64 {
	if math.IsNaN(l.Probability(measured, u)) {
		return math.NaN()
	}
	return law.Phi((l.Lower-measured)/u) + law.Phi((measured-l.Upper)/u)
}

// Verdict is what a rule says about one measured value.
type Verdict string

// Verdicts. The conditional ones lie within a guard band of a limit.
const (
	Pass            Verdict = "pass"
	ConditionalPass Verdict = "conditional pass"
	ConditionalFail Verdict = "conditional fail"
	Fail            Verdict = "fail"
)

// Rule accepts by limits drawn in by Guard on every side.
type Rule struct {
	Limits
	Guard float64 // width of the guard band, 0 for simple acceptance
}

// Guarded returns the rule with a guard band of r expanded uncertainties.
// (ILAC-G8:09/2019, 4.2: w = r U.)
func Guarded(l Limits, r, expanded float64) Rule { return Rule{l, r * expanded} }

// Acceptance returns the limits of acceptance.
func (r Rule) Acceptance() Limits { return Limits{r.Lower + r.Guard, r.Upper - r.Guard} }

// slack forgives the rounding of limits such as 5.1 - 0.012, relative to the
// size of what was subtracted: a reading on an acceptance limit is accepted.
const slack = 1e-12

// within compares a reading with limits, ends included.
func within(l Limits, measured float64) bool {
	room := slack * math.Abs(measured)
	return measured >= l.Lower-room && measured <= l.Upper+room
}

// Binary returns pass within the acceptance limits and fail elsewhere.
func (r Rule) Binary(measured float64) Verdict {
	if within(r.Acceptance(), measured) {
		return Pass
	}
	return Fail
}

// NonBinary also tells the guard bands on both sides of a limit from certainty.
// (ILAC-G8:09/2019, 4.2.3.)
func (r Rule) NonBinary(measured float64) Verdict {
	switch {
	case within(r.Acceptance(), measured):
		return Pass
	case within(r.Limits, measured):
		return ConditionalPass
	case measured >= r.Lower-r.Guard && measured <= r.Upper+r.Guard:
		return ConditionalFail
	}
	return Fail
}

// LargestRisk returns the risk of a value accepted right on an acceptance limit,
// for a guard band of r times an expanded uncertainty with coverage factor 2: the
// most that one decision risks when the other limit is far.
func LargestRisk(r float64) float64 { return law.Phi(-2 * r) }
