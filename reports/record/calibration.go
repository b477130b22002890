package record

import (
	"fmt"
	"math"
	"time"
)

// The versions of a calibration's document. The second one came with channels
// that are carried over.
const (
	CalibrationSchema  = "sinkproof-calibration/1"
	CalibrationSchema2 = "sinkproof-calibration/2"
)

// CalibrationMade is the kind of an entry that holds a Calibration.
const CalibrationMade Kind = "calibration"

// Calibration is the comparison of a bench with a reference, and what follows
// from it for the bench's readings. A later one takes its place for later
// runs; what stands on an earlier one keeps it.
type Calibration struct {
	// ID is a UUIDv7; the records that stand on the calibration name it.
	ID    string `json:"id"`
	Bench Bench  `json:"bench"`
	// Made and Due are instants of the wall clock, RFC 3339 in UTC.
	Made string `json:"made"`
	Due  string `json:"due"`
	// By names who read the reference.
	By string `json:"by"`
	// Wiring is the wiring file that the bench was driven with.
	Wiring   File                `json:"wiring"`
	Channels []CalibratedChannel `json:"channels"`
}

// Reference is what a channel was compared with. Its uncertainties are
// standard ones, of its gain (relative) and of its offset in the unit of the
// channel.
type Reference struct {
	Name        string  `json:"name"`
	Certificate string  `json:"certificate,omitempty"`
	GainStd     float64 `json:"gain_std"`
	OffsetStd   float64 `json:"offset_std"`
}

// CalibratedChannel is one channel with its points and the line through them:
// value = Level + Slope*(reading - Centre). Numbers are in SI.
type CalibratedChannel struct {
	Channel string `json:"channel"`
	Range   string `json:"range,omitempty"`
	// From is the id of the earlier calibration that the channel was compared
	// in; absent where it is this one.
	From      string            `json:"from,omitempty"`
	Unit      string            `json:"unit"`
	Reference Reference         `json:"reference"`
	Points    []CalibratedPoint `json:"points"`
	Centre    float64           `json:"centre"`
	Level     float64           `json:"level"`
	Slope     float64           `json:"slope"`
	LevelStd  float64           `json:"level_std"`
	SlopeStd  float64           `json:"slope_std"`
	// DOF is the degrees of freedom of the fit; absent (0) means infinite.
	DOF float64 `json:"dof,omitempty"`
	// DriftGain (relative) and DriftOffset are the half-widths that are allowed
	// for drift until the calibration is due.
	DriftGain   float64 `json:"drift_gain"`
	DriftOffset float64 `json:"drift_offset"`
	// UBefore and UAfter are the expanded uncertainties (k = 2) of a reading at
	// the highest point, by the wiring's tolerances and by this calibration.
	UBefore float64 `json:"u_before"`
	UAfter  float64 `json:"u_after"`
}

// CalibratedPoint is one comparison.
type CalibratedPoint struct {
	// State is the setting that the rig stood in.
	State string `json:"state"`
	// Reading is the mean that the channel read by the wiring alone, ReadingStd
	// its repeatability, Reference what the reference showed.
	Reading    float64 `json:"reading"`
	ReadingStd float64 `json:"reading_std"`
	Reference  float64 `json:"reference"`
}

// Corrected is what the line makes of a reading.
func (c CalibratedChannel) Corrected(reading float64) float64 {
	return c.Level + c.Slope*(reading-c.Centre)
}

// calibrationDocument is a Calibration with the member that names the schema.
type calibrationDocument struct {
	Schema string `json:"schema"`
	Calibration
}

// Kind returns CalibrationMade.
func (c Calibration) Kind() Kind { return CalibrationMade }

func (c Calibration) encode() ([]byte, error) { return EncodeCalibration(c) }

// schema is the oldest version that describes the calibration.
func (c Calibration) schema() string {
	for _, k := range c.Channels {
		if k.From != "" {
			return CalibrationSchema2
		}
	}
	return CalibrationSchema
}

// EncodeCalibration validates the calibration and returns its canonical form.
// It wraps ErrInvalid, ErrNumber or ErrText.
func EncodeCalibration(c Calibration) ([]byte, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	data, err := canonical(calibrationDocument{c.schema(), c})
	if err != nil {
		return nil, fmt.Errorf("calibration %s: encode: %w", c.ID, err)
	}
	return data, nil
}

// DecodeCalibration reads the canonical form of a calibration. It wraps
// ErrForm, ErrSchema, or what EncodeCalibration wraps.
func DecodeCalibration(data []byte) (Calibration, error) {
	var d calibrationDocument
	if err := decode(data, &d, CalibrationSchema, CalibrationSchema2); err != nil {
		return Calibration{}, fmt.Errorf("calibration: decode: %w", err)
	}
	if d.Schema != d.Calibration.schema() {
		return d.Calibration, fmt.Errorf("calibration: decode: schema %q where %q is expected: %w", d.Schema, d.Calibration.schema(), ErrSchema)
	}
	return d.Calibration, sameForm(data, func() ([]byte, error) { return EncodeCalibration(d.Calibration) })
}

// Validate checks the rules of the published schema, and that the calibration
// is due after it was made. It wraps ErrInvalid.
func (c Calibration) Validate() error {
	thing := fmt.Sprintf("calibration %q", c.ID)
	made, madeErr := time.Parse(time.RFC3339Nano, c.Made)
	due, dueErr := time.Parse(time.RFC3339Nano, c.Due)
	err := demand(thing,
		rule{matches(idForm, c.ID), "id must be a UUIDv7 in lower case"},
		rule{c.Bench.Name != "", "bench name is missing"},
		rule{c.Bench.Kind == Twin || c.Bench.Kind == Hardware, fmt.Sprintf("bench kind is %q, must be twin or hardware", c.Bench.Kind)},
		rule{c.Bench.Program != "", "program version is missing"},
		rule{c.Bench.Unproven == "", "the bench cannot be unproven here"},
		rule{matches(startedForm, c.Made) && madeErr == nil, fmt.Sprintf("made is %q, must be RFC 3339 in UTC", c.Made)},
		rule{matches(startedForm, c.Due) && dueErr == nil, fmt.Sprintf("due is %q, must be RFC 3339 in UTC", c.Due)},
		rule{due.After(made), "due is not after made"},
		rule{c.By != "", "it is not said who read the reference"},
		rule{len(c.Channels) > 0, "no channel was calibrated"},
	)
	if err == nil {
		err = c.Wiring.validate(thing)
	}
	for i := 0; i < len(c.Channels) && err == nil; i++ {
		err = c.Channels[i].validate(thing)
	}
	return err
}

func (c CalibratedChannel) validate(thing string) error {
	thing = fmt.Sprintf("%s: channel %q", thing, c.Channel)
	_, unit := Dimension(c.Unit)
	if err := demand(thing,
		rule{c.Channel != "", "name is missing"},
		rule{c.From == "" || matches(idForm, c.From), "it was carried over from what is no UUIDv7 in lower case"},
		rule{unit == nil, fmt.Sprintf("%q is no unit of a record", c.Unit)},
		rule{c.Reference.Name != "", "the reference has no name"},
		rule{len(c.Points) > 0, "no point was compared"},
		rule{c.Slope > 0, fmt.Sprintf("slope is %g, must be above 0", c.Slope)},
		rule{math.Min(math.Min(c.Reference.GainStd, c.Reference.OffsetStd), math.Min(c.LevelStd, c.SlopeStd)) >= 0, "an uncertainty is negative"},
		rule{c.DOF >= 0 && c.DriftGain >= 0 && c.DriftOffset >= 0 && c.UBefore >= 0 && c.UAfter >= 0, "an uncertainty is negative"},
	); err != nil {
		return err
	}
	for _, p := range c.Points {
		if err := demand(thing, rule{p.State != "", "a point does not say its state"}, rule{p.ReadingStd >= 0, "a repeatability is negative"}); err != nil {
			return err
		}
	}
	return nil
}
