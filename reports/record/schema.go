package record

import (
	"embed"
	"fmt"
	"maps"
	"slices"
)

// schemas holds the published JSON Schemas (draft 2020-12), one file per
// released version of a document. They refer to each other by their $id.
//
//go:embed schema/*.json
var schemas embed.FS

// Schema returns the published JSON Schema of a document version such as
// RunSchema or EntrySchema. It wraps ErrSchema for any other text.
func Schema(version string) ([]byte, error) {
	name, ok := publishedFiles()[version]
	if !ok {
		return nil, fmt.Errorf("record: published schema of %q: %w", version, ErrSchema)
	}
	return schemas.ReadFile("schema/" + name)
}

// publishedFiles names the file of every version.
func publishedFiles() map[string]string {
	return map[string]string{
		RunSchema:              "run-1.json",
		RunSchema2:             "run-2.json",
		OpeningSchema:          "opening-1.json",
		OpeningSchema2:         "opening-2.json",
		InterruptionSchema:     "interruption-1.json",
		CalibrationSchema:      "calibration-1.json",
		CalibrationSchema2:     "calibration-2.json",
		GoldenSchema:           "golden-1.json",
		GoldenRetirementSchema: "golden-retirement-1.json",
		GoldenRunSchema:        "golden-run-1.json",
		SuspicionSchema:        "suspicion-1.json",
		WithdrawalSchema:       "withdrawal-1.json",
		ClockSchema:            "clock-1.json",
		EntrySchema:            "entry-1.json",
		EntrySchema2:           "entry-2.json",
		EntrySchema3:           "entry-3.json",
		EntrySchema4:           "entry-4.json",
		TestOrderSchema:        "test-order-1.json",
		LotDrawSchema:          "lot-draw-1.json",
		LotJudgementSchema:     "lot-judgement-1.json",
		SupplierResumedSchema:  "supplier-resumption-1.json",
	}
}

// SchemaVersions lists every document version that this program knows, in the
// order of their names.
func SchemaVersions() []string {
	return slices.Sorted(maps.Keys(publishedFiles()))
}
