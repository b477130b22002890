// Package compare asks whether two samples differ, or are alike enough.
//
// These are two questions. A difference test (Welch, MannWhitney,
// KolmogorovSmirnov, Fisher) can only say that samples differ, or that it saw no
// difference; with few units it sees none. An Equivalence says that the
// difference lies within a margin that was stated beforehand, and it needs units
// enough to say so (Power, EquivalencePower). Every test comes with the size of
// the effect and its interval, because a p-value is no size.
//
// Where many characteristics are compared at once some differ by chance: Holm
// keeps the probability of a single false claim, BenjaminiHochberg the share of
// false ones among the claims.
//
// A difference is always the first sample minus the second. P-values are
// two-sided unless named otherwise; NaN where nothing can be tested (two samples
// without spread).
package compare
