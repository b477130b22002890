package published

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// sample is a folder with one file of two cases.
func sample(t testing.TB) string {
	folder := t.TempDir()
	text := `{"cases": [
		{"id": "a_1", "input": {"x": 2}, "expect": {"y": 4}, "tolerance": {"relative": 1e-9}, "source": "S"},
		{"id": "b_1", "input": {"x": 3}, "expect": {"y": 9}, "tolerance": "exact", "source": "S"}]}`
	require.NoError(t, os.WriteFile(filepath.Join(folder, "42_squares.json"), []byte(text), 0o600))
	return folder
}

func TestRead(t *testing.T) {
	folder := sample(t)
	require.Len(t, Read(t, folder, "42", ""), 2)
	cases := Read(t, folder, "42", "a_")
	require.Len(t, cases, 1)
	var in struct{ X float64 }
	var want struct{ Y float64 }
	Load(t, cases[0].Input, &in)
	Load(t, cases[0].Expect, &want)
	require.Equal(t, 1e-9, cases[0].Named(t, "relative"))
	Relative(t, want.Y, in.X*in.X, 1e-9, "square")
	Absolute(t, want.Y, in.X*in.X+1e-10, 1e-9, "square")
	Relative(t, 0, 0, 1e-9, "nothing")
}

// TestFailuresAreSeen: a helper that lets everything pass would make all tests
// of the statistics worthless.
func TestFailuresAreSeen(t *testing.T) {
	folder := sample(t)
	for name, f := range map[string]func(testing.TB){
		"relative":       func(t testing.TB) { Relative(t, 1, 1.1, 0.01, "x") },
		"not a number":   func(t testing.TB) { Relative(t, 1, math.NaN(), 1e9, "x") },
		"absolute":       func(t testing.TB) { Absolute(t, 0, 1e-3, 1e-4, "x") },
		"absolute NaN":   func(t testing.TB) { Absolute(t, 0, math.NaN(), 1e9, "x") },
		"no such case":   func(t testing.TB) { Read(t, folder, "42", "c_") },
		"no such file":   func(t testing.TB) { Read(t, folder, "43", "") },
		"no tolerance":   func(t testing.TB) { Read(t, folder, "42", "a_")[0].Named(t, "absolute") },
		"wrong template": func(t testing.TB) { Load(t, []byte(`[1]`), new(int)) },
	} {
		require.True(t, fails(t, f), name)
	}
}

// recorder stands in for a test and remembers that it failed.
type recorder struct {
	testing.TB
	failed bool
}

func (r *recorder) Helper()               {}
func (r *recorder) Errorf(string, ...any) { r.failed = true }
func (r *recorder) FailNow()              { r.failed = true; panic(r) }

func fails(t testing.TB, f func(testing.TB)) bool {
	r := &recorder{TB: t}
	func() {
		defer func() {
			if v := recover(); v != nil && v != any(r) {
				panic(v)
			}
		}()
		f(r)
	}()
	return r.failed
}

func ExampleCase() {
	c := Case{ID: "square_of_two", Source: "definition"}
	fmt.Println(c.ID, "-", c.Source)
	// Output: square_of_two - definition
}
