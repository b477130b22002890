// Package population puts many simulated units through one bench and scenario.
//
// A class is a kind of unit: good ones, those with one fault, those with two.
// A plan says how many units of each class there are, and lays them out so
// that every stretch of it holds the classes in their shares: whoever stops
// early still has something of each.
//
// Units come in batches, and each batch meets a rig of its own, drawn anew
// within the tolerances of its parts: the errors of measurement vary as they
// do from rig to rig. What a unit is follows from the seed of its rig and from
// its serial, and a rig takes its units in their order; so nothing depends on
// which worker took a batch, or on how many workers there are.
//
// A Factory makes a rig and a Simulator runs units on it. This package knows
// neither: the command joins them with the twin.
//
// Run hands the outcomes back in the order of the plan. What becomes of a
// record is decided where it was made, by a fold that keeps what is needed and
// lets the rest go; so a large population needs no more memory than a small
// one.
package population
