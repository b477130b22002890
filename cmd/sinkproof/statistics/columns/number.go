package columns

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// largest is the magnitude up to which numbers are calculated with: beyond it
// fourth powers, which a kurtosis takes, leave the range of a double.
const largest = 1e75

// number reads a cell strictly: digits with sign, point and exponent. What
// ParseFloat takes beyond that (hexadecimal, underscores, infinities, NaN) is a
// text that nobody meant as a number, or no number.
func (f Format) number(cell []byte) (v float64, problem, hint string) {
	cell = bytes.TrimSpace(cell)
	if len(cell) == 0 {
		return 0, "empty, a number is wanted", "--skip-empty leaves such rows out"
	}
	text := cell
	if f.DecimalComma {
		var small [64]byte
		text = append(small[:0], cell...)
		if bytes.IndexByte(cell, '.') >= 0 {
			return 0, quoted(string(cell)) + " has a decimal point where decimal commas are read", "one kind of number in one file; thousands are not set apart"
		}
		for i, c := range text {
			if c == ',' {
				text[i] = '.'
			}
		}
	}
	if !decimal(text) {
		return 0, noNumber(cell), hintFor(cell)
	}
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil || math.Abs(v) > largest {
		if err == nil || math.IsInf(v, 0) {
			return 0, fmt.Sprintf("%s is beyond %g, too large to calculate with", quoted(string(cell)), largest), "take a larger unit"
		}
		return 0, noNumber(cell), hintFor(cell)
	}
	return v, "", ""
}

// decimal reports whether a text holds only what a decimal number is written
// with.
func decimal(text []byte) bool {
	for _, c := range text {
		if (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return false
		}
	}
	return true
}

func noNumber(cell []byte) string {
	text := string(cell)
	switch strings.ToLower(strings.Trim(text, "+-")) {
	case "nan", "na", "n/a", "inf", "infinity":
		return quoted(text) + " is no value"
	}
	return quoted(text) + " is no number"
}

func hintFor(cell []byte) string {
	point := bytes.Replace(cell, []byte(","), []byte("."), 1)
	if _, err := strconv.ParseFloat(string(point), 64); err == nil && decimal(point) {
		return "if that is a decimal comma: --decimal-comma"
	}
	return ""
}
