package statistics

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/require"
)

// said is what a command line gave.
type said struct {
	out, errs string
	err       error
}

// drive runs a command line: study or lot with its arguments.
func drive(t testing.TB, stdin string, args ...string) said {
	t.Helper()
	root := &cobra.Command{Use: "sinkproof", SilenceUsage: true, SilenceErrors: true}
	if args[0] == "lot" {
		root.AddCommand(NewLot(func(err error) error { return err }))
	} else {
		root.AddCommand(NewStudy(func(err error) error { return err }))
	}
	var out, errs bytes.Buffer
	root.SetArgs(args)
	root.SetIn(strings.NewReader(stdin))
	root.SetOut(&out)
	root.SetErr(&errs)
	err := root.ExecuteContext(context.Background())
	return said{out.String(), errs.String(), err}
}

// answerOf runs a command line with --json and returns the object. A negative
// judgement is an answer, too.
func answerOf(t testing.TB, stdin string, args ...string) answer {
	t.Helper()
	s := drive(t, stdin, append(args, "--json")...)
	if !errors.Is(s.err, ErrNegative) {
		require.NoError(t, s.err, "sinkproof %s", strings.Join(args, " "))
	}
	require.NotContains(t, s.out, "null")
	require.NotContains(t, s.out, "NaN")
	require.NotContains(t, s.out, "Inf")
	var a answer
	require.NoError(t, json.Unmarshal([]byte(s.out), &a), s.out)
	return a
}

// answer is a decoded object.
type answer map[string]any

// number returns a field, which must be there and a number.
func (a answer) number(t testing.TB, name string) float64 {
	t.Helper()
	v, ok := a[name].(float64)
	require.True(t, ok, "%s is %v", name, a[name])
	return v
}

// list returns a list of objects.
func (a answer) list(t testing.TB, name string) []answer {
	t.Helper()
	raw, ok := a[name].([]any)
	require.True(t, ok, "%s is %v", name, a[name])
	var out []answer
	for _, x := range raw {
		out = append(out, answer(x.(map[string]any)))
	}
	return out
}

// numbers returns a list of numbers.
func (a answer) numbers(t testing.TB, name string) []float64 {
	t.Helper()
	raw, ok := a[name].([]any)
	require.True(t, ok, "%s is %v", name, a[name])
	out := []float64{}
	for _, x := range raw {
		out = append(out, x.(float64))
	}
	return out
}

// csv writes columns of equal length under their names.
func csv(names string, columns ...[]string) string {
	text := names + "\n"
	for i := range columns[0] {
		var cells []string
		for _, c := range columns {
			cells = append(cells, c[i])
		}
		text += strings.Join(cells, ",") + "\n"
	}
	return text
}

// written prints numbers with all their digits.
func written(values []float64) []string {
	var out []string
	for _, v := range values {
		out = append(out, strconv.FormatFloat(v, 'g', -1, 64))
	}
	return out
}

// grouped are subgroups as rows: name and value.
func rowsOf(subgroups [][]float64) string {
	text := "subgroup,value\n"
	for i, g := range subgroups {
		for _, v := range g {
			text += fmt.Sprintf("g%d,%v\n", i+1, v)
		}
	}
	return text
}

// publishedCase is one published example; see reports/quality/testdata.
type publishedCase struct {
	ID         string          `json:"id"`
	Input      json.RawMessage `json:"input"`
	Expect     json.RawMessage `json:"expect"`
	Tolerance  json.RawMessage `json:"tolerance"`
	Source     string          `json:"source"`
	Provenance string          `json:"provenance"`
}

// examples returns the cases of a subject.
func examples(t testing.TB, subject string) []publishedCase {
	t.Helper()
	found, err := filepath.Glob(filepath.Join("..", "..", "..", "reports", "quality", "testdata", subject+"_*.json"))
	require.NoError(t, err)
	require.Len(t, found, 1)
	text, err := os.ReadFile(found[0])
	require.NoError(t, err)
	var file struct{ Cases []publishedCase }
	require.NoError(t, json.Unmarshal(text, &file))
	return file.Cases
}

// load decodes input and expectation.
func (c publishedCase) load(t testing.TB, in, want any) {
	t.Helper()
	require.NoError(t, json.Unmarshal(c.Input, in))
	require.NoError(t, json.Unmarshal(c.Expect, want))
}

// tolerance returns the one of that name.
func (c publishedCase) tolerance(t testing.TB, name string) float64 {
	t.Helper()
	var all map[string]any
	require.NoError(t, json.Unmarshal(c.Tolerance, &all))
	v, ok := all[name].(float64)
	require.True(t, ok, "%s: tolerance %s", c.ID, name)
	return v
}

// near demands equality within a relative tolerance.
func near(t testing.TB, want, got, rel float64, what string) {
	t.Helper()
	require.LessOrEqual(t, math.Abs(got-want), rel*math.Abs(want)+1e-300, "%s: want %.15g, got %.15g", what, want, got)
}

// sample makes n values of this mean and standard deviation: what a published
// summary of unknown data can be put to a command with.
func sample(n int, mean, sd float64) []float64 {
	values := make([]float64, n)
	squares := 0.0
	for i := range values {
		d := float64(2*i - n + 1)
		squares += d * d
		values[i] = d
	}
	scale := sd / math.Sqrt(squares/float64(n-1))
	for i := range values {
		values[i] = mean + scale*values[i]
	}
	return values
}
