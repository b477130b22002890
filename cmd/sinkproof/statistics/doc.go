// Package statistics is the part of the command that answers questions about
// numbers: studies of a column of values, and sampling plans for a lot.
//
// A source is a table that somebody brings (package columns) or the readings of
// one check in a ledger; either gives rows with a value and texts to group them
// by. A command reads its source, asks package quality, and makes one finding
// of the answer, which is shown in every way that was asked for: as a table, as
// JSON, as a page, as PDF. What is undefined is left out of JSON, and a dash
// elsewhere; no NaN and no infinity is printed.
//
// A mistake of the input is a Trouble, with the next step apart. A judgement
// that was asked for and is negative is ErrNegative, after the answer was
// printed. Which exit codes these are is the business of the command.
package statistics
