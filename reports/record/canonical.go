package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/gowebpki/jcs"
)

// canonical returns the document in the form of RFC 8785: members in the order of
// their names, no spaces, numbers and texts in one way of writing each.
//
// It writes that form at once. A general encoder and a transformation of its text
// took fifteen times as long, and a line's ledger is made of nothing else; the
// tests hold both against each other.
func canonical(doc any) ([]byte, error) {
	if text, ok := doc.(json.RawMessage); ok {
		data, err := jcs.Transform(text)
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrForm, err)
		}
		return data, nil
	}
	v := reflect.ValueOf(doc)
	draft := drafts.Get().(*[]byte)
	defer drafts.Put(draft)
	data, ok := appendValue((*draft)[:0], v)
	*draft = data
	if ok {
		return bytes.Clone(data), nil
	}
	if err := plain(v, ""); err != nil {
		return nil, err // which names the place
	}
	return nil, fmt.Errorf("%T: %w", doc, ErrForm)
}

// drafts are where documents are written before their length is known: a record is
// some ten thousand members, and would outgrow its room a dozen times.
var drafts = sync.Pool{New: func() any { return new([]byte) }}

// member is one member of a document.
type member struct {
	name string
	// key is the name as it is written, with quotes and colon.
	key   string
	index []int
	// optional members are absent when they say nothing.
	optional bool
}

// memberLists holds the members of every type of document, in canonical order.
var memberLists sync.Map

func membersOf(t reflect.Type) []member {
	if list, ok := memberLists.Load(t); ok {
		return list.([]member)
	}
	var list []member
	for _, m := range collect(t, nil) {
		// A member of the type itself stands before one of the same name in a
		// type within (encoding/json, Marshal).
		at := slices.IndexFunc(list, func(x member) bool { return x.name == m.name })
		switch {
		case at < 0:
			list = append(list, m)
		case len(m.index) < len(list[at].index):
			list[at] = m
		}
	}
	// By UTF-16 code units (RFC 8785, 3.2.3), which for names in ASCII is by bytes.
	slices.SortFunc(list, func(a, b member) int { return strings.Compare(a.name, b.name) })
	known, _ := memberLists.LoadOrStore(t, list)
	return known.([]member)
}

// collect lists the members of a type with those of the types within it.
func collect(t reflect.Type, path []int) []member {
	var list []member
	for i := range t.NumField() {
		f := t.Field(i)
		at := append(slices.Clone(path), i)
		tag := f.Tag.Get("json")
		if f.Anonymous && tag == "" {
			list = append(list, collect(f.Type, at)...)
			continue
		}
		name, options, _ := strings.Cut(tag, ",")
		if name == "-" {
			continue
		}
		list = append(list, member{name: name, key: `"` + name + `":`, index: at, optional: options == "omitempty"})
	}
	return list
}

// appendValue writes a value; false for one that has no place in a document.
func appendValue(b []byte, v reflect.Value) ([]byte, bool) {
	switch v.Kind() {
	case reflect.String:
		return appendText(b, v.String())
	case reflect.Float64:
		return appendNumber(b, v.Float())
	case reflect.Int, reflect.Int64:
		n := v.Int()
		return strconv.AppendInt(b, n, 10), n <= maxInteger && n >= -maxInteger
	case reflect.Bool:
		return strconv.AppendBool(b, v.Bool()), true
	case reflect.Pointer:
		if v.IsNil() {
			return append(b, "null"...), true
		}
		return appendValue(b, v.Elem())
	case reflect.Slice:
		return appendList(b, v)
	case reflect.Struct:
		return appendMembers(b, v)
	}
	return b, false
}

func appendList(b []byte, v reflect.Value) ([]byte, bool) {
	if v.IsNil() {
		return append(b, "null"...), true
	}
	ok := true
	b = append(b, '[')
	for i := 0; i < v.Len() && ok; i++ {
		if i > 0 {
			b = append(b, ',')
		}
		b, ok = appendValue(b, v.Index(i))
	}
	return append(b, ']'), ok
}

func appendMembers(b []byte, v reflect.Value) ([]byte, bool) {
	ok, written := true, false
	b = append(b, '{')
	for _, m := range membersOf(v.Type()) {
		f := v
		for _, i := range m.index {
			f = f.Field(i)
		}
		if m.optional && saysNothing(f) {
			continue
		}
		if written {
			b = append(b, ',')
		}
		written = true
		if b, ok = appendValue(append(b, m.key...), f); !ok {
			return b, false
		}
	}
	return append(b, '}'), true
}

// saysNothing tells what an optional member is absent for (encoding/json,
// omitempty). A minus zero is a zero.
func saysNothing(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Slice, reflect.String:
		return v.Len() == 0
	case reflect.Float64:
		return v.Float() == 0
	case reflect.Struct:
		return false
	}
	return v.IsZero()
}

// appendNumber writes a number as ECMAScript does (RFC 8785, 3.2.2.3).
func appendNumber(b []byte, f float64) ([]byte, bool) {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return b, false
	}
	size := math.Abs(f)
	switch {
	case f == 0:
		return append(b, '0'), true // a minus zero too
	case size >= 1e-6 && size < 1e21:
		return strconv.AppendFloat(b, f, 'f', -1, 64), true
	}
	b = strconv.AppendFloat(b, f, 'e', -1, 64)
	if n := len(b); b[n-2] == '0' && (b[n-3] == '-' || b[n-3] == '+') {
		b = append(b[:n-2], b[n-1]) // 1e-07 is written 1e-7
	}
	return b, true
}

// appendText writes a text (RFC 8785, 3.2.2.2); false where it is not UTF-8.
func appendText(b []byte, text string) ([]byte, bool) {
	const digits = "0123456789abcdef"
	b = append(b, '"')
	from := 0
	for i := 0; i < len(text); i++ {
		c := text[i]
		if c >= ' ' && c != '"' && c != '\\' {
			continue
		}
		b = append(b, text[from:i]...)
		from = i + 1
		switch c {
		case '"', '\\':
			b = append(b, '\\', c)
		case '\b':
			b = append(b, '\\', 'b')
		case '\t':
			b = append(b, '\\', 't')
		case '\n':
			b = append(b, '\\', 'n')
		case '\f':
			b = append(b, '\\', 'f')
		case '\r':
			b = append(b, '\\', 'r')
		default:
			b = append(b, '\\', 'u', '0', '0', digits[c>>4], digits[c&15])
		}
	}
	b = append(b, text[from:]...)
	return append(b, '"'), utf8.ValidString(text)
}
