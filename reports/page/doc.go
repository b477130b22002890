// Package page writes the reports that people read: the report of one unit,
// as one self-contained HTML file and as PDF, the summary of a set of units as
// one HTML file, and studies (Study): a statistical question with its answer,
// the figures behind it and the pictures.
//
// A report is made from a record and nothing else, by way of one view (Report)
// in which every number is already the text that will stand on the page. HTML
// and PDF only lay that view out, so they cannot differ in what they say. The
// same record gives the same bytes.
//
// The reader was not there: a report says what was asked, in front of which
// supply, what was measured with which uncertainty, where each limit comes
// from, what could not be observed, and how to prove that the record was not
// altered. The verdict and what failed come first; a fail that only follows
// from another is told apart from its cause.
//
// Texts of a record may hold anything. What a reader could not see stands as
// its code point ("‹U+202E›"), and so does, in the PDF and in figures, what
// the embedded font has no glyph for.
package page
