package main

import (
	"bytes"
	"encoding/json"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const (
	demoName   = "demo.json"
	recordName = "units/HL-1/attempt-1/record.json"
	pageName   = "units/HL-1/attempt-1/report.html"
	ledgerName = "ledger.db"
)

// lot is a small lot as the demonstration lays it out.
func lot() map[string]string {
	return map[string]string{
		demoName:   `{"units":1,"results":[{"serial":"HL-1","verdict":"fail","checks_failed":["rd-cc1"]}]}`,
		recordName: `{"attempt":1,"checks":[{"name":"rd-cc1","answer":"fail","value":{"u":0.25,"value":4601.30592416288}}],"trusted":true}`,
		pageName: "<h1>HL-1</h1><p>record ea7573522e1c</p>\n<svg class=\"code\"><path d=\"M1 1\"/></svg>\n" +
			"<path fill=\"#1b5e9e\" d=\"M37.8 21.4l50.3 1\"/><td>4.601 kΩ ± 0.25 Ω</td>\n<dd>ea757352 2e1c8cc8 d60863b5 177c5cd9 8a911955 63f71219 45a304b3 64593ccf</dd>\n",
		ledgerName: "one",
	}
}

// write writes a lot into a new folder.
func write(t testing.TB, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		path := filepath.Join(root, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	}
	return root
}

// changed is the lot with a text in one file replaced.
func changed(t *testing.T, name, from, to string) map[string]string {
	t.Helper()
	files := lot()
	require.Contains(t, files[name], from)
	files[name] = strings.Replace(files[name], from, to, 1)
	return files
}

func TestAnswers(t *testing.T) {
	for _, c := range []struct {
		name           string
		file, from, to string
		want           string // part of the one difference; none where empty
	}{
		{name: "last binary digit", file: recordName, from: "4601.30592416288", to: "4601.3059241628810"},
		{name: "another signature in the ledger", file: ledgerName, from: "one", to: "two"},
		{name: "another hash", file: pageName, from: "ea757352 2e1c8cc8", to: "9992cec1 69af7f06"},
		{name: "another short hash", file: pageName, from: "record ea7573522e1c", to: "record 9992cec169af"},
		{name: "another code", file: pageName, from: "M1 1", to: "M3 1"},
		{name: "a curve of two strokes", file: pageName, from: "l50.3 1", to: "l30 0.6l20.3 0.4"},
		{name: "the colour of a curve", file: pageName, from: "#1b5e9e", to: "#c00000", want: "report.html: line 3"},
		{name: "a printed digit", file: pageName, from: "4.601 kΩ", to: "4.602 kΩ", want: "report.html: line 3"},
		{name: "a verdict", file: demoName, from: `"fail"`, to: `"pass"`, want: "demo.json: line 1"},
		{name: "a failed check", file: demoName, from: "rd-cc1", to: "rd-cc2", want: "demo.json: line 1"},
		{name: "an answer", file: recordName, from: `"fail"`, to: `"pass"`, want: "record.json checks.0.answer: fail and pass"},
		{name: "a seventh digit", file: recordName, from: "4601.305924", to: "4601.306924", want: "record.json checks.0.value.value: 4601.30592416288 and 4601.30692416288"},
		{name: "a whole number", file: recordName, from: `"attempt":1`, to: `"attempt":2`, want: "record.json attempt: 1 and 2"},
		{name: "a truth value", file: recordName, from: "true", to: "false", want: "record.json trusted: true and false"},
		{name: "the order of fields", file: recordName, from: `"name":"rd-cc1","answer":"fail"`, to: `"answer":"fail","name":"rd-cc1"`, want: "record.json checks.0.name: name and answer"},
		{name: "a text for a number", file: recordName, from: "0.25", to: `"0.25"`, want: "record.json checks.0.value.u"},
		{name: "a check less", file: recordName, from: `{"name":"rd-cc1","answer":"fail","value":{"u":0.25,"value":4601.30592416288}}`, want: "record.json checks"},
		{name: "a line less", file: pageName, from: "</svg>\n", to: "</svg>", want: "report.html: line 2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Answers(write(t, lot()), write(t, changed(t, c.file, c.from, c.to)))
			require.NoError(t, err)
			if c.want == "" {
				require.Empty(t, r.Differences)
				return
			}
			require.NotEmpty(t, r.Differences)
			require.Contains(t, r.Differences[0], c.want)
		})
	}
}

// TestFurthest: the one number that moved is counted and named.
func TestFurthest(t *testing.T) {
	r, err := Answers(write(t, lot()), write(t, changed(t, recordName, "4601.30592416288", "4601.30592416297")))
	require.NoError(t, err)
	require.Equal(t, 1, r.Moved)
	require.Equal(t, 3, r.Numbers)
	require.InDelta(t, 9e-11/4601.3, r.Furthest, 1e-15)
	require.Equal(t, recordName+" checks.0.value.value", r.At)
	require.Contains(t, r.String(), "3 files, 3 numbers: 1 differ in their last digits")
}

func TestFilesThatOneLotLacks(t *testing.T) {
	short := lot()
	delete(short, pageName)
	for _, compare := range []func(string, string) (*Result, error){Answers, Bytes} {
		r, err := compare(write(t, lot()), write(t, short))
		require.NoError(t, err)
		require.Contains(t, r.Differences, pageName+": only in the first lot")
		r, err = compare(write(t, short), write(t, lot()))
		require.NoError(t, err)
		require.Contains(t, r.Differences, pageName+": only in the second lot")
	}
}

// TestBytes: nothing may differ within one architecture, whatever the file.
func TestBytes(t *testing.T) {
	r, err := Bytes(write(t, lot()), write(t, lot()))
	require.NoError(t, err)
	require.Empty(t, r.Differences)
	require.Equal(t, 4, r.Files)
	for name, text := range lot() {
		other := maps.Clone(lot())
		other[name] = text + " "
		r, err := Bytes(write(t, lot()), write(t, other))
		require.NoError(t, err)
		require.Len(t, r.Differences, 1, name)
	}
}

// TestNothingCompared: a lot without records, or none at all, is no proof.
func TestNothingCompared(t *testing.T) {
	empty := map[string]string{demoName: "{}"}
	_, err := Answers(write(t, empty), write(t, empty))
	require.ErrorIs(t, err, ErrEmpty)
	_, err = Answers(filepath.Join(t.TempDir(), "none"), write(t, lot()))
	require.ErrorIs(t, err, os.ErrNotExist)
	_, err = Answers(write(t, lot()), write(t, changed(t, recordName, "true}", "")))
	require.ErrorContains(t, err, "record.json")
}

func TestExitCode(t *testing.T) {
	a, b := write(t, lot()), write(t, changed(t, recordName, "4601.30592416288", "4601.3059241628810"))
	for _, c := range []struct {
		name string
		args []string
		want int
	}{
		{"the same answers", []string{a, b}, 0},
		{"other bytes", []string{"-same", a, b}, 1},
		{"the same bytes", []string{"-same", a, a}, 0},
		{"one folder", []string{a}, 2},
		{"an unknown flag", []string{"-some", a, b}, 2},
		{"no lot", []string{a, filepath.Join(b, "none")}, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out, errs bytes.Buffer
			require.Equal(t, c.want, run(c.args, &out, &errs), "%s%s", &out, &errs)
		})
	}
}

// TestNumbers: by how much two numbers may be apart, whatever their size above
// what counts as zero.
func TestNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1, 10).Draw(t, "x") * math.Pow10(rapid.IntRange(-8, 12).Draw(t, "decade"))
		by := rapid.Float64Range(-1, 1).Draw(t, "by") * 1e-7
		y := x * (1 + by)
		var r Result
		r.number("x", written(x), written(y))
		require.Equal(t, math.Abs(x-y) > apart*max(x, y), len(r.Differences) == 1, "%g and %g", x, y)
	})
	var r Result
	r.number("noise", "1e-19", "-3e-19")
	require.Empty(t, r.Differences)
	r.number("too large", "1e400", "1e400")
	require.Len(t, r.Differences, 1)
}

func written(x float64) json.Number {
	return json.Number(strconv.FormatFloat(x, 'g', -1, 64))
}

// FuzzRecord: any two texts end in a result or an error, and a text that can be
// read is the same as itself.
func FuzzRecord(f *testing.F) {
	f.Add([]byte(lot()[recordName]), []byte(`{"a":[1,{"b":null}]}`))
	f.Add([]byte(`]`), []byte(`{"a":`))
	f.Add([]byte(`1 2`), []byte(`"a" true`))
	f.Fuzz(func(t *testing.T, a, b []byte) {
		var r Result
		if err := r.record("r", a, b); err == nil {
			require.LessOrEqual(t, r.Moved, r.Numbers)
		}
		r = Result{}
		if err := r.record("r", a, a); err == nil {
			require.Zero(t, r.Moved)
			require.Empty(t, r.Differences)
		}
	})
}

func ExampleResult_String() {
	r := Result{Files: 50, Numbers: 28016}
	r.moved("record.json readings.0.value", 1, 1+math.Pow(2, -52))
	_, _ = io.WriteString(os.Stdout, r.String()+"\n")
	// Output: 50 files, 28016 numbers: 1 differ in their last digits, by 2.2e-16 of the value at most (record.json readings.0.value); 0 differences that may not be
}
