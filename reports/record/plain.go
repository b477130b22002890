package record

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"unicode/utf8"
)

// maxInteger is the largest integer that every JSON reader keeps exactly
// (RFC 7493, 2.2).
const maxInteger = 1<<53 - 1

// plain walks through a document and refuses what JSON would lose: numbers
// that are not finite, integers that a double rounds, text that is not UTF-8
// and would silently be replaced. path names the place for the error.
func plain(v reflect.Value, path string) error {
	switch v.Kind() {
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			return fmt.Errorf("%s is %v: %w", path, f, ErrNumber)
		}
	case reflect.Int, reflect.Int64:
		if n := v.Int(); n > maxInteger || n < -maxInteger {
			return fmt.Errorf("%s is %d, beyond 2^53-1: %w", path, n, ErrNumber)
		}
	case reflect.String:
		if !utf8.ValidString(v.String()) {
			return fmt.Errorf("%s is %q: %w", path, v.String(), ErrText)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			return plain(v.Elem(), path)
		}
	case reflect.Slice:
		return plainSlice(v, path)
	case reflect.Struct:
		return plainStruct(v, path)
	}
	return nil
}

func plainSlice(v reflect.Value, path string) error {
	// Waveforms hold thousands of samples: their path is made only on error.
	if samples, ok := v.Interface().([]float64); ok {
		for i, f := range samples {
			if math.IsNaN(f) || math.IsInf(f, 0) {
				return fmt.Errorf("%s[%d] is %v: %w", path, i, f, ErrNumber)
			}
		}
		return nil
	}
	for i := range v.Len() {
		if err := plain(v.Index(i), path+"["+strconv.Itoa(i)+"]"); err != nil {
			return err
		}
	}
	return nil
}

func plainStruct(v reflect.Value, path string) error {
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		at := path
		if name != "" {
			at = strings.TrimPrefix(path+"."+name, ".")
		}
		if err := plain(v.Field(i), at); err != nil {
			return err
		}
	}
	return nil
}
