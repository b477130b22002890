package findings

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestADictionarySaysTheSameFromItsFile(t *testing.T) {
	d := sampleDictionary(t, 40)
	d.Key = "made from these"
	again := kept(t, d)
	require.Equal(t, d.Key, again.Key)
	require.Equal(t, d.Units, again.Units)
	require.Equal(t, d.Classes, again.Classes)
	require.Equal(t, d.Groups(), again.Groups())
	for _, c := range sampleClasses() {
		run := sampleRun(c.Name, 90_000)
		require.Equal(t, d.Diagnose(run, d.Equal()), again.Diagnose(run, again.Equal()))
	}
	first, err := d.Encode()
	require.NoError(t, err)
	second, err := again.Encode()
	require.NoError(t, err)
	require.True(t, bytes.Equal(first, second))
}

// repacked changes the file in a packed dictionary.
func repacked(t testing.TB, data []byte, change func(*file)) []byte {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(data))
	require.NoError(t, err)
	text, err := io.ReadAll(r)
	require.NoError(t, err)
	var f file
	require.NoError(t, json.Unmarshal(text, &f))
	change(&f)
	text, err = json.Marshal(f)
	require.NoError(t, err)
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	_, err = w.Write(text)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	return packed.Bytes()
}

func TestWhatIsNoDictionaryIsRefused(t *testing.T) {
	data, err := sampleDictionary(t, 20).Encode()
	require.NoError(t, err)
	_, err = Decode(repacked(t, data, func(*file) {}))
	require.NoError(t, err)
	for name, change := range map[string]func(*file){
		"another version":        func(f *file) { f.Format = "sinkproof-faults/0" },
		"one class":              func(f *file) { f.Classes = f.Classes[:1] },
		"a class too many":       func(f *file) { f.Units = append(f.Units, 3) },
		"no unit":                func(f *file) { f.Units[0] = 0 },
		"no spread":              func(f *file) { f.Spread[1] = 0 },
		"short leaks":            func(f *file) { f.Leaks[0] = f.Leaks[0][:1] },
		"exponent above one":     func(f *file) { f.Exponent = 2 },
		"no names":               func(f *file) { f.Names = nil },
		"spans that overlap":     func(f *file) { f.Names[0].Spans = []float64{0, 2, 1, 3} },
		"half a span":            func(f *file) { f.Names[0].Spans = []float64{0} },
		"a kind that is none":    func(f *file) { f.Names[0].Kinds = []int{77} },
		"usual values of no one": func(f *file) { f.Names[0].Usual = nil },
		"a parent beyond":        func(f *file) { f.Names[0].First = 1000 },
		"its own parent":         func(f *file) { f.Names[1].First = 1 },
		"a second parent only":   func(f *file) { f.Names[0].First, f.Names[0].Second = -1, 1 },
		"contexts out of order":  func(f *file) { f.Names[0].Contexts = []uint16{2, 1} },
		"a context of no parent": func(f *file) { f.Names[0].Contexts = []uint16{0xFFFF} },
		"a count beyond":         func(f *file) { f.Names[0].Seen = []int{1 << 30, 256} },
		"a count below":          func(f *file) { f.Names[0].Seen = []int{-1, 256} },
		"too many codes":         func(f *file) { f.Names[0].Kinds = make([]int, 40) },
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Decode(repacked(t, data, change))
			require.ErrorIs(t, err, ErrFormat)
		})
	}
	for _, cut := range []int{0, 1, 20, len(data) / 2, len(data) - 1} {
		_, err := Decode(data[:cut])
		require.ErrorIs(t, err, ErrFormat, "cut off after %d bytes", cut)
	}
}

func FuzzDecode(f *testing.F) {
	data, err := sampleDictionary(f, 12).Encode()
	require.NoError(f, err)
	f.Add(data)
	f.Add(repacked(f, data, func(x *file) { x.Names = x.Names[:1] }))
	f.Add([]byte("sinkproof"))
	run := sampleRun(weak, 3)
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Decode(data)
		if err != nil {
			require.ErrorIs(t, err, ErrFormat)
			return
		}
		sum := 0.0
		for _, s := range d.Diagnose(run, d.Equal()).Suspects {
			sum += s.Probability
		}
		require.LessOrEqual(t, sum, 1+1e-9)
	})
}
