package statistics

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality"
)

// dash stands for what is undefined.
const dash = "–"

// show prints a number with six significant digits.
func show(v float64) string { return digits(v, 6) }

// showP prints a probability with four.
func showP(v float64) string { return digits(v, 4) }

func digits(v float64, n int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return dash
	}
	return strconv.FormatFloat(v, 'g', n, 64)
}

// percent prints a share of 1.
func percent(share float64) string {
	if math.IsNaN(share) {
		return dash
	}
	return digits(100*share, 4) + " %"
}

func whole(n int) string { return strconv.Itoa(n) }

// between prints an interval.
func between(i quality.Interval) string {
	switch {
	case !i.Defined():
		return dash
	case math.IsInf(i.High, 1):
		return show(i.Low) + " and more"
	}
	return show(i.Low) + " to " + show(i.High)
}

// counted prints a number of things.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// right and left make the columns of a table.
func right(title string) page.StudyColumn { return page.StudyColumn{Title: title, Right: true} }

func left(title string) page.StudyColumn { return page.StudyColumn{Title: title} }

// row makes a row of a table.
func row(cells ...string) page.StudyRow { return page.StudyRow{Cells: cells, Tone: page.Plain} }

// printSection prints a section for a person at a terminal.
func printSection(w io.Writer, s page.StudySection) {
	if s.Title != "" {
		fmt.Fprintf(w, "\n%s\n", plot.Visible(s.Title))
	}
	if s.Lead != "" {
		fmt.Fprintln(w, plot.Visible(s.Lead))
	}
	var facts []page.StudyRow
	for _, f := range s.Facts {
		facts = append(facts, row(f.Label, f.Text))
	}
	printRows(w, []page.StudyColumn{left(""), left("")}, facts)
	for _, t := range s.Tables {
		fmt.Fprintln(w)
		if t.Title != "" {
			fmt.Fprintln(w, t.Title)
		}
		var titles []string
		for _, c := range t.Columns {
			titles = append(titles, c.Title)
		}
		printRows(w, t.Columns, append([]page.StudyRow{row(titles...)}, t.Rows...))
		if t.Note != "" {
			fmt.Fprintln(w, "  "+t.Note)
		}
	}
}

// printRows prints cells in columns as wide as their widest.
func printRows(w io.Writer, columns []page.StudyColumn, rows []page.StudyRow) {
	width := make([]int, len(columns))
	for _, r := range rows {
		for i, c := range r.Cells {
			width[i] = max(width[i], utf8.RuneCountInString(plot.Visible(c)))
		}
	}
	for _, r := range rows {
		line := " "
		for i, c := range r.Cells {
			c = plot.Visible(c)
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
			if columns[i].Right {
				line += " " + pad + c + " "
			} else {
				line += " " + c + pad + " "
			}
		}
		fmt.Fprintln(w, strings.TrimRight(line, " "))
	}
}
