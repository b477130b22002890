package page

// Takt is the view of where the time of a scenario goes: a typical run stretch
// by stretch, the floor that physics sets, and the order that costs least.
type Takt struct {
	Title string
	// Lead says in a sentence or two what was found.
	Lead    string
	Caution string
	Tally   []TallyRow
	// Causes are what time can go to, in the order of the figures.
	Causes []TaktCause
	// Runs are the sums by cause, a bar for each.
	Runs []TaktRun
	// Charts are typical runs in time, a row for each round.
	Charts []TaktChart
	// Rounds are the rounds of the planned order.
	Rounds []TaktRound
	// Floor are the parts of the floor, equal ones together.
	Floor []TaktPart
	// Nests are what several nests on one computer give.
	Nests []TaktNest
	// Findings are the conclusions, Facts what it rests on.
	Findings []Row
	Facts    []Row
	Method   []string
	// Started dates the documents, RFC 3339.
	Started string
}

// TaktCause is a cause with its sums as texts: one for each of the columns of
// Runs.
type TaktCause struct {
	Name string
	Sums []string
}

// TaktRun is the sum of a run by cause, in seconds, in the order of Causes.
type TaktRun struct {
	Label string
	Parts []float64
	Text  string
}

// TaktChart is a run in time.
type TaktChart struct {
	Title string
	// Aligned lets every round begin at 0, so that what is inside of it can be
	// told apart.
	Aligned bool
	// Span is the length of the axis in seconds.
	Span float64
	Rows []TaktRow
}

// TaktRow is one round. Floor is what physics needs of it, counted from its
// beginning.
type TaktRow struct {
	Label string
	Bars  []TaktBar
	Floor []TaktBar
	Text  string
}

// Note says how a chart is read.
func (c TaktChart) Note() string {
	if c.Aligned {
		return "Every round begins at 0. The thin bar below is what physics needs for it, in the same colours."
	}
	return "Each round stands in its row, at its place in time. The dark line below a bar is as long as what physics needs for the round; at the right: what the round took, and what physics needs."
}

// TaktBar is a stretch with one cause, by its place in Causes.
type TaktBar struct {
	From, To float64
	Cause    int
}

// TaktRound is one round in figures.
type TaktRound struct {
	Name, Title               string
	Took, Floor, Over         string
	Operations, Largest, Note string
	Tone                      Tone
}

// TaktPart is a part of the floor.
type TaktPart struct {
	Cause, How, Count, Each, Sum string
}

// TaktNest is what several nests give at one frequency of the buses: units an
// hour of one and of all, and the load of the buses.
type TaktNest struct {
	Bus, One, All, Times string
	OneLoad, Load        string
	Note                 string
	Tone                 Tone
}
