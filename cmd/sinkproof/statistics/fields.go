package statistics

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"sinkproof/reports/quality"
)

// fields is an object for a program: names with values, in their order. A
// number that is undefined is left out.
type fields []field

// field is a name with a number, or with another value where that is not nil.
// Numbers stand apart, so that a million of them need no boxes.
type field struct {
	name  string
	num   float64
	value any
}

// add takes a text, a truth, a whole number or a list as it is.
func (f *fields) add(name string, value any) { *f = append(*f, field{name: name, value: value}) }

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
		*f = append(*f, field{name: name, num: v})
	}
}

// interval takes the ends of an interval, those that there are.
func (f *fields) interval(name string, i quality.Interval) {
	f.number(name+"_low", i.Low)
	f.number(name+"_high", i.High)
}

// get returns a number; NaN where there is none.
func (f fields) get(name string) float64 {
	for _, x := range f {
		if x.name != name {
			continue
		}
		if n, ok := x.value.(int); ok {
			return float64(n)
		}
		if x.value == nil {
			return x.num
		}
	}
	return math.NaN()
}

// objects is a list of objects that are made one by one as they are written:
// a chart may have a million points. An object is valid until the next one.
type objects struct {
	n  int
	at func(i int) fields
}

// listOf is a list of objects that are there.
func listOf(list []fields) objects {
	return objects{len(list), func(i int) fields { return list[i] }}
}

// printJSON prints an object, indented.
func printJSON(w io.Writer, f fields) error {
	out := bufio.NewWriterSize(w, 1<<16)
	if err := (printer{out}).object(f, "\n"); err != nil {
		return fmt.Errorf("print JSON: %w", err)
	}
	out.WriteByte('\n') // the writer keeps its first error for Flush
	if err := out.Flush(); err != nil {
		return fmt.Errorf("print JSON: %w", err)
	}
	return nil
}

// printer writes JSON with two spaces a level; indent is the line end with the
// spaces of the present level.
type printer struct{ *bufio.Writer }

func (p printer) object(f fields, indent string) error {
	p.WriteByte('{')
	for i, x := range f {
		if i > 0 {
			p.WriteByte(',')
		}
		p.WriteString(indent + "  ")
		p.WriteString(`"` + x.name + `": `) // names of fields are plain words
		var err error
		if x.value == nil {
			err = p.float(x.num)
		} else {
			err = p.value(x.value, indent+"  ")
		}
		if err != nil {
			return fmt.Errorf("field %s: %w", x.name, err)
		}
	}
	if len(f) > 0 {
		p.WriteString(indent)
	}
	p.WriteByte('}')
	return nil
}

func (p printer) value(v any, indent string) error {
	switch v := v.(type) {
	case fields:
		return p.object(v, indent)
	case objects:
		return p.list(v.n, indent, func(i int, indent string) error { return p.object(v.at(i), indent) })
	case []string:
		return p.list(len(v), indent, func(i int, _ string) error { return p.other(v[i]) })
	case []float64:
		return p.list(len(v), indent, func(i int, _ string) error { return p.float(v[i]) })
	case []int:
		return p.list(len(v), indent, func(i int, _ string) error { return p.other(v[i]) })
	case float64:
		return p.float(v)
	}
	return p.other(v)
}

func (p printer) list(n int, indent string, each func(int, string) error) error {
	if n == 0 {
		p.WriteString("[]")
		return nil
	}
	p.WriteByte('[')
	for i := range n {
		if i > 0 {
			p.WriteByte(',')
		}
		p.WriteString(indent + "  ")
		if err := each(i, indent+"  "); err != nil {
			return err
		}
	}
	p.WriteString(indent + "]")
	return nil
}

// float writes a number in the fewest digits that give it back, with an exponent
// only where encoding/json writes one.
func (p printer) float(v float64) error {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return fmt.Errorf("%v is no number in JSON", v)
	}
	var buffer [32]byte
	form := byte('f')
	if size := math.Abs(v); size != 0 && (size < 1e-6 || size >= 1e21) {
		form = 'e'
	}
	_, err := p.Write(strconv.AppendFloat(buffer[:0], v, form, -1, 64))
	return err
}

// other writes what encoding/json does right, and leaves <, > and & as they
// are.
func (p printer) other(v any) error {
	switch v := v.(type) {
	case int:
		var buffer [20]byte
		_, err := p.Write(strconv.AppendInt(buffer[:0], int64(v), 10))
		return err
	case bool:
		_, err := p.WriteString(strconv.FormatBool(v))
		return err
	}
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return err
	}
	_, err := p.Write(bytes.TrimSuffix(out.Bytes(), []byte("\n")))
	return err
}
