package record

import (
	"encoding/json"
	"testing"

	"github.com/gowebpki/jcs"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// general is the canonical form by the second way: an encoder that knows nothing of
// it, and a library's transformation of its text.
func general(t require.TestingT, doc any) string {
	data, err := json.Marshal(doc)
	require.NoError(t, err)
	data, err = jcs.Transform(data)
	require.NoError(t, err)
	return string(data)
}

// shapes has members of every kind that documents have, and texts and numbers of
// any value in them.
type shapes struct {
	Zebra  string    `json:"zebra"`
	Text   string    `json:"text,omitempty"`
	shaped           // whose own text and number are hidden
	Number float64   `json:"number,omitempty"`
	Always float64   `json:"always"`
	Many   []float64 `json:"many,omitempty"`
	Null   []string  `json:"null"`
	At     *float64  `json:"at,omitempty"`
	None   *float64  `json:"none"`
	Yes    bool      `json:"yes,omitempty"`
	Whole  int64     `json:"whole,omitempty"`
	Parts  []shaped  `json:"parts,omitempty"`
	Part   *shaped   `json:"part,omitempty"`
	Kept   shaped    `json:"kept,omitempty"`
	Apart  string    `json:"-"`
}

type shaped struct {
	Text   string  `json:"text"`
	Number float64 `json:"number"`
	Below  Answer  `json:"below,omitempty"`
}

func drawShaped(t *rapid.T) shaped {
	return shaped{rapid.String().Draw(t, "text"), rapid.Float64().Draw(t, "number"), Answer(rapid.String().Draw(t, "below"))}
}

// The form that is written at once is the one that a library makes.
func TestCanonicalFormIsTheLibrarys(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		doc := shapes{
			Apart: "x", Zebra: rapid.String().Draw(t, "zebra"), Text: rapid.String().Draw(t, "text"), shaped: drawShaped(t), Number: rapid.Float64().Draw(t, "number"),
			Many: rapid.SliceOf(rapid.Float64()).Draw(t, "many"), Always: rapid.Float64().Draw(t, "always"), Yes: rapid.Bool().Draw(t, "yes"),
			Whole: rapid.Int64Range(-maxInteger, maxInteger).Draw(t, "whole"), Parts: rapid.SliceOf(rapid.Custom(drawShaped)).Draw(t, "parts"), Kept: drawShaped(t),
		}
		if rapid.Bool().Draw(t, "at") {
			at, part := rapid.Float64().Draw(t, "value"), drawShaped(t)
			doc.At, doc.Part = &at, &part
		}
		got, err := canonical(doc)
		require.NoError(t, err)
		require.Equal(t, general(t, doc), string(got))
	})
	for _, run := range []Run{sampleRun(), {}} {
		got, err := canonical(run)
		require.NoError(t, err)
		require.Equal(t, general(t, run), string(got))
	}
}
