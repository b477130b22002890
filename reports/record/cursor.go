package record

import (
	"bytes"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// cursor reads text in canonical form (RFC 8785) from front to back. Whatever is
// not in that form makes it bad, and it stays so; what was wrong is for a general
// decoder to say.
type cursor struct {
	data []byte
	at   int
	bad  bool
}

// peek is the next byte; 0 at the end.
func (c *cursor) peek() byte {
	if c.at < len(c.data) {
		return c.data[c.at]
	}
	return 0
}

// take demands a byte.
func (c *cursor) take(b byte) {
	if c.bad || c.peek() != b {
		c.bad = true
		return
	}
	c.at++
}

// took takes a byte if it comes next.
func (c *cursor) took(b byte) bool {
	if c.bad || c.peek() != b {
		return false
	}
	c.at++
	return true
}

// word demands a literal.
func (c *cursor) word(text string) {
	if c.bad || !bytes.HasPrefix(c.data[c.at:], []byte(text)) {
		c.bad = true
		return
	}
	c.at += len(text)
}

// text reads a text. It shares the bytes of the document unless one is escaped.
func (c *cursor) text() []byte {
	c.take('"')
	from := c.at
	for ; c.at < len(c.data) && !c.bad; c.at++ {
		switch b := c.data[c.at]; {
		case b == '"':
			c.at++
			return c.data[from : c.at-1]
		case b == '\\':
			return c.escaped(from)
		case b < ' ':
			c.bad = true
		}
	}
	c.bad = true
	return nil
}

// escaped reads on in a text whose first escaped byte is at hand.
func (c *cursor) escaped(from int) []byte {
	text := bytes.Clone(c.data[from:c.at])
	for c.at < len(c.data) && !c.bad {
		b := c.data[c.at]
		c.at++
		switch {
		case b == '"':
			return text
		case b < ' ':
			c.bad = true
		case b == '\\':
			b = c.escape()
		}
		text = append(text, b)
	}
	c.bad = true
	return nil
}

// escape is the byte that is written with a backslash: the short way where there
// is one (RFC 8785, 3.2.2.2).
func (c *cursor) escape() byte {
	b := c.peek()
	c.at++
	switch b {
	case '"', '\\':
		return b
	case 'b':
		return '\b'
	case 't':
		return '\t'
	case 'n':
		return '\n'
	case 'f':
		return '\f'
	case 'r':
		return '\r'
	}
	if b != 'u' || len(c.data)-c.at < 4 || c.data[c.at] != '0' || c.data[c.at+1] != '0' {
		c.bad = true
		return 0
	}
	const digits = "0123456789abcdef"
	high, low := strings.IndexByte(digits, c.data[c.at+2]), strings.IndexByte(digits, c.data[c.at+3])
	code := high<<4 | low
	if c.at += 4; high < 0 || low < 0 || code >= ' ' || strings.IndexByte("\b\t\n\f\r", byte(code)) >= 0 {
		c.bad = true
	}
	return byte(code)
}

// number is the text of a number (RFC 8259, 6).
func (c *cursor) number() []byte {
	from := c.at
	c.took('-')
	if !c.took('0') {
		c.digits()
	}
	if c.took('.') {
		c.digits()
	}
	if c.took('e') {
		if !c.took('-') {
			c.take('+')
		}
		c.digits()
	}
	return c.data[from:c.at]
}

// digits demands one digit or more.
func (c *cursor) digits() {
	from := c.at
	for c.at < len(c.data) && c.data[c.at] >= '0' && c.data[c.at] <= '9' {
		c.at++
	}
	c.bad = c.bad || c.at == from
}

// float reads a number.
func (c *cursor) float() float64 {
	f, err := strconv.ParseFloat(string(c.number()), 64)
	c.bad = c.bad || err != nil
	return f
}

// whole reads a whole number.
func (c *cursor) whole() int64 {
	n, err := strconv.ParseInt(string(c.number()), 10, 64)
	c.bad = c.bad || err != nil
	return n
}

// members calls each with the name of every member, whose value it must read.
func (c *cursor) members(each func(name []byte)) {
	c.take('{')
	if c.took('}') {
		return
	}
	for !c.bad {
		name := c.text()
		c.take(':')
		if c.bad {
			return
		}
		each(name)
		if !c.took(',') {
			c.take('}')
			return
		}
	}
}

// list calls each at every element, which it must read.
func (c *cursor) list(each func()) {
	c.take('[')
	if c.took(']') {
		return
	}
	for !c.bad {
		each()
		if !c.took(',') {
			c.take(']')
			return
		}
	}
}

// skip reads over a value without looking at more than where it ends.
func (c *cursor) skip() {
	switch c.peek() {
	case '"':
		c.skipText()
	case '{', '[':
		c.skipNested()
	default:
		from := c.at
		for c.at < len(c.data) && c.data[c.at] != ',' && c.data[c.at] != ']' && c.data[c.at] != '}' {
			c.at++
		}
		c.bad = c.bad || c.at == from
	}
}

// skipNested reads over an object or a list.
func (c *cursor) skipNested() {
	for depth := 0; c.at < len(c.data) && !c.bad; {
		switch c.data[c.at] {
		case '"':
			c.skipText()
			continue
		case '{', '[':
			depth++
		case '}', ']':
			depth--
		}
		if c.at++; depth == 0 {
			return
		}
	}
	c.bad = true
}

func (c *cursor) skipText() {
	for c.at++; ; {
		n := bytes.IndexByte(c.data[c.at:], '"')
		if n < 0 {
			c.bad = true
			return
		}
		escapes := 0
		for i := c.at + n - 1; i >= c.at && c.data[i] == '\\'; i-- {
			escapes++
		}
		if c.at += n + 1; escapes%2 == 0 {
			return
		}
	}
}

// isCanonical tells whether a document is in canonical form.
func isCanonical(data []byte) bool {
	c := cursor{data: data}
	c.canonical(0)
	return !c.bad && c.at == len(data) && utf8.Valid(data)
}

// deepest is how deep values may lie in each other: far more than any document has.
const deepest = 1000

// canonical reads a value and demands its form of every part.
func (c *cursor) canonical(depth int) {
	if depth > deepest {
		c.bad = true
		return
	}
	switch c.peek() {
	case '{':
		var last []byte
		first := true
		c.members(func(name []byte) {
			if !first && !before(last, name) {
				c.bad = true
			}
			first, last = false, name
			c.canonical(depth + 1)
		})
	case '[':
		c.list(func() { c.canonical(depth + 1) })
	case '"':
		c.text()
	case 't':
		c.word("true")
	case 'f':
		c.word("false")
	case 'n':
		c.word("null")
	default:
		c.canonicalNumber()
	}
}

// canonicalNumber demands the one way of writing a number.
func (c *cursor) canonicalNumber() {
	text := c.number()
	f, err := strconv.ParseFloat(string(text), 64)
	var room [32]byte
	again, ok := appendNumber(room[:0], f)
	c.bad = c.bad || err != nil || !ok || !bytes.Equal(again, text)
}

// before is the order of names: by UTF-16 code units (RFC 8785, 3.2.3).
func before(a, b []byte) bool {
	for i := 0; i < min(len(a), len(b)); i++ {
		if a[i] != b[i] {
			if a[i] < utf8.RuneSelf && b[i] < utf8.RuneSelf {
				return a[i] < b[i]
			}
			return beforeUTF16(string(a), string(b))
		}
	}
	return len(a) < len(b)
}

func beforeUTF16(a, b string) bool {
	x, y := utf16.Encode([]rune(a)), utf16.Encode([]rune(b))
	for i := 0; i < min(len(x), len(y)); i++ {
		if x[i] != y[i] {
			return x[i] < y[i]
		}
	}
	return len(x) < len(y)
}
