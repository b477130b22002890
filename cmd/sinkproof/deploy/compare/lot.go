package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path"
	"regexp"
	"slices"
)

// ErrEmpty is the cause when a folder holds no unit, so that nothing would be
// compared.
var ErrEmpty = errors.New("the lot has no record")

// Result is what a comparison found.
type Result struct {
	// Files and Numbers are how many were compared, Moved how many numbers
	// differ in their last digits, Furthest the largest of these relative
	// differences (dimensionless) and At where it is.
	Files, Numbers, Moved int
	Furthest              float64
	At                    string
	// Differences are those that must not be, in plain words.
	Differences []string
}

// String says in one line what was compared and how far it went.
func (r *Result) String() string {
	s := fmt.Sprintf("%d files, %d numbers: %d differ in their last digits", r.Files, r.Numbers, r.Moved)
	if r.Moved > 0 {
		s += fmt.Sprintf(", by %.1e of the value at most (%s)", r.Furthest, r.At)
	}
	return fmt.Sprintf("%s; %d differences that may not be", s, len(r.Differences))
}

func (r *Result) differ(format string, args ...any) {
	r.Differences = append(r.Differences, fmt.Sprintf(format, args...))
}

// moved takes note of two numbers that are the same but for their last digits.
func (r *Result) moved(at string, x, y float64) {
	r.Moved++
	if d := math.Abs(x-y) / math.Max(math.Abs(x), math.Abs(y)); d > r.Furthest {
		r.Furthest, r.At = d, at
	}
}

// Bytes demands that two lots are the same byte for byte.
func Bytes(a, b string) (*Result, error) {
	return each(a, b, func(r *Result, name string, x, y []byte) error {
		r.Files++
		r.text(name, x, y)
		return nil
	})
}

// Answers demands that two lots say the same. The ledger and the printed reports
// are left out: they hold the bytes of the records, and pages made from them.
func Answers(a, b string) (*Result, error) {
	records := 0
	r, err := each(a, b, func(r *Result, name string, x, y []byte) error {
		switch base := path.Base(name); {
		case base == "demo.json" || path.Ext(base) == ".html":
			r.Files++
			r.text(name, printed(x), printed(y))
		case base == "record.json":
			records++
			r.Files++
			return r.record(name, x, y)
		}
		return nil
	})
	if err == nil && records == 0 {
		return nil, fmt.Errorf("%s: %w", a, ErrEmpty)
	}
	return r, err
}

// each hands the files of two folders, which must have the same names, to
// compare.
func each(a, b string, compare func(r *Result, name string, x, y []byte) error) (*Result, error) {
	names, err := list(a)
	if err != nil {
		return nil, err
	}
	others, err := list(b)
	if err != nil {
		return nil, err
	}
	r := &Result{}
	for _, name := range names {
		if !slices.Contains(others, name) {
			r.differ("%s: only in the first lot", name)
			continue
		}
		x, err := os.ReadFile(path.Join(a, name))
		if err != nil {
			return nil, err
		}
		y, err := os.ReadFile(path.Join(b, name))
		if err != nil {
			return nil, err
		}
		if err := compare(r, name, x, y); err != nil {
			return nil, err
		}
	}
	for _, name := range others {
		if !slices.Contains(names, name) {
			r.differ("%s: only in the second lot", name)
		}
	}
	return r, nil
}

// list names the files below a folder, sorted.
func list(root string) ([]string, error) {
	var names []string
	err := fs.WalkDir(os.DirFS(root), ".", func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			names = append(names, name)
		}
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("list the files of %s: %w", root, err)
	}
	return names, nil
}

// text compares two texts and shows the first line that differs.
func (r *Result) text(name string, x, y []byte) {
	if bytes.Equal(x, y) {
		return
	}
	xs, ys := bytes.Split(x, []byte("\n")), bytes.Split(y, []byte("\n"))
	for i := range min(len(xs), len(ys)) {
		if !bytes.Equal(xs[i], ys[i]) {
			from := differAt(xs[i], ys[i])
			r.differ("%s: line %d: %q and %q", name, i+1, around(xs[i], from), around(ys[i], from))
			return
		}
	}
	r.differ("%s: %d lines and %d lines", name, len(xs), len(ys))
}

// differAt is the place of the first byte that differs, or the shorter length.
func differAt(x, y []byte) int {
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return i
		}
	}
	return min(len(x), len(y))
}

// around cuts a line to what a message can show.
func around(line []byte, at int) []byte {
	return line[max(0, at-60):min(len(line), at+60)]
}

// printed leaves of a page what is printed in words and digits. Every hash is
// taken out (eight groups of eight hexadecimal digits, or the first twelve
// digits after the word "record"), with the picture of the code; and the strokes
// of every curve: a curve is drawn with as few of them as show it, and which of
// two points that would do equally well is kept can hang on a last binary digit.
// The values under a curve stand in the record.
func printed(page []byte) []byte {
	page = regexp.MustCompile(`(?s)<svg class="code".*?</svg>`).ReplaceAll(page, []byte("CODE"))
	page = regexp.MustCompile(` d="[^"]*"`).ReplaceAll(page, []byte(` d="STROKES"`))
	page = regexp.MustCompile(`([0-9a-f]{8} ){7}[0-9a-f]{8}`).ReplaceAll(page, []byte("HASH"))
	return regexp.MustCompile(`record [0-9a-f]{12}\b`).ReplaceAll(page, []byte("record HASH"))
}
