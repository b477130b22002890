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
	if v, ok := plain(text); ok {
		return v, "", ""
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

// plain reads a number of at most fifteen digits without an exponent, as nearly
// all are: its digits and its power of ten are exact in a double, and so their
// quotient is rounded once, as ParseFloat rounds it (Clinger, How to Read
// Floating-Point Numbers Accurately, 1990). It takes a third of the time.
func plain(text []byte) (float64, bool) {
	const most = 15
	if len(text) == 0 || len(text) > most+2 {
		return 0, false
	}
	negative := text[0] == '-'
	if negative || text[0] == '+' {
		text = text[1:]
	}
	var mantissa int64
	digits, behind := 0, -1
	for i, c := range text {
		switch {
		case c >= '0' && c <= '9':
			mantissa = 10*mantissa + int64(c-'0')
			digits++
		case c == '.' && behind < 0:
			behind = len(text) - 1 - i
		default:
			return 0, false
		}
	}
	if digits == 0 || digits > most {
		return 0, false
	}
	v := float64(mantissa)
	if behind > 0 {
		v /= tens[behind]
	}
	if negative {
		v = -v
	}
	return v, true
}

// tens are the powers of ten that plain divides by.
var tens = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

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
	if withComma(cell) {
		return quoted(text) + " has a comma where a decimal point is wanted"
	}
	return quoted(text) + " is no number"
}

func hintFor(cell []byte) string {
	if withComma(cell) {
		return "if it is a decimal comma: --decimal-comma"
	}
	return ""
}

// withComma reports whether a cell would be a number if its comma were a point.
func withComma(cell []byte) bool {
	point := bytes.Replace(cell, []byte(","), []byte("."), 1)
	_, err := strconv.ParseFloat(string(point), 64)
	return err == nil && decimal(point) && !bytes.Equal(point, cell)
}
