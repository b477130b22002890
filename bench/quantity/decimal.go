package quantity

import (
	"math"
	"strconv"
	"strings"
)

// decimal is a number as its digits and a power of ten: digits × 10^exp.
// Trailing zeros among the digits are significant and are printed.
type decimal struct {
	negative bool
	digits   string
	exp      int
}

// shortest returns the fewest digits that read back to the same float64.
func shortest(v float64) decimal { return scientific(strconv.FormatFloat(v, 'e', -1, 64)) }

// significant rounds to n digits, n >= 1.
func significant(v float64, n int) decimal {
	return scientific(strconv.FormatFloat(v, 'e', max(n, 1)-1, 64))
}

// scientific splits the text that strconv writes for format 'e'.
func scientific(text string) decimal {
	var d decimal
	text, d.negative = strings.CutPrefix(text, "-")
	mantissa, exponent, _ := strings.Cut(text, "e")
	whole, fraction, _ := strings.Cut(mantissa, ".")
	d.digits = whole + fraction
	d.exp, _ = strconv.Atoi(exponent) // strconv wrote it
	d.exp -= len(fraction)
	if v := strings.Trim(d.digits, "0"); v == "" {
		d.negative = false
	}
	return d
}

// atPlace rounds v to a multiple of 10^place.
func atPlace(v float64, place int) decimal {
	if place <= 0 {
		text := strconv.FormatFloat(v, 'f', -place, 64)
		d := decimal{exp: place}
		text, d.negative = strings.CutPrefix(text, "-")
		d.digits = strings.TrimLeft(strings.Replace(text, ".", "", 1), "0")
		if d.digits == "" {
			return decimal{digits: "0", exp: place}
		}
		return d
	}
	n := math.Round(v / math.Pow10(place))
	d := decimal{digits: strconv.FormatFloat(math.Abs(n), 'f', 0, 64), exp: place, negative: n < 0}
	return d
}

// zero tells whether no digit other than 0 is there.
func (d decimal) zero() bool { return strings.Trim(d.digits, "0") == "" }

// leading is the power of ten of the first digit.
func (d decimal) leading() int { return d.exp + len(d.digits) - 1 }

// engineering returns the multiple of three that leaves one to three digits
// before the point, kept between low and high.
func (d decimal) engineering(low, high int) int {
	if d.zero() {
		return 0
	}
	e := d.leading()
	p := e - ((e%3)+3)%3
	return min(max(p, low), high)
}

// times writes the number in units of 10^unit, without an exponent.
func (d decimal) times(unit int) string {
	var b strings.Builder
	if d.negative {
		b.WriteByte('-')
	}
	exp := d.exp - unit
	point := len(d.digits) + exp
	switch {
	case d.zero() && exp >= 0:
		b.WriteByte('0')
	case exp >= 0:
		b.WriteString(d.digits + strings.Repeat("0", exp))
	case point > 0:
		b.WriteString(d.digits[:point] + "." + d.digits[point:])
	default:
		b.WriteString("0." + strings.Repeat("0", -point) + d.digits)
	}
	return b.String()
}

// exponential writes the number with a power of ten: "1.5e-20".
func (d decimal) exponential() string {
	var b strings.Builder
	if d.negative {
		b.WriteByte('-')
	}
	b.WriteString(d.digits[:1])
	if len(d.digits) > 1 {
		b.WriteString("." + d.digits[1:])
	}
	b.WriteString("e" + strconv.Itoa(d.leading()))
	return b.String()
}

// plainLow and plainHigh bound the powers of ten that are still legible
// without an exponent: 0.00001 and a number of 15 digits.
const (
	plainLow  = -5
	plainHigh = 14
)

// in writes the number with unit, choosing the prefix between the powers of
// ten low and high.
func (d decimal) in(unit string, low, high int) string {
	p := d.engineering(low, high)
	off := d.leading() - p
	if !d.zero() && (off < plainLow || off > plainHigh) {
		return join(d.exponential(), unit)
	}
	return join(d.times(p), prefixFor(p)+unit)
}

func join(number, unit string) string {
	if unit == "" {
		return number
	}
	return number + " " + unit
}
