// Package golden proves a rig with units whose answer is known.
//
// A golden unit is a passive board, good or with a known fault, that is run
// through the plug like any unit. What is expected of it (its verdict, the
// checks that must fail, the values that must lie in a range) is registered in
// the ledger by a named person, together with the time for which a good answer
// stands.
//
// A shift is open for a product on a rig while every golden unit of the two has
// answered as expected within its time: with the files that the production runs
// are made from and on the calibration that they stand on, since a good answer
// proves nothing about another scenario or another correction. Its latest run under
// these terms counts; one that was interrupted or could not be judged closes the
// shift as well as one that deviates, which does so under any terms.
//
// The drift of a golden unit is the series of the values of its checks, on a
// control chart whose limits come from the first good answers: the same board
// should read the same for ever, so that what moves is the rig.
package golden
