package ledger

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"sinkproof/reports/record"
)

// validator checks documents against the published schemas. It shares no code
// with the record's own rules, so that the two prove each other.
type validator struct {
	// entries are the schemas of the versions of an entry.
	entries map[string]*jsonschema.Schema
}

// newValidator compiles the published schemas.
func newValidator() (*validator, error) {
	compiler := jsonschema.NewCompiler()
	compiler.AssertFormat()
	ids := map[string]string{}
	for _, version := range record.SchemaVersions() {
		text, err := record.Schema(version)
		if err != nil {
			return nil, err
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			return nil, fmt.Errorf("schema %s: %w", version, err)
		}
		members, _ := doc.(map[string]any)
		name, _ := members["$id"].(string)
		if err := compiler.AddResource(name, doc); err != nil {
			return nil, fmt.Errorf("schema %s: %w", version, err)
		}
		ids[version] = name
	}
	v := &validator{map[string]*jsonschema.Schema{}}
	for _, version := range []string{record.EntrySchema, record.EntrySchema2, record.EntrySchema3, record.EntrySchema4} {
		entry, err := compiler.Compile(ids[version])
		if err != nil {
			return nil, fmt.Errorf("schema %s: %w", version, err)
		}
		v.entries[version] = entry
	}
	return v, nil
}

// check validates an entry with its body. It wraps record.ErrInvalid.
func (v *validator) check(e record.Entry) error {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(e.Bytes()))
	if err == nil {
		err = v.entries[e.Schema()].Validate(doc)
	}
	if err != nil {
		return fmt.Errorf("entry %d: %s: breaks the published schema: %w: %s", e.Seq, e.Kind, record.ErrInvalid,
			strings.Join(strings.Fields(err.Error()), " "))
	}
	return nil
}
