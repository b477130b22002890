// Package sampling says how many units of a lot to test, and what that proves.
//
// A Plan draws N units and accepts the lot with at most Accept bad ones. Its
// operating characteristic is the probability of acceptance over the fraction
// of bad units, under one of three laws: Hypergeometric for units drawn from one
// lot of known size, Binomial for lots that come from an endless process,
// Poisson for faults of which a unit may have many.
//
// Plans come from four places: the tables of ISO 2859-1 by lot size, level and
// acceptance quality limit (Lookup), with the rules that switch between normal,
// tightened and reduced inspection (Switching); two points of the operating
// characteristic (Find); a quality that must not pass (ZeroAcceptance); and,
// where a measured value decides, the distance of its mean from the limit in
// standard deviations (Variables). A Sequential plan decides after every unit.
//
// Risks and fractions lie between 0 and 1; the acceptance quality limit of the
// standard is in percent, as there. Outside a domain functions of numbers
// return NaN and functions that look for a plan an error that wraps ErrPlan.
package sampling
