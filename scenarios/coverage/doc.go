// Package coverage tells what a scenario lets escape and what it wrongly
// rejects, from a simulated population (package population) whose truth is
// known.
//
// A question is a check with all its rounds. A unit is caught by a question
// when the question fails on it; a question that is never the only one to
// catch a unit is redundant on what was simulated. An escape is a unit with a
// fault that passes, a false reject a good unit that fails. A unit without a
// verdict is neither and is counted apart.
//
// No rate stands without its interval: of none in a thousand it is said how
// many there may be (Clopper and Pearson, exact).
//
// A Study takes one record after the other and keeps counts of it: the memory
// grows with the number of classes and checks and not with the number of
// units. Curves come from judging the kept readings again, with another guard
// factor or with limits that are moved; nothing is simulated twice.
//
// A characteristic is a property of a unit whose true value the simulation
// knows and which a check measures. For it the risks of JCGM 106:2012 are
// counted, and computed for the normal distributions that fit it: the global
// consumer's risk is the probability that a unit does not conform and is
// accepted, the producer's that it conforms and is rejected (9.5).
package coverage
