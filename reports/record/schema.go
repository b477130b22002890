package record

import (
	"embed"
	"fmt"
)

// schemas holds the published JSON Schemas (draft 2020-12), one file per
// released version of a document. They refer to each other by their $id.
//
//go:embed schema/*.json
var schemas embed.FS

// Schema returns the published JSON Schema of a document version such as
// RunSchema or EntrySchema. It wraps ErrSchema for any other text.
func Schema(version string) ([]byte, error) {
	name, ok := map[string]string{
		RunSchema:          "run-1.json",
		OpeningSchema:      "opening-1.json",
		InterruptionSchema: "interruption-1.json",
		CalibrationSchema:  "calibration-1.json",
		EntrySchema:        "entry-1.json",
	}[version]
	if !ok {
		return nil, fmt.Errorf("record: published schema of %q: %w", version, ErrSchema)
	}
	return schemas.ReadFile("schema/" + name)
}

// SchemaVersions lists every document version that this program knows.
func SchemaVersions() []string {
	return []string{RunSchema, OpeningSchema, InterruptionSchema, CalibrationSchema, EntrySchema}
}
