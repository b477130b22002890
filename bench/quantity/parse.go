package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// ParseError says what is wrong with a written quantity, and where, so that
// the reader of a file can put a caret under it.
type ParseError struct {
	// Text is the whole text that was parsed.
	Text string
	// Offset is where the trouble begins, in bytes from the start of Text;
	// len(Text) means that something is missing at the end.
	Offset int
	// Found names what stands there.
	Found string
	// Want names what would do, such as "a voltage such as 4.75 V".
	Want string
}

// Error gives found and wanted in one sentence.
func (e *ParseError) Error() string {
	return fmt.Sprintf("quantity %q: found %s, wants %s", e.Text, e.Found, e.Want)
}

// Parse reads a number with its unit, such as "4.75 V", "5.1kΩ" or "2 %".
// A text without unit is a pure number. The error is a *ParseError; a value
// that a float64 cannot hold is refused like any other mistake.
func Parse(text string) (Quantity, error) {
	p := parser{text: text, want: "a number with its unit such as 4.75 V"}
	q, _, err := p.quantity()
	return q, err
}

// ParseAs reads a quantity that must have the dimension want; a missing or
// wrong unit is a *ParseError that names what would do.
func ParseAs(text string, want Dim) (Quantity, error) {
	p := parser{text: text, want: want.wants()}
	q, at, err := p.quantity()
	switch {
	case err != nil:
		return Quantity{}, err
	case q.Dim == want:
		return q, nil
	case at == len(text):
		return Quantity{}, p.fail(at, "no unit", p.want)
	}
	written := strings.TrimRight(text[at:], " \t")
	return Quantity{}, p.fail(at, fmt.Sprintf("%s in %q", q.Dim.article(), written), p.want)
}

// parser walks over one text.
type parser struct {
	text string
	at   int
	want string
}

func (p *parser) fail(at int, found, want string) *ParseError {
	return &ParseError{Text: p.text, Offset: at, Found: found, Want: want}
}

// peek returns the next character, or utf8.RuneError with size 0 at the end.
func (p *parser) peek() (rune, int) { return utf8.DecodeRuneInString(p.text[p.at:]) }

// quantity reads the whole text and returns where the unit starts.
func (p *parser) quantity() (q Quantity, unitAt int, err error) {
	p.spaces()
	start := p.at
	n, err := p.number()
	if err != nil {
		return Quantity{}, 0, err
	}
	p.spaces()
	unitAt = p.at
	u, err := p.unit()
	if err != nil {
		return Quantity{}, 0, err
	}
	si, ok := n.in(u)
	if !ok {
		return Quantity{}, 0, p.fail(start, "a value beyond the range of a number", p.want)
	}
	return Quantity{si, u.dim}, unitAt, nil
}

// spaces skips blanks, the no-break space and the narrow no-break space.
func (p *parser) spaces() {
	for {
		switch r, size := p.peek(); r {
		case ' ', '\t', '\u00a0', '\u202f':
			p.at += size
		default:
			return
		}
	}
}

// numeral is a written number: its digits with the point, and its exponent.
type numeral struct {
	negative bool
	digits   string
	exp      int
}

// in converts to SI. Digits and power of ten go through one conversion, so
// that the result is the float64 nearest to the text. It refuses overflow,
// and underflow to zero.
func (n numeral) in(u unit) (float64, bool) {
	v, err := strconv.ParseFloat(n.digits+"e"+strconv.Itoa(n.exp+u.exp), 64)
	if err != nil {
		return 0, false
	}
	if u.over != 1 || u.under != 1 {
		v = v * u.over / u.under
	}
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, false
	}
	if v == 0 && strings.Trim(n.digits, "0.") != "" {
		return 0, false
	}
	if n.negative {
		v = -v
	}
	if u.celsius {
		v += zeroCelsius
	}
	return v, true
}

// number reads [sign] digits [. digits] [e exponent].
func (p *parser) number() (numeral, error) {
	var n numeral
	switch r, size := p.peek(); r {
	case '-', '\u2212':
		n.negative = true
		p.at += size
	case '+':
		p.at += size
	}
	start := p.at
	if p.skipDigits() == 0 {
		return n, p.fail(p.at, p.here(), p.want)
	}
	switch r, _ := p.peek(); r {
	case ',':
		return n, p.fail(p.at, "a comma", "a decimal point, as in 4.75 V")
	case '.':
		p.at++
		if p.skipDigits() == 0 {
			return n, p.fail(p.at, p.here(), "a digit after the decimal point")
		}
	}
	n.digits = p.text[start:p.at]
	n.exp = p.exponent()
	return n, nil
}

func (p *parser) skipDigits() int {
	start := p.at
	for p.at < len(p.text) && p.text[p.at] >= '0' && p.text[p.at] <= '9' {
		p.at++
	}
	return p.at - start
}

// farExponent stands for every exponent beyond the range of a float64.
const farExponent = 1_000_000

// exponent reads e or E with an integer; without an integer the letter belongs
// to the unit.
func (p *parser) exponent() int {
	start := p.at
	if p.at == len(p.text) || (p.text[p.at] != 'e' && p.text[p.at] != 'E') {
		return 0
	}
	p.at++
	sign := 1
	if p.at < len(p.text) && (p.text[p.at] == '-' || p.text[p.at] == '+') {
		if p.text[p.at] == '-' {
			sign = -1
		}
		p.at++
	}
	first := p.at
	if p.skipDigits() == 0 {
		p.at = start
		return 0
	}
	n, err := strconv.Atoi(p.text[first:p.at])
	if err != nil || n > farExponent {
		n = farExponent
	}
	return sign * n
}

// here names what stands at the current place.
func (p *parser) here() string {
	rest := strings.TrimSpace(p.text[p.at:])
	if rest == "" {
		return "nothing"
	}
	return strconv.Quote(rest)
}

// unit reads factors joined by / and · up to the end of the text.
func (p *parser) unit() (unit, error) {
	total := unit{over: 1, under: 1}
	first := p.at
	if p.end() {
		return total, nil
	}
	for sign := 1; ; {
		at := p.at
		u, n, err := p.factor()
		if err != nil {
			return unit{}, err
		}
		if u.celsius && at == first && n == 1 && p.end() {
			return u, nil
		}
		if u.celsius {
			return unit{}, p.fail(at, `"°C" inside a combined unit`, "K: a unit that counts from zero")
		}
		if total, err = total.raise(u, sign*n); err != nil {
			return unit{}, p.fail(at, "a power too high", p.want)
		}
		if p.end() {
			return total, nil
		}
		switch r, size := p.peek(); r {
		case '/':
			sign = -1
			p.at += size
		case '\u00b7', '*', '\u22c5':
			sign = 1
			p.at += size
		default:
			p.spaces()
			return unit{}, p.fail(p.at, p.here(), p.want)
		}
	}
}

// end tells whether only blanks are left, and leaves them to the caller.
func (p *parser) end() bool {
	at := p.at
	p.spaces()
	if p.at == len(p.text) {
		return true
	}
	p.at = at
	return false
}

// factor reads one symbol with its power.
func (p *parser) factor() (unit, int, error) {
	start := p.at
	for p.at < len(p.text) {
		r, size := p.peek()
		if strings.ContainsRune(" \t\u00a0\u202f/*·⋅^⁻¹²³⁴⁵⁶⁷⁸⁹023456789", r) || (r == '1' && p.at > start) {
			break
		}
		p.at += size
	}
	word := p.text[start:p.at]
	u, ok := lookup(word)
	if !ok {
		return unit{}, 0, p.unknown(start, word)
	}
	n, err := p.power()
	return u, n, err
}

// unknown reports a word that is no unit, with the units it may have meant.
func (p *parser) unknown(at int, word string) *ParseError {
	if r, size := utf8.DecodeRuneInString(word); size > 0 && size == len(word) {
		if _, ok := prefix(r); ok {
			return p.fail(at, fmt.Sprintf("the prefix %q without its unit", word), p.want)
		}
	}
	if word == "" {
		return p.fail(at, p.here(), p.want)
	}
	want := p.want
	if near := alike(word); len(near) > 0 {
		want += " (is " + strings.Join(near, " or ") + " meant?)"
	}
	return p.fail(at, fmt.Sprintf("the unknown unit %q", word), want)
}

// power reads ^n, or raised digits; nothing means one. Powers above nine have
// no use on a bench.
func (p *parser) power() (int, error) {
	at := p.at
	caret := false
	sign, n, digits := 1, 0, 0
	for p.at < len(p.text) {
		r, size := p.peek()
		d, isDigit := raisedDigit(r, caret)
		switch {
		case r == '^' && p.at == at:
			caret = true
		case digits == 0 && sign == 1 && (r == '⁻' || caret && r == '-'):
			sign = -1
		case isDigit && digits < 4:
			n, digits = 10*n+d, digits+1
		default:
			return p.checkPower(at, sign, n, digits)
		}
		p.at += size
	}
	return p.checkPower(at, sign, n, digits)
}

func (p *parser) checkPower(at, sign, n, digits int) (int, error) {
	if p.at == at {
		return 1, nil
	}
	if digits == 0 || n == 0 || n > 9 {
		return 0, p.fail(at, strconv.Quote(p.text[at:p.at]), "a power from 1 to 9")
	}
	return sign * n, nil
}

// raisedDigit returns the value of a raised digit, or after a caret of a plain
// one.
func raisedDigit(r rune, caret bool) (int, bool) {
	if caret && r >= '0' && r <= '9' {
		return int(r - '0'), true
	}
	const raised = "⁰ ¹ ² ³ ⁴ ⁵ ⁶ ⁷ ⁸ ⁹"
	if at := strings.IndexRune(raised, r); at >= 0 && r != ' ' && !caret {
		return strings.Count(raised[:at], " "), true
	}
	return 0, false
}
