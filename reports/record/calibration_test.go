package record

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func sampleCalibration() Calibration {
	return Calibration{
		ID: "01890a5d-ac96-774b-bcce-b302099a8059", Bench: Bench{Name: "bench 3", Kind: Twin, Program: "0.1.0"},
		Made: "2026-05-04T06:00:00Z", Due: "2027-05-04T06:00:00Z", By: "A. Engineer",
		Wiring: File{RoleWiring, "shipped rig", "1", strings.Repeat("0a", 32)},
		Channels: []CalibratedChannel{{
			Channel: "vbus", Unit: "V", Reference: Reference{"meter 7", "C-2026-17", 5e-5, 1e-4},
			Points: []CalibratedPoint{{"isolated", 0.001, 1e-5, 0}, {"legacy-a", 5.08, 2e-5, 5.0871}},
			Centre: 2.5405, Level: 2.54355, Slope: 1.0016, LevelStd: 1e-5, SlopeStd: 4e-6, DOF: 3,
			DriftGain: 2e-4, DriftOffset: 1e-4, UBefore: 0.0098, UAfter: 0.0011,
		}},
	}
}

func TestCalibrationIsAnEntryOfTheChain(t *testing.T) {
	first, err := Seal(nil, sampleCalibration(), sampleKey(t))
	require.NoError(t, err)
	require.NoError(t, first.Verify(Public(sampleKey(t))))
	require.NoError(t, accepts(t, published(t, EntrySchema), first.Bytes()))
	again, err := DecodeEntry(first.Bytes())
	require.NoError(t, err)
	doc, err := again.Document()
	require.NoError(t, err)
	require.Equal(t, sampleCalibration(), doc)
	require.InDelta(t, 5.0871, sampleCalibration().Channels[0].Corrected(5.08), 1e-4)
}

// The rules stand twice, in Go and in the published schema.
func TestBrokenCalibrationsAreRefusedTwice(t *testing.T) {
	schema := published(t, CalibrationSchema)
	for name, change := range map[string]func(*Calibration){
		"id":               func(c *Calibration) { c.ID = "7" },
		"no bench":         func(c *Calibration) { c.Bench.Name = "" },
		"toy":              func(c *Calibration) { c.Bench.Kind = "toy" },
		"no program":       func(c *Calibration) { c.Bench.Program = "" },
		"made":             func(c *Calibration) { c.Made = "today" },
		"due":              func(c *Calibration) { c.Due = "" },
		"nobody":           func(c *Calibration) { c.By = "" },
		"wiring":           func(c *Calibration) { c.Wiring.SHA256 = "ab" },
		"no channel":       func(c *Calibration) { c.Channels = nil },
		"unnamed channel":  func(c *Calibration) { c.Channels[0].Channel = "" },
		"unit":             func(c *Calibration) { c.Channels[0].Unit = "mV" },
		"no reference":     func(c *Calibration) { c.Channels[0].Reference.Name = "" },
		"no point":         func(c *Calibration) { c.Channels[0].Points = nil },
		"slope":            func(c *Calibration) { c.Channels[0].Slope = 0 },
		"negative level":   func(c *Calibration) { c.Channels[0].LevelStd = -1 },
		"negative drift":   func(c *Calibration) { c.Channels[0].DriftGain = -1 },
		"point of nowhere": func(c *Calibration) { c.Channels[0].Points[0].State = "" },
		"negative spread":  func(c *Calibration) { c.Channels[0].Points[0].ReadingStd = -1 },
	} {
		c := sampleCalibration()
		change(&c)
		_, err := EncodeCalibration(c)
		require.ErrorIs(t, err, ErrInvalid, name)
		data, err := json.Marshal(calibrationDocument{CalibrationSchema, c})
		require.NoError(t, err)
		require.Error(t, accepts(t, schema, data), name)
	}
	c := sampleCalibration()
	c.Due = c.Made
	_, err := EncodeCalibration(c)
	require.ErrorContains(t, err, "due is not after made")
}

func TestUncalibratedStandsInTheSchema(t *testing.T) {
	o := sampleOpening()
	o.Bench.Calibration, o.Bench.Uncalibrated = "", "the reference is away"
	data, err := EncodeOpening(o)
	require.NoError(t, err)
	require.NoError(t, accepts(t, published(t, OpeningSchema), data))
}

// A channel that is carried over names where it was compared, and makes the
// document one of the second version.
func TestCarriedOverChannels(t *testing.T) {
	c := sampleCalibration()
	c.Channels = append(c.Channels, c.Channels[0])
	c.Channels[1].Channel, c.Channels[1].From = "cc1", "01890a5d-ac96-774b-bcce-b302099a8011"
	e, err := Seal(nil, c, sampleKey(t))
	require.NoError(t, err)
	require.Equal(t, EntrySchema2, e.Schema())
	require.NoError(t, accepts(t, published(t, EntrySchema2), e.Bytes()))
	again, err := DecodeEntry(e.Bytes())
	require.NoError(t, err)
	doc, err := again.Document()
	require.NoError(t, err)
	require.Equal(t, c, doc)
	c.Channels[1].From = "the last one"
	_, err = EncodeCalibration(c)
	require.ErrorIs(t, err, ErrInvalid)
	data, err := json.Marshal(calibrationDocument{CalibrationSchema2, c})
	require.NoError(t, err)
	require.Error(t, accepts(t, published(t, CalibrationSchema2), data))
}
