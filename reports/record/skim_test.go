package record

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// skimmed is what a skimmer takes of a record.
func skimmed(r Run) Run {
	short := Run{Opening: r.Opening, Verdict: r.Verdict}
	short.Bench = Bench{Name: r.Bench.Name, Kind: r.Bench.Kind}
	short.AllowedBy, short.Decision = "", Decision{}
	for _, c := range r.Checks {
		x := Check{Name: c.Name, Title: c.Title, Answer: c.Answer, Control: c.Control}
		if c.Value != nil {
			x.Value = &Value{Value: c.Value.Value, Unit: c.Value.Unit, Bound: c.Value.Bound}
		}
		if c.Lower != nil {
			x.Lower = &Limit{Value: c.Lower.Value, Unit: c.Lower.Unit}
		}
		if c.Upper != nil {
			x.Upper = &Limit{Value: c.Upper.Value, Unit: c.Upper.Unit}
		}
		short.Checks = append(short.Checks, x)
	}
	for _, reading := range r.Readings {
		short.Readings = append(short.Readings, Reading{Name: reading.Name})
	}
	for _, f := range r.Suspects {
		short.Suspects = append(short.Suspects, Finding{Title: f.Title})
	}
	return short
}

// What is skimmed is what is decoded, for any record.
func TestSkimmedIsDecoded(t *testing.T) {
	var s Skimmer
	key := sampleKey(t)
	rapid.Check(t, func(rt *rapid.T) {
		want := drawRun(rt)
		e, err := Seal(nil, want, key)
		require.NoError(rt, err)
		got, err := s.Entry(e.Bytes())
		require.NoError(rt, err)
		require.Equal(rt, Entry{Seq: e.Seq, Kind: e.Kind, Previous: e.Previous, Body: e.Body, Hash: e.Hash}, got)
		run, err := s.Run(got.Body)
		require.NoError(rt, err)
		require.Equal(rt, skimmed(want), run)
	})
}

// No byte of an entry can be changed unseen, but in its signature, which is for
// verification to look at.
func TestSkimmerSeesEveryChange(t *testing.T) {
	e, err := Seal(nil, sampleRun(), sampleKey(t))
	require.NoError(t, err)
	data := e.Bytes()
	end := bytes.LastIndex(data, []byte(`"signature":"`))
	var s Skimmer
	for at := range data[:end] {
		changed := bytes.Clone(data)
		changed[at] ^= 1
		_, err := s.Entry(changed)
		require.Error(t, err, "byte %d", at)
	}
	for _, data := range [][]byte{nil, data[:end], data[:len(data)-1], append(bytes.Clone(data), ' '), []byte("x"), []byte(`{"body":`)} {
		_, err := s.Entry(data)
		require.ErrorIs(t, err, ErrForm)
	}
	for _, body := range []string{``, `{`, `[]`, `{"attempt":"x"}`, `{"checks":{}}`, `{"checks":[`, `{"id":1}`, `{} `} {
		_, err := s.Run([]byte(body))
		require.ErrorIs(t, err, ErrForm, body)
	}
}

func BenchmarkSkim(b *testing.B) {
	run := sampleRun()
	run.Waveforms = nil
	e, err := Seal(nil, run, sampleKey(b))
	require.NoError(b, err)
	data := e.Bytes()
	b.SetBytes(int64(len(data)))
	var s Skimmer
	for b.Loop() {
		got, err := s.Entry(data)
		if err == nil {
			_, err = s.Run(got.Body)
		}
		require.NoError(b, err)
	}
}
