// Package chart watches whether a process stays what it was.
//
// A chart plots one statistic per subgroup against a centre and two limits, at
// three standard deviations of the statistic. Charts of measured values come in
// pairs, one for location and one for spread (XbarR, XbarS, Individuals);
// charts of counts come alone (P, NP, C, U). EWMA and CUSUM remember the past
// and see small shifts sooner.
//
// In phase 1 centre and spread are estimated from the charted data themselves
// (Variables, Attributes) and the question is whether the process was stable.
// In phase 2 they stand fixed (Baseline.Variables, AttributesAround) and the
// question is whether it still is. Subgroups may differ in size; limits then
// differ from point to point.
//
// A violation is a point at which a rule is broken. Every rule buys sooner
// alarms with more false ones; FalseAlarms and RunLength say how many.
package chart
