package quality

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestInterval(t *testing.T) {
	i := Interval{1, 2}
	require.True(t, i.Defined() && i.Contains(1) && i.Contains(2) && !i.Contains(2.1))
	require.False(t, Undefined().Defined())
	require.False(t, Undefined().Contains(0))
	require.True(t, Interval{0, math.Inf(1)}.Defined())
	require.False(t, Interval{math.NaN(), 1}.Defined())
}

func TestProbability(t *testing.T) {
	for p, want := range map[float64]bool{0: false, 1e-300: true, 0.5: true, 1: false, 95: false, -0.1: false} {
		require.Equal(t, want, Probability(p), "%v", p)
	}
	require.False(t, Probability(math.NaN()))
}

func TestUsable(t *testing.T) {
	require.NoError(t, Usable([]float64{1, 2}, 2))
	require.NoError(t, Usable(nil, 0))
	for says, data := range map[string][]float64{
		"1 values, at least 2": {1}, "value 2 is NaN": {1, math.NaN()}, "value 1 is -Inf": {math.Inf(-1), 2},
	} {
		err := Usable(data, 2)
		require.ErrorIs(t, err, ErrSample)
		require.ErrorContains(t, err, says)
	}
}

// elsewhere are cases that another package holds and tests: the examples of the
// guide to uncertainty are those of bench/quantity.
func elsewhere() []string { return []string{"gum_", "welch_satterthwaite_", "budget_"} }

// TestEveryPublishedCaseIsTested: a case that no test names, by the beginning or
// the end of its id, would be a case that nobody looks at.
func TestEveryPublishedCaseIsTested(t *testing.T) {
	names, err := filepath.Glob("testdata/*.json")
	require.NoError(t, err)
	require.Len(t, names, 11)
	for _, name := range names {
		subject := filepath.Base(name)[:2]
		keys := namedInTests(t, subject)
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		var file struct {
			Cases []struct{ ID, Source, Provenance string }
		}
		require.NoError(t, json.Unmarshal(text, &file))
		require.NotEmpty(t, file.Cases)
		for _, c := range file.Cases {
			require.NotEmpty(t, c.Source, "source of %s", c.ID)
			require.NotEmpty(t, c.Provenance, "provenance of %s", c.ID)
			found := false
			for _, key := range append(keys, elsewhere()...) {
				found = found || strings.HasPrefix(c.ID, key) || strings.HasSuffix(c.ID, key)
			}
			require.True(t, found, "no test names case %s of subject %s", c.ID, subject)
		}
	}
}

// namedInTests returns the string literals of the test files that read a subject.
func namedInTests(t *testing.T, subject string) []string {
	files, err := filepath.Glob("*/*_test.go")
	require.NoError(t, err)
	literal := regexp.MustCompile(`"(_?[a-zA-Z0-9_]{3,})"`)
	var keys []string
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		if !strings.Contains(string(text), `"`+subject+`"`) {
			continue
		}
		for _, m := range literal.FindAllStringSubmatch(string(text), -1) {
			keys = append(keys, m[1])
		}
	}
	return keys
}
