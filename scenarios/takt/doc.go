// Package takt says where the time of a run goes, how little of it physics
// would need, and in which order the rounds of a scenario cost least.
//
// A Watch follows one run on one bench: it is put between the bench and the
// hardware it was opened on, and between the run and the bench. Every stretch of
// the run has one cause: the bus that carries coil patterns, contacts that come
// to rest, VBUS that is emptied, a supply that debounces and rises or lets go, a
// hold that the scenario asks for, mains periods that are averaged over. The
// stretches of a run, one after the other without a gap, are its Timeline.
//
// The Floor is the same run with nothing but what physics demands, computed from
// the wiring, the product and the scenario, each part with its formula and where
// its figures stand. Supplies take their typical times: the middle of what the
// standard allows. Fixed is what a bench without conditional waits would take:
// every wait as long as it may ever be.
//
// A Plan is the order of the rounds that costs least. A round is a node; what it
// needs before it (scenarios.Round) is its precedence; the cost of an edge is the
// time and the relay operations between the last setting of one round and the
// first of the next. Time is expected over a mix of good and faulty units, each
// with the time that it was seen to take in each round; where the scenario asks
// only for hazards after a fail, a unit that failed costs no more time in other
// rounds, so what finds the frequent faults quickly comes early. Dynamic
// programming over the sets of rounds finds the best order; where there are too
// many sets, a local search finds a good one, and the plan says so.
//
// A Study collects what many runs tell: the mean timeline, what each round costs
// each class of unit, the relay operations. It takes runs as scenarios/population
// hands them out and never asks what they ran on.
package takt
