// Package wear counts what a rig's parts have done and says when they are to be
// replaced.
//
// Nothing is counted in a file of its own that a power cut could spoil: the
// signed records of the ledger hold every move of every coil and every re-seat,
// and the count is their sum. A run that was interrupted left an opening, and
// no moves. It counts as the longest closed run of its scenario, for each part
// by itself, so that the count is never too low by what a power cut took away;
// how much of it is such an estimate is said.
//
// An operation is one closing of a contact with its opening. A mate cycle is
// one plugging of a unit or of the check receptacle.
//
// Rated lives are those of the wiring file. A forecast takes the mean rate of
// the days on record.
package wear
