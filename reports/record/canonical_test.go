package record

import (
	"bytes"
	"encoding/json"
	"strings"
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

// What reads the canonical form alone accepts what a library makes, and nothing
// that a library would change.
func TestCanonicalFormIsKnown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		doc := map[string]any{
			rapid.String().Draw(t, "name"): rapid.String().Draw(t, "text"), rapid.String().Draw(t, "name"): rapid.Float64().Draw(t, "number"),
			rapid.String().Draw(t, "name"): []any{rapid.Bool().Draw(t, "bool"), nil, map[string]any{}, []any{}},
		}
		form := []byte(general(t, doc))
		require.True(t, isCanonical(form), "%s", form)
		skipped := cursor{data: form}
		skipped.skip()
		require.False(t, skipped.bad)
		require.Equal(t, len(form), skipped.at)
		at := rapid.IntRange(0, len(form)-1).Draw(t, "at")
		changed := append([]byte{}, form...)
		changed[at] = rapid.Byte().Draw(t, "byte")
		again, err := jcs.Transform(changed)
		if isCanonical(changed) {
			require.NoError(t, err, "%s", changed)
			require.Equal(t, string(again), string(changed))
		}
	})
	for _, text := range []string{
		``, ` {}`, `{} `, `{"a":1,"a":2}`, `{"b":1,"a":2}`, `{"a":1.0}`, `{"a":1e2}`, `{"a":-0}`, `{"a":01}`, `{"a":"\u0041"}`, `{"a":"\/"}`,
		`{"a":"\u000a"}`, `{"a":"\u001F"}`, "{\"a\":\"\n\"}", "{\"a\":\"\xff\"}", `{"a":tru}`, `{"a":1,}`, `[1,]`, `[1 ,2]`, `{"a"}`, `{"a":1`, `["\u00`, `["\`, `1e999`,
		strings.Repeat("[", 2000) + strings.Repeat("]", 2000),
	} {
		require.False(t, isCanonical([]byte(text)), "%.40s", text)
	}
	for _, text := range []string{`{}`, `[]`, `{"\ud83d\ude00":1}`, `{"a":{"b":[1,"x\"y",null,true,false]},"b":1e+21}`} {
		require.Equal(t, strings.IndexByte(text, 'd') < 0, isCanonical([]byte(text)), "%s", text)
	}
}

// A document that is read as the canonical form is the one that a general decoder
// reads, whatever the bytes are.
func FuzzReadCanonical(f *testing.F) {
	run, err := EncodeRun(sampleRun())
	require.NoError(f, err)
	f.Add(run)
	f.Add([]byte(`{"schema":"x","checks":[],"attempt":1.5}`))
	f.Add([]byte(`{"checks":null,"id":"a\u0000b"}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var fast, slow Run
		if !readCanonical(data, &fast) {
			return
		}
		dec := json.NewDecoder(bytes.NewReader(data))
		dec.DisallowUnknownFields()
		require.NoError(t, dec.Decode(&slow), "%s", data)
		require.Equal(t, slow, fast)
	})
}
