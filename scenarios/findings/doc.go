// Package findings says what is most likely wrong on a unit's board.
//
// A class is a kind of unit: a good one, or one with a fault. A signature is
// what one run says about its unit: each reading, each value that a check
// computed from several readings, and each answer that has no value, by name. A
// fault dictionary holds, for one rig, scenario and product, how the signatures
// of each class are distributed. It is built from runs of units whose class is
// known, which somebody hands in: this package knows no simulation.
//
// A reading that no check rests on alone is called by what its step of the scenario
// waits for or reads, and where: "A portable supply, time until vbus is 4 V or
// more". A run does not say that, so the dictionary keeps it.
//
// What a unit of a class gives is broad, because the severity of a fault is, and
// has many peaks, because a fault can stand at several places. So each
// observation is coded: the values are cut into spans where the classes part
// (the cuts that lower the entropy of the class; Fayyad and Irani 1993, with
// their stopping rule), and what is no value (not reached, a bound, a pass or a
// fail without a value) has codes of its own. A value between or beyond the
// spans has the code "never seen".
//
// Observations depend on each other: ten charge currents are one current. A
// tree over the observations, the one that keeps the most information
// (Friedman, Geiger and Goldszmidt 1997, after Chow and Liu 1968), gives each a
// parent whose code it is conditional on, and a second one where that says more
// (Sahami 1996), so that what varies together within a class is not counted
// again and again. What dependence remains is taken out by one exponent on the
// likelihood, fitted on units that the counts did not see.
//
// A diagnosis is the posterior probability of each class by Bayes' rule, from
// stated priors, with one class more: none of the known faults. It is told by the
// surprise: how much less likely a unit is, under the class that explains it
// best, than units of that class are. How much more often a surprise befalls a
// stranger is fitted by leaving one class after the other out of the dictionary
// and showing it the units of that class.
//
// Faults whose signatures coincide over part of their severity cannot be told
// apart by this scenario. Groups of such faults are computed from the
// dictionary's own confusion, and named with the one measurement by hand that
// would separate them.
//
// A fault of the bench is never a finding about a unit.
package findings
