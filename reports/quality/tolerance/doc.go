// Package tolerance gives limits that hold a stated share of all units, with a
// stated confidence, judged by a sample of them.
//
// For normal data a factor k says how many sample standard deviations the
// limits lie from the sample mean: OneSided for one limit, TwoSided for two.
// Without normality the sample's own extreme values are the limits, and the
// question is how many units that takes (ExtremeSize, RangeSize) or what a
// sample is worth (Confidence, Dropped).
//
// Coverage is the share of units, confidence the trust that the limits hold at
// least that share; both lie strictly between 0 and 1, n is 2 or more. Outside
// results are NaN, or 0 for a number of units.
package tolerance
