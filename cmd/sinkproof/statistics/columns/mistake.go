package columns

import (
	"fmt"
	"strings"
)

// Mistake is what is wrong with a file, where, and what to do about it.
type Mistake struct {
	File string
	// Line counts from 1; 0 where the whole file is meant.
	Line int
	// Column is the name of the column; empty where the whole line is meant.
	Column  string
	Problem string
	// Hint is the person's next step; it may be empty.
	Hint string
}

func (m *Mistake) Error() string {
	var text strings.Builder
	text.WriteString(m.File)
	if m.Line > 0 {
		fmt.Fprintf(&text, ": line %d", m.Line)
	}
	if m.Column != "" {
		fmt.Fprintf(&text, ", column %s", quoted(m.Column))
	}
	return text.String() + ": " + m.Problem
}

// shown is how much of a cell or a name stands in a message.
const shown = 40

// quoted prints a text of the file for a message: short, on one line.
func quoted(text string) string {
	if runes := []rune(text); len(runes) > shown {
		text = string(runes[:shown]) + "…"
	}
	return fmt.Sprintf("%q", text)
}

// listed prints names for a message, the first dozen of them.
func listed(names []string) string {
	const most = 12
	var out []string
	for i, n := range names {
		if i == most {
			out = append(out, fmt.Sprintf("and %d more", len(names)-most))
			break
		}
		out = append(out, quoted(n))
	}
	return strings.Join(out, ", ")
}
