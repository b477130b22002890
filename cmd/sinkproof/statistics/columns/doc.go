// Package columns reads tables of numbers that somebody brings: a header line
// of column names, then one row per line, fields apart by commas, semicolons or
// tabs, whichever the header has.
//
// A reader gives what the file says or a Mistake that names line and column;
// it never guesses a number. A decimal comma, a cell without a value, a header
// that looks like data, a file that is no text are refused, each with what to
// do about it (Format). Windows line ends and a byte-order mark are read over.
//
// Rows stream: a file may be larger than memory, and a cell that nobody asks
// for is not looked at beyond its being text.
package columns
