package columns

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"
)

// longest is how long a line may be, and a quoted field that goes over several.
const longest = 1 << 20

// lines reads a text line by line and refuses what is none.
type lines struct {
	in     *bufio.Reader
	name   string
	number int // of the line that was read last
	long   []byte
}

func newLines(in io.Reader, name string) lines {
	return lines{in: bufio.NewReaderSize(in, 1<<16), name: name}
}

// next returns the next line without its end, valid until the next call.
func (l *lines) next() ([]byte, error) {
	line, err := l.in.ReadSlice('\n')
	l.number++
	if errors.Is(err, bufio.ErrBufferFull) {
		line, err = l.rest(line)
	}
	switch {
	case errors.Is(err, io.EOF) && len(line) == 0:
		return nil, io.EOF
	case err != nil && !errors.Is(err, io.EOF):
		if m := (*Mistake)(nil); errors.As(err, &m) {
			return nil, err
		}
		return nil, fmt.Errorf("%s: read line %d: %w", l.name, l.number, err)
	}
	line = bytes.TrimSuffix(bytes.TrimSuffix(line, []byte("\n")), []byte("\r"))
	if l.number == 1 {
		if line, err = l.opening(line); err != nil {
			return nil, err
		}
	}
	return line, l.check(line)
}

// rest reads a line that is longer than the buffer.
func (l *lines) rest(begun []byte) ([]byte, error) {
	l.long = append(l.long[:0], begun...)
	for {
		more, err := l.in.ReadSlice('\n')
		l.long = append(l.long, more...)
		if len(l.long) > longest {
			return nil, l.tooLong()
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return l.long, err
		}
	}
}

// tooLong says what a line without an end looks like: many columns, or no
// table at all.
func (l *lines) tooLong() error {
	if err := l.check(l.long[:longest/2]); err != nil {
		return err
	}
	for _, sep := range []byte{',', ';', '\t'} {
		if n := bytes.Count(l.long, []byte{sep}); n >= mostColumns {
			return l.mistake(fmt.Sprintf("more than %d columns, and the line goes on", n), tooManyHint())
		}
	}
	return l.mistake(fmt.Sprintf("goes on beyond %d KiB; a table has a row per line", longest>>10), "")
}

func tooManyHint() string {
	return fmt.Sprintf("up to %d are read: keep those of the study, one row per line", mostColumns)
}

// opening takes a byte-order mark off the first line (Unicode Standard, 23.8),
// and tells other encodings by theirs.
func (l *lines) opening(line []byte) ([]byte, error) {
	for _, mark := range [][]byte{{0xFF, 0xFE}, {0xFE, 0xFF}} {
		if bytes.HasPrefix(line, mark) {
			return nil, l.mistake("text in UTF-16, UTF-8 is wanted", "save the file as CSV in UTF-8")
		}
	}
	return bytes.TrimPrefix(line, []byte{0xEF, 0xBB, 0xBF}), nil
}

// check refuses a line that is no text.
func (l *lines) check(line []byte) error {
	plain := true
	for _, c := range line {
		if c >= 0x80 {
			plain = false
		}
		if c >= 0x20 && c != 0x7F || c == '\t' {
			continue
		}
		if c == '\r' {
			return l.mistake("a carriage return inside the line", "save the file with line ends as Unix or Windows has them")
		}
		return l.mistake(fmt.Sprintf("byte 0x%02X: the file is not text", c), "a CSV file is wanted, not the file of a spreadsheet program")
	}
	if !plain && !validUTF8(line) {
		return l.mistake("not text in UTF-8", "save the file as CSV in UTF-8")
	}
	return nil
}

// validUTF8 allows for a rune that was cut off at the end of a piece.
func validUTF8(line []byte) bool {
	if utf8.Valid(line) {
		return true
	}
	for cut := 1; cut < utf8.UTFMax && cut < len(line) && len(line) >= longest/2; cut++ {
		if utf8.Valid(line[:len(line)-cut]) {
			return true
		}
	}
	return false
}

func (l *lines) mistake(problem, hint string) error {
	return &Mistake{File: l.name, Line: l.number, Problem: problem, Hint: hint}
}
