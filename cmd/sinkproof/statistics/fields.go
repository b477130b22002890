package statistics

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"sinkproof/reports/quality"
)

// fields is an object for a program: names with values, in their order. A
// number that is undefined is left out.
type fields []field

type field struct {
	name  string
	value any
}

// add takes a text, a truth, a whole number or a list as it is.
func (f *fields) add(name string, value any) { *f = append(*f, field{name, value}) }

// set is add for a field that may be there already.
func (f *fields) set(name string, value any) {
	for i := range *f {
		if (*f)[i].name == name {
			(*f)[i].value = value
			return
		}
	}
	f.add(name, value)
}

// number takes a number that is finite.
func (f *fields) number(name string, v float64) {
	if !math.IsNaN(v) && !math.IsInf(v, 0) {
		f.add(name, v)
	}
}

// interval takes the ends of an interval, those that there are.
func (f *fields) interval(name string, i quality.Interval) {
	f.number(name+"_low", i.Low)
	f.number(name+"_high", i.High)
}

// MarshalJSON writes the object in the order of its fields.
func (f fields) MarshalJSON() ([]byte, error) {
	var out bytes.Buffer
	out.WriteByte('{')
	for i, x := range f {
		if i > 0 {
			out.WriteByte(',')
		}
		for j, part := range []any{x.name, x.value} {
			if j > 0 {
				out.WriteByte(':')
			}
			text, err := marshal(part)
			if err != nil {
				return nil, fmt.Errorf("field %s: %w", x.name, err)
			}
			out.Write(text)
		}
	}
	out.WriteByte('}')
	return out.Bytes(), nil
}

// marshal writes a value and leaves <, > and & as they are.
func marshal(v any) ([]byte, error) {
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return bytes.TrimSuffix(out.Bytes(), []byte("\n")), err
}

// printJSON prints an object, indented.
func printJSON(w io.Writer, f fields) error {
	text, err := f.MarshalJSON()
	if err != nil {
		return fmt.Errorf("print JSON: %w", err)
	}
	var out bytes.Buffer
	if err := json.Indent(&out, text, "", "  "); err != nil {
		return fmt.Errorf("print JSON: %w", err)
	}
	out.WriteByte('\n')
	if _, err := w.Write(out.Bytes()); err != nil {
		return fmt.Errorf("print JSON: %w", err)
	}
	return nil
}
