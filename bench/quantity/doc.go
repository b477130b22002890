// Package quantity is the one scheme in which this program names a value.
//
// A quantity is a number in SI base units together with its dimension. It is
// written with a unit ("4.75 V", "5.1 kΩ", "2 %") and read from the same text:
// what String prints, Parse takes back to the same float64. Arithmetic keeps
// the dimension and refuses what makes no sense.
//
// A unit is a written name for an amount of a dimension, with or without an SI
// prefix; units combine with / and ·, as in "V/ms". Prefixes are exact: m is
// milli and M is mega, and a number without its unit is a mistake, not a
// default.
//
// A measured value is a quantity with the contributions to its uncertainty. A
// contribution is one cause of error: its source, its standard uncertainty and
// the sensitivity of the value to it. Two values that name the same source
// share that error, so in a ratio of two readings of one converter the gain of
// the converter cancels. Arithmetic propagates the contributions to first
// order, as the Guide to the expression of uncertainty in measurement (JCGM
// 100:2008, section 5) describes; a standard or expanded uncertainty is formed
// only to print or to judge.
//
// A bound is a measured value of which only one side is known, because the
// input was saturated or a search ended: the true value is at least, or at
// most, the one given.
package quantity
