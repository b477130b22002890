package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
)

// Two numbers are the same when they are apart by no more than this part of the
// larger one. A double carries 2^-53, about 1.1e-16; a few hundred operations
// with cancellation among them cost up to five digits. The reports print
// six digits at most, so what passes here could change a printed digit only
// where the value stands on the edge of rounding, and the pages are compared
// byte for byte. Own choice.
const apart = 1e-9

// tiny is where a number counts as zero: what is left when two equal numbers
// are subtracted has no digits to compare. In SI units of the value; the
// smallest that a record holds is a standard uncertainty in the order of 1e-12
// (farad and ampere). Own choice.
const tiny = 1e-18

// record compares two records token by token, so that the order of the fields
// counts too.
func (r *Result) record(name string, a, b []byte) error {
	x, y := newTokens(a), newTokens(b)
	for {
		s, errX := x.next()
		t, errY := y.next()
		if errors.Is(errX, io.EOF) && errors.Is(errY, io.EOF) {
			return nil
		}
		if err := errors.Join(errX, errY); err != nil {
			return fmt.Errorf("read %s: %w", name, err)
		}
		if !r.token(name+" "+x.where(), s, t) {
			// What follows would be compared with something else.
			return nil
		}
	}
}

// token compares two tokens; false when they are no longer in step.
func (r *Result) token(at string, s, t json.Token) bool {
	m, numberS := s.(json.Number)
	n, numberT := t.(json.Number)
	if !numberS || !numberT {
		if s == t {
			return true
		}
		r.differ("%s: %v and %v", at, s, t)
		_, textS := s.(string)
		_, textT := t.(string)
		return textS && textT
	}
	r.Numbers++
	if m != n {
		r.number(at, m, n)
	}
	return true
}

// number compares two numbers that are not written alike.
func (r *Result) number(at string, m, n json.Number) {
	x, errX := m.Float64()
	y, errY := n.Float64()
	larger := math.Max(math.Abs(x), math.Abs(y))
	switch {
	case errX != nil || errY != nil || math.Abs(x-y) > math.Max(apart*larger, tiny):
		r.differ("%s: %s and %s", at, m, n)
	case larger > tiny:
		r.moved(at, x, y)
	}
}

// tokens reads JSON and knows where it is.
type tokens struct {
	dec  *json.Decoder
	path []step
}

// step is one level: the field of an object that is being read, or the place
// in an array.
type step struct {
	array bool
	place int
	key   string
	keyed bool // the key was read, its value comes next
}

func newTokens(data []byte) *tokens {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	return &tokens{dec: dec}
}

func (t *tokens) next() (json.Token, error) {
	token, err := t.dec.Token()
	if err != nil {
		return nil, err
	}
	switch token {
	case json.Delim('{'), json.Delim('['):
		t.begin()
		t.path = append(t.path, step{array: token == json.Delim('['), place: -1})
	case json.Delim('}'), json.Delim(']'):
		t.path = t.path[:len(t.path)-1]
	default:
		if top := t.top(); top != nil && !top.array && !top.keyed {
			top.key, top.keyed = token.(string), true
			return token, nil
		}
		t.begin()
	}
	return token, nil
}

func (t *tokens) top() *step {
	if len(t.path) == 0 {
		return nil
	}
	return &t.path[len(t.path)-1]
}

// begin says that a value begins on the present level.
func (t *tokens) begin() {
	if top := t.top(); top != nil {
		top.place++
		top.keyed = false
	}
}

// where names the value that was read last, such as "checks.3.value.u".
func (t *tokens) where() string {
	names := make([]string, 0, len(t.path))
	for _, s := range t.path {
		switch {
		case !s.array:
			names = append(names, s.key)
		case s.place >= 0:
			names = append(names, fmt.Sprint(s.place))
		}
	}
	return strings.Join(names, ".")
}
