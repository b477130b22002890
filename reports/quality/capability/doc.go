// Package capability says how a process fits between its limits.
//
// Limits are the specification: a lower and an upper limit, of which one may be
// open, and perhaps a target. An index compares the room that the limits leave
// with the spread of the process; the larger, the better.
//
// There are two spreads. The overall one is the standard deviation of all
// values; its indices are named Pp and Ppk and tell what was delivered. The
// within one is the spread inside subgroups made close together; its indices
// are named Cp and Cpk and tell what the process could do if it stayed where it
// is. Cpm counts the distance from the target as spread.
//
// Indices of normal data come with intervals: exact for Cp and Pp (chi-square)
// and for Cpk and Ppk with one limit (noncentral t), Bissell's approximation
// for Cpk and Ppk with two limits, Boyles' for Cpm. Data that are not normal
// are judged by percentiles (FromQuantiles) or after a Box-Cox transformation.
//
// What is undefined is NaN: Cp with an open limit, Cpm without a target, any
// interval of fewer than two values. Zero spread gives infinite indices.
package capability
