package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
)

var (
	// ErrNumber is the cause when a number cannot stand in a record: NaN, an
	// infinity, or an integer beyond ±(2^53-1), which a reader that keeps
	// numbers as doubles would round (RFC 8785, 3.2.2.3; RFC 7493, 2.2).
	ErrNumber = errors.New("number has no place in a record")
	// ErrText is the cause when a text is not valid UTF-8.
	ErrText = errors.New("text is not valid UTF-8")
	// ErrSchema is the cause when a document names a schema that this
	// program does not know.
	ErrSchema = errors.New("unknown schema")
	// ErrForm is the cause when a document is not JSON, not in canonical
	// form, or has members that its schema does not.
	ErrForm = errors.New("not a canonical document")
	// ErrInvalid is the cause when a document breaks a rule of its schema.
	ErrInvalid = errors.New("not a valid document")
)

// openingDocument and interruptionDocument are the documents of their kind
// with the member that names the schema.
type openingDocument struct {
	Schema string `json:"schema"`
	Opening
}

type interruptionDocument struct {
	Schema string `json:"schema"`
	Interruption
}

// EncodeRun validates the run and returns its canonical form. It wraps
// ErrInvalid, ErrNumber or ErrText.
func EncodeRun(r Run) ([]byte, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	data, err := canonical(r)
	if err != nil {
		return nil, fmt.Errorf("record %s: encode: %w", r.ID, err)
	}
	return data, nil
}

// EncodeOpening validates the opening and returns its canonical form.
func EncodeOpening(o Opening) ([]byte, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	data, err := canonical(openingDocument{o.schema(), o})
	if err != nil {
		return nil, fmt.Errorf("opening %s: encode: %w", o.ID, err)
	}
	return data, nil
}

// EncodeInterruption validates the interruption and returns its canonical
// form.
func EncodeInterruption(i Interruption) ([]byte, error) {
	if err := i.Validate(); err != nil {
		return nil, err
	}
	data, err := canonical(interruptionDocument{InterruptionSchema, i})
	if err != nil {
		return nil, fmt.Errorf("interruption of %s: encode: %w", i.ID, err)
	}
	return data, nil
}

// DecodeRun reads the canonical form of a run. It wraps ErrForm, ErrSchema,
// or what EncodeRun wraps.
func DecodeRun(data []byte) (Run, error) {
	var r Run
	if err := decode(data, &r, RunSchema, RunSchema2); err != nil {
		return Run{}, fmt.Errorf("record: decode: %w", err)
	}
	if r.Schema != r.schema() {
		return r, fmt.Errorf("record: decode: schema %q where %q is expected: %w", r.Schema, r.schema(), ErrSchema)
	}
	return r, sameForm(data, func() ([]byte, error) { return EncodeRun(r) })
}

// DecodeOpening reads the canonical form of an opening.
func DecodeOpening(data []byte) (Opening, error) {
	var d openingDocument
	if err := decode(data, &d, OpeningSchema, OpeningSchema2); err != nil {
		return Opening{}, fmt.Errorf("opening: decode: %w", err)
	}
	if d.Schema != d.Opening.schema() {
		return d.Opening, fmt.Errorf("opening: decode: schema %q where %q is expected: %w", d.Schema, d.Opening.schema(), ErrSchema)
	}
	return d.Opening, sameForm(data, func() ([]byte, error) { return EncodeOpening(d.Opening) })
}

// DecodeInterruption reads the canonical form of an interruption.
func DecodeInterruption(data []byte) (Interruption, error) {
	var d interruptionDocument
	if err := decode(data, &d, InterruptionSchema); err != nil {
		return Interruption{}, fmt.Errorf("interruption: decode: %w", err)
	}
	return d.Interruption, sameForm(data, func() ([]byte, error) { return EncodeInterruption(d.Interruption) })
}

// decode reads a document of one of the given schemas and refuses unknown
// members. Documents are in canonical form, which is read ten times as fast; what
// is not, is read by a general decoder, for the sake of its complaint.
func decode[T any](data []byte, into *T, schemas ...string) error {
	var head struct {
		Schema string `json:"schema"`
	}
	var read T
	if readCanonical(data, &read) && slices.Contains(schemas, schemaOf(read)) {
		*into = read
		return nil
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return fmt.Errorf("%w: %w", ErrForm, err)
	}
	if !slices.Contains(schemas, head.Schema) {
		return fmt.Errorf("schema %q where %q is expected: %w", head.Schema, schemas[0], ErrSchema)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return fmt.Errorf("%w: %w", ErrForm, err)
	}
	return nil
}

// schemaOf is the schema that a document names.
func schemaOf(doc any) string {
	return reflect.ValueOf(doc).FieldByName("Schema").String()
}

// sameForm demands that encoding what was decoded gives the same bytes. That
// refuses every way of writing the same document differently: spaces, order,
// null for absent, repeated members, members in another case.
func sameForm(data []byte, encode func() ([]byte, error)) error {
	again, err := encode()
	if err != nil {
		return err
	}
	if !bytes.Equal(data, again) {
		return fmt.Errorf("record: decode: %w: differs from its canonical form at byte %d",
			ErrForm, firstDifference(data, again))
	}
	return nil
}

func firstDifference(a, b []byte) int {
	n := min(len(a), len(b))
	for i := range n {
		if a[i] != b[i] {
			return i
		}
	}
	return n
}
