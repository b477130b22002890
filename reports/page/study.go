package page

import "sinkproof/reports/page/plot"

// Study is the view of a statistical study: what was asked, the answer, the
// figures behind it, and the pictures.
type Study struct {
	// Kind is what it is ("Capability study"), Title what it is about.
	Kind, Title string
	// Simulated says what of the data came from a simulated bench, and stands in
	// a box of its own; empty where none did.
	Simulated string
	// Lead says in a sentence what came out.
	Lead string
	// Verdict is the judgement, where one was asked, and Tone how it went.
	Verdict string
	Tone    Tone
	// Sections are the answers: one, or one for each group.
	Sections []StudySection
	// Method says how the figures came about, with the sources.
	Method []string
	// Started dates the documents, RFC 3339; empty where nothing dates the
	// data, so that the same data give the same bytes.
	Started string
}

// StudySection is one answer.
type StudySection struct {
	Title, Lead string
	Facts       []Row
	Tables      []StudyTable
	Figures     []StudyFigure
}

// StudyFigure is a picture. Halves stand in pairs beside each other.
type StudyFigure struct {
	plot.Figure
	Half bool
}

// StudyTable is a table of texts.
type StudyTable struct {
	Title, Note string
	Columns     []StudyColumn
	Rows        []StudyRow
}

// StudyColumn is a column with its title; figures stand at its right.
type StudyColumn struct {
	Title string
	Right bool
}

// StudyRow is a row, a cell per column.
type StudyRow struct {
	Cells []string
	Tone  Tone
}
