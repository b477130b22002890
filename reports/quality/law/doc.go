// Package law holds the probability laws that gonum does not have, or has only
// in a part that is not enough here.
//
// A law is a distribution with its parameters as a value. Counts are whole
// numbers: Binomial (units drawn from an endless supply), Hypergeometric (drawn
// from a lot), Poisson (defects on an area). Each has a Mass, a CDF, the
// probability Above a count, and a Quantile, the smallest count whose CDF
// reaches a probability.
//
// The continuous ones serve exact intervals: NoncentralT (tolerance factors,
// bounds on capability), Range (constants of control charts), and the laws of
// the rank sum and of the Kolmogorov-Smirnov distance.
package law
