package page

import (
	"reflect"

	"sinkproof/reports/page/plot"
)

// each replaces every text of the view, so that none is forgotten when the
// view grows. What machines read stays as it is: the code and the hash.
func (r *Report) each(change func(string) string) {
	code, hash, started := r.Code, r.Hash, r.Started
	replace(reflect.ValueOf(r).Elem(), change)
	r.Code, r.Hash, r.Started = code, hash, started
}

func replace(v reflect.Value, change func(string) string) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(change(v.String()))
	case reflect.Slice:
		for i := range v.Len() {
			replace(v.Index(i), change)
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[plot.Figure]() {
			return // plot looks after its own texts
		}
		for i := range v.NumField() {
			replace(v.Field(i), change)
		}
	}
}

// printable returns a copy of the view in glyphs of the embedded font.
func (r Report) printable() Report {
	r = clone(reflect.ValueOf(r)).Interface().(Report)
	r.each(plot.Printable)
	return r
}

// clone copies a value with its slices, so that replacing texts in the copy
// leaves the original alone: two goroutines may print one view.
func clone(v reflect.Value) reflect.Value {
	c := reflect.New(v.Type()).Elem()
	c.Set(v)
	switch v.Kind() {
	case reflect.Slice:
		if v.IsNil() {
			return c
		}
		c = reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			c.Index(i).Set(clone(v.Index(i)))
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[plot.Figure]() {
			return c
		}
		for i := range v.NumField() {
			c.Field(i).Set(clone(v.Field(i)))
		}
	}
	return c
}
