package columns

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Format is what the person says about a file.
type Format struct {
	DecimalComma bool // numbers are written 4,75
	NoHeader     bool // the first line holds values; columns are called 1, 2, 3
	SkipEmpty    bool // rows without a value where one is wanted are left out
}

// mostColumns is how many columns a file may have: more than a spreadsheet
// holds (16,384), and so few that a line stays a line.
const mostColumns = 20_000

// Reader reads a file row by row.
type Reader struct {
	lines  lines
	format Format
	sep    byte
	names  []string
	// numeric tells that all names look like numbers: perhaps no header.
	numeric bool
	fields  [][]byte
	// held is the first row of a file without a header.
	held bool
	// unquoted keeps the text of quoted fields.
	unquoted []byte
	number   int // the first line of the present row
	err      error
}

// NewReader reads the header of a file, which messages call name. An error is
// a *Mistake, or says what failed to be read.
func NewReader(in io.Reader, name string, f Format) (*Reader, error) {
	r := &Reader{lines: newLines(in, name), format: f, sep: ','}
	first, err := r.lines.next()
	for err == nil && len(bytes.TrimSpace(first)) == 0 {
		first, err = r.lines.next()
	}
	if errors.Is(err, io.EOF) {
		return nil, &Mistake{File: name, Problem: "empty", Hint: "a table has a line of column names, then one row per line"}
	}
	if err != nil {
		return nil, err
	}
	r.sep = f.separator(first)
	r.number = r.lines.number
	if err := r.split(first); err != nil {
		return nil, err
	}
	return r, r.header()
}

// separator is the one that the header has most of, outside quotes. A comma of
// a decimal number in the first line of a file without header is none.
func (f Format) separator(header []byte) byte {
	var count [3]int
	inside := false
	for _, c := range header {
		switch {
		case c == '"':
			inside = !inside
		case inside:
		case c == ',' && !(f.DecimalComma && f.NoHeader):
			count[0]++
		case c == ';':
			count[1]++
		case c == '\t':
			count[2]++
		}
	}
	switch {
	case count[0] > 0 && count[0] >= count[1] && count[0] >= count[2]:
		return ','
	case count[1] > 0 && count[1] >= count[2]:
		return ';'
	case count[2] > 0:
		return '\t'
	case f.DecimalComma:
		return ';' // one column: its commas are decimal
	}
	return ','
}

// header takes the names from the first line, or numbers the columns.
func (r *Reader) header() error {
	r.numeric = !r.format.NoHeader
	for i, field := range r.fields {
		name := strings.TrimSpace(string(field))
		if r.format.NoHeader {
			name = strconv.Itoa(i + 1)
		} else if _, problem, _ := r.format.number(field); problem != "" {
			r.numeric = false
		}
		r.names = append(r.names, name)
	}
	if !r.format.NoHeader && strings.TrimSpace(strings.Join(r.names, "")) == "" {
		return r.mistake("", "a header without names", "the first line names the columns")
	}
	r.held = r.format.NoHeader
	return nil
}

// Names returns the names of the columns.
func (r *Reader) Names() []string { return r.names }

// Line returns the number of the line on which the present row begins.
func (r *Reader) Line() int { return r.number }

// Find returns the place of the column of that name.
func (r *Reader) Find(name string) (int, error) {
	at := -1
	for i, n := range r.names {
		if n != name {
			continue
		}
		if at >= 0 {
			return 0, &Mistake{File: r.lines.name, Line: 1, Problem: fmt.Sprintf("two columns are called %s", quoted(name)), Hint: "rename one of them"}
		}
		at = i
	}
	if at < 0 {
		hint := ""
		if r.numeric {
			hint = "if the first line holds values and no names: --no-header, which calls the columns 1, 2, 3"
		}
		return 0, &Mistake{File: r.lines.name, Problem: fmt.Sprintf("no column %s; there is %s", quoted(name), listed(r.names)), Hint: hint}
	}
	return at, nil
}

// Only returns the place of the one column that is not among the named ones.
func (r *Reader) Only(except ...string) (int, error) {
	at, left := -1, []string{}
	for i, n := range r.names {
		taken := false
		for _, e := range except {
			taken = taken || n == e
		}
		if !taken {
			at, left = i, append(left, n)
		}
	}
	if len(left) != 1 {
		return 0, &Mistake{File: r.lines.name, Problem: fmt.Sprintf("which column holds the values? There is %s", listed(r.names)), Hint: "--value COLUMN"}
	}
	if r.numeric {
		return 0, &Mistake{File: r.lines.name, Line: 1, Problem: fmt.Sprintf("%s stands where the name of the column is wanted", quoted(left[0])),
			Hint: fmt.Sprintf("if it is a value: --no-header; if it is the name: --value %s", left[0])}
	}
	return at, nil
}

// Next goes to the next row; io.EOF ends the file. Blank lines at the end are
// no rows, and in a file of several columns nowhere; among the values of a
// single column one is a value that is missing.
func (r *Reader) Next() error {
	if r.err == nil {
		r.err = r.advance()
	}
	return r.err
}

func (r *Reader) advance() error {
	if r.held {
		r.held = false
		return nil
	}
	blank := 0
	for {
		line, err := r.lines.next()
		if err != nil {
			return err
		}
		if len(bytes.TrimSpace(line)) == 0 && !(r.sep == '\t' && len(line) > 0 && len(r.names) > 1) {
			if blank == 0 {
				blank = r.lines.number
			}
			continue
		}
		if blank > 0 && len(r.names) == 1 && !r.format.SkipEmpty {
			r.number = blank
			return r.mistake(r.names[0], "empty, a number is wanted", "--skip-empty leaves such rows out")
		}
		r.number = r.lines.number
		if err := r.split(line); err != nil {
			return err
		}
		return r.full()
	}
}

// full demands as many fields as there are names.
func (r *Reader) full() error {
	if len(r.fields) == len(r.names) {
		return nil
	}
	hint, perhaps := "", ""
	if r.sep == ',' && len(r.fields) > len(r.names) && !r.format.DecimalComma {
		perhaps = "; are there decimal commas?"
		hint = "--decimal-comma reads them where semicolons or tabs set the columns apart"
	}
	return r.mistake("", fmt.Sprintf("%s, but the header has %d%s", count(len(r.fields), "field"), len(r.names), perhaps), hint)
}

func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// Empty reports whether the row has nothing in a column, and such rows are to
// be left out.
func (r *Reader) Empty(column int) bool {
	return r.format.SkipEmpty && len(bytes.TrimSpace(r.fields[column])) == 0
}

// Number returns the number in a column of the present row.
func (r *Reader) Number(column int) (float64, error) {
	v, problem, hint := r.format.number(r.fields[column])
	if problem != "" {
		return 0, r.mistake(r.names[column], problem, hint)
	}
	return v, nil
}

// Text returns the bytes of a column of the present row, without spaces around
// them. They are valid until the next row.
func (r *Reader) Text(column int) []byte { return bytes.TrimSpace(r.fields[column]) }

func (r *Reader) mistake(column, problem, hint string) error {
	return &Mistake{File: r.lines.name, Line: r.number, Column: column, Problem: problem, Hint: hint}
}
