package quantity

import (
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

// significant rounds to n digits; n is kept between 1 and 30.
func significant(v float64, n int) decimal {
	d := shortest(v)
	if d.zero() {
		return decimal{digits: "0", exp: 1 - min(max(n, 1), 30)}
	}
	rounded := d.round(d.leading() - min(max(n, 1), 30) + 1)
	if rounded.leading() > d.leading() { // 9.96 became 10.0: one digit too many
		rounded.digits, rounded.exp = rounded.digits[:len(rounded.digits)-1], rounded.exp+1
	}
	return rounded
}

// atPlace rounds v to a multiple of 10^place.
func atPlace(v float64, place int) decimal { return shortest(v).round(place) }

// round rounds to a multiple of 10^place, half away from zero. It works on the
// shortest digits, the ones that a person sees: 0.475 becomes 0.48 although its
// float64 lies a little below.
func (d decimal) round(place int) decimal {
	if place <= d.exp {
		d.digits, d.exp = d.digits+strings.Repeat("0", d.exp-place), place
		return d
	}
	cut := len(d.digits) - (place - d.exp)
	if cut < 0 || cut == 0 && d.digits[0] < '5' {
		return decimal{digits: "0", exp: place}
	}
	kept := d.digits[:cut]
	if d.digits[cut] >= '5' {
		kept = increment(kept)
	}
	return decimal{negative: d.negative, digits: kept, exp: place}
}

// increment adds one to the last digit; nothing becomes "1".
func increment(digits string) string {
	nines := len(digits) - len(strings.TrimRight(digits, "9"))
	head, tail := digits[:len(digits)-nines], strings.Repeat("0", nines)
	if head == "" {
		return "1" + tail
	}
	return head[:len(head)-1] + string(head[len(head)-1]+1) + tail
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
