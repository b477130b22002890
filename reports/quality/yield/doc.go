// Package yield counts which share of units passes, through one step or many.
//
// First-pass yield counts a unit as passed when it passed at the first time of
// asking; final yield also counts what rework saved. Through several steps the
// first-pass yields multiply to the rolled throughput yield, the share of units
// that nobody had to touch. Where a unit has many opportunities to fail, faults
// are counted per opportunity.
//
// Yields are shares between 0 and 1; NaN where nothing was counted or counts
// make no sense (more passed than came in). A level that is infinite, as that of
// a step without a fault, is infinite and no number.
package yield
