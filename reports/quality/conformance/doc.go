// Package conformance says what a measurement's uncertainty does to a verdict.
//
// A measured value with a standard uncertainty is a normal law of the true
// value; the probability that this lies within the limits is the Probability of
// conformance, the rest the risk of the one decision. A Rule draws the acceptance
// limits inside the limits by a guard band of r times the expanded uncertainty
// (coverage factor 2), so that the risk of accepting wrongly stays small. Over
// many units of a process the global Risks of a rule tell how many bad ones pass
// and how many good ones do not.
//
// An open limit is infinite. Results are NaN for an uncertainty that is not
// positive, and for limits the wrong way round.
package conformance
