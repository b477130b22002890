// Package moments describes a sample: how many values, where they lie, how far
// they spread, how lopsided and how heavy-tailed they are, and how much each
// resembles the one before it.
//
// A Running takes values one at a time or many at once, in one pass, in memory
// that does not grow. Two Runnings over neighbouring parts of a sample merge
// into the one over the whole. Order statistics (Quantile, Median, Deviation)
// need the whole sample, sorted.
//
// Skewness and kurtosis come in two kinds, because programs differ: Skewness
// and Kurtosis are the sample estimates G1 and G2, unbiased for normal data;
// the population kinds g1 and g2 are named so. Kurtosis is the excess over the
// normal law, whose kurtosis is therefore 0.
package moments
