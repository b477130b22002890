// Package quality holds the statistics by which records become decisions.
//
// It is a leaf of pure functions: numbers go in, numbers come out; nothing is
// read, written, timed or drawn by chance. Each noun has a room of its own:
//
//   - moments: what a sample looks like (mean, spread, shape, quantiles).
//   - normality: whether a sample may be called normal.
//   - proportion: what a count of bad units says about their fraction.
//   - spread: how far values lie apart that were made together.
//   - capability: how a process fits between its limits.
//   - tolerance: limits that hold a stated share of all units.
//   - gauge: how much of the spread is the bench's own.
//   - chart: whether a process stays what it was.
//   - sampling: how many units of a lot to test, and what that proves.
//   - compare: whether two samples differ, or are alike enough.
//   - yield: shares of units that pass, through one step or many.
//   - qualification: whether a supplier's boards may be bought in place of today's.
//   - lifetime: how long relays and units last, some of them still running.
//   - conformance: what a measurement's uncertainty does to a verdict.
//   - law: the probability laws behind these that gonum does not have.
//
// Two habits run through all of them. A function of plain numbers returns NaN
// outside its domain, and the doc names the domain; +Inf is an answer (an
// index of a process without spread), NaN never is. A function of data returns
// an error that names the datum, and ErrSample or a sentinel of its own for
// what callers branch on. Neither ever stands for the other.
//
// A name that ends in Low or High, or an Interval, is a confidence interval at
// the confidence given (0.95 stands for 95 %), two-sided with equal tails
// unless its doc says otherwise.
package quality
