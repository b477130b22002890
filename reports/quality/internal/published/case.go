package published

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Case is one published example.
type Case struct {
	ID         string          `json:"id"`
	Input      json.RawMessage `json:"input"`
	Expect     json.RawMessage `json:"expect"`
	Tolerance  json.RawMessage `json:"tolerance"`
	Source     string          `json:"source"`
	Provenance string          `json:"provenance"`
	Note       string          `json:"note"`
}

// Read returns the cases of the file in folder whose name begins with subject
// ("07") and whose id begins with prefix. It fails the test if there are none.
func Read(t testing.TB, folder, subject, prefix string) []Case {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(folder, subject+"_*.json"))
	require.NoError(t, err)
	require.Len(t, names, 1, "files of subject %s in %s", subject, folder)
	text, err := os.ReadFile(names[0])
	require.NoError(t, err)
	var file struct{ Cases []Case }
	require.NoError(t, json.Unmarshal(text, &file))
	var kept []Case
	for _, c := range file.Cases {
		if strings.HasPrefix(c.ID, prefix) {
			kept = append(kept, c)
		}
	}
	require.NotEmpty(t, kept, "cases %s* of subject %s", prefix, subject)
	return kept
}

// Each runs check as a subtest on every case of the subject whose id begins
// with prefix, and prints the source of a case that fails. The cases are those
// of package quality, seen from a room one folder below it.
func Each(t *testing.T, subject, prefix string, check func(*testing.T, Case)) {
	t.Helper()
	for _, c := range Read(t, "../testdata", subject, prefix) {
		t.Run(c.ID, func(t *testing.T) {
			t.Cleanup(func() {
				if t.Failed() {
					t.Logf("source: %s (%s) %s", c.Source, c.Provenance, c.Note)
				}
			})
			check(t, c)
		})
	}
}

// Load unmarshals a part of the case (its input or what it expects).
func Load(t testing.TB, part json.RawMessage, into any) {
	t.Helper()
	require.NoError(t, json.Unmarshal(part, into))
}

// Named returns the tolerance of that name ("relative", "n_absolute"); the
// test fails if the case states none.
func (c Case) Named(t testing.TB, name string) float64 {
	t.Helper()
	var all map[string]any
	require.NoError(t, json.Unmarshal(c.Tolerance, &all))
	v, ok := all[name].(float64)
	require.True(t, ok, "case %s states no tolerance %q", c.ID, name)
	return v
}

// Relative demands that got equals want within the relative tolerance rel.
func Relative(t testing.TB, want, got, rel float64, what string) {
	t.Helper()
	require.False(t, math.IsNaN(got), "%s is NaN, want %v", what, want)
	require.LessOrEqual(t, math.Abs(got-want), rel*math.Abs(want)+5e-324,
		"%s: want %.15g, got %.15g, relative error %.3g", what, want, got, (got-want)/want)
}

// Absolute demands that got equals want within the absolute tolerance abs.
func Absolute(t testing.TB, want, got, abs float64, what string) {
	t.Helper()
	require.False(t, math.IsNaN(got), "%s is NaN, want %v", what, want)
	require.LessOrEqual(t, math.Abs(got-want), abs, "%s: want %.15g, got %.15g", what, want, got)
}
