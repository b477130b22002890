package record

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// drawFinding draws a finding of a diagnosis.
func drawFinding(t *rapid.T) Finding {
	text := rapid.StringN(1, 12, -1)
	p := rapid.Float64Range(0, 1).Draw(t, "probability")
	list := func(label string) []Testimony {
		return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Testimony {
			return Testimony{text.Draw(t, "reading"), text.Draw(t, "text"), rapid.Float64().Draw(t, "weight")}
		}), 0, 3).Draw(t, label)
	}
	return Finding{
		Title: text.Draw(t, "title"), Fault: text.Draw(t, "fault"), Probability: &p, Rework: text.Draw(t, "rework"),
		ReadingsFor: list("for"), ReadingsAgainst: list("against"),
		Alike: rapid.SliceOfN(text, 0, 3).Draw(t, "alike"), Measure: text.Draw(t, "measure"),
	}
}

// A diagnosis is an addition: a run that has one comes back whole, and the
// same run without it is the document that it was before there were any.
func TestADiagnosisComesBackAndLeavesNoTraceWhereThereIsNone(t *testing.T) {
	without, err := EncodeRun(sampleRun())
	require.NoError(t, err)
	require.NotContains(t, string(without), "diagnosis")
	require.NotContains(t, string(without), "readings_for")

	p, good := 0.97, 0.01
	r := sampleRun()
	r.Suspects = append([]Finding{{
		Title: "no termination", Fault: "no-rd", Probability: &p, Rework: "Fit both resistors.",
		ReadingsFor:     []Testimony{{"r-cc2", "Termination at CC2: 131 kΩ; good units give 4.9 to 5.3 kΩ", 6.91}},
		ReadingsAgainst: []Testimony{{"check cross", "CC2 beside CC1: 0.1 V", -0.5}},
		Alike:           []string{"rd-missing-one-pin"}, Measure: "Resistance from A5 to ground",
	}}, r.Suspects...)
	r.Diagnosis = &Diagnosis{Dictionary: r.Files[0].SHA256, Units: 4200, Priors: "equal", Good: &good}
	data, err := EncodeRun(r)
	require.NoError(t, err)
	require.NoError(t, accepts(t, published(t, RunSchema), data))
	again, err := DecodeRun(data)
	require.NoError(t, err)
	require.Empty(t, cmp.Diff(r, again))
}

// A run that is diagnosed by nothing says why.
func TestADiagnosisWithoutADictionarySaysWhy(t *testing.T) {
	r := sampleRun()
	r.Diagnosis = &Diagnosis{Why: "the bench failed"}
	data, err := EncodeRun(r)
	require.NoError(t, err)
	require.NoError(t, accepts(t, published(t, RunSchema), data))
	require.Contains(t, string(data), `"diagnosis":{"why":"the bench failed"}`)
}
