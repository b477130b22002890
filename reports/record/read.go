package record

import (
	"bytes"
	"encoding/json"
	"reflect"
	"unicode/utf8"
)

// readCanonical reads a document in canonical form into a struct. It tells false, with the
// struct in any state, for a document that is in another form, has members that the
// struct has not, or says null: a general decoder then says what is wrong.
func readCanonical(data []byte, into any) bool {
	c := cursor{data: data}
	c.fill(reflect.ValueOf(into).Elem())
	return !c.bad && c.at == len(data) && utf8.Valid(data)
}

func (c *cursor) fill(v reflect.Value) {
	if raw, ok := v.Addr().Interface().(*json.RawMessage); ok {
		from := c.at
		c.canonical(0)
		*raw = bytes.Clone(c.data[from:c.at])
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(string(c.text()))
	case reflect.Float64:
		v.SetFloat(c.float())
	case reflect.Int, reflect.Int64:
		v.SetInt(c.whole())
	case reflect.Bool:
		yes := c.peek() == 't'
		if yes {
			c.word("true")
		} else {
			c.word("false")
		}
		v.SetBool(yes)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		c.fill(v.Elem())
	case reflect.Slice:
		c.fillList(v)
	case reflect.Struct:
		c.fillMembers(v)
	default:
		c.bad = true
	}
}

func (c *cursor) fillList(v reflect.Value) {
	v.Set(reflect.MakeSlice(v.Type(), 0, 0))
	c.list(func() {
		if v.Len() == v.Cap() {
			v.Grow(max(8, v.Len()))
		}
		v.SetLen(v.Len() + 1)
		c.fill(v.Index(v.Len() - 1))
	})
}

// fillMembers walks through the members of the type and of the document side by
// side: both stand in the order of their names.
func (c *cursor) fillMembers(v reflect.Value) {
	members, next := membersOf(v.Type()), 0
	c.members(func(name []byte) {
		for next < len(members) && members[next].name != string(name) {
			next++
		}
		if next == len(members) {
			c.bad = true // unknown, twice, or out of order
			return
		}
		f := v
		for _, i := range members[next].index {
			f = f.Field(i)
		}
		next++
		c.fill(f)
	})
}
