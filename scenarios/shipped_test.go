package scenarios_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/fixtures/source"
	"sinkproof/scenarios"
)

// A name that is neither a file nor shipped is told with those that are, in
// the same words as for rigs and products.
func TestOpenListsWhatIsShipped(t *testing.T) {
	names := strings.Join(scenarios.Names(), ", ")
	for name, c := range map[string]struct{ path, hint string }{
		"near":        {"charge-pat", `did you mean "charge-path"? `},
		"with ending": {"no-cell.hcl", `did you mean "no-cell"? `},
		"foreign":     {"zzz", ""},
	} {
		_, err := scenarios.Open(c.path)
		require.ErrorIs(t, err, scenarios.ErrUnknownScenario, name)
		require.ErrorIs(t, err, os.ErrNotExist, name)
		require.ErrorContains(t, err, `open scenario "`+c.path+`" (`+c.hint+`shipped are `+names+`): no such scenario is shipped`, name)
	}
}

func TestOpenRefusesWhatCannotBeAScenario(t *testing.T) {
	_, err := scenarios.Open(os.DevNull)
	require.ErrorIs(t, err, source.ErrNotRegular)
	large := filepath.Join(t.TempDir(), "large.hcl")
	require.NoError(t, os.WriteFile(large, make([]byte, 1<<20+1), 0o600))
	_, err = scenarios.Open(large)
	require.ErrorIs(t, err, source.ErrTooLarge)
	require.ErrorContains(t, err, "open scenario: read file "+large)
}

// A file that is no text is told of at its first byte, and nothing else is.
func TestOpenTellsOfAFileThatIsNoText(t *testing.T) {
	path := filepath.Join(t.TempDir(), "wide.hcl")
	require.NoError(t, os.WriteFile(path, []byte("\xff\xfe\x00"), 0o600))
	_, err := scenarios.Open(path)
	var found source.Diagnostics
	require.ErrorAs(t, err, &found)
	require.Len(t, found, 1)
	require.Equal(t, "not UTF-8 text", found[0].Summary)
	require.Equal(t, 1, found[0].Range.Start.Line)
	require.Equal(t, 1, found[0].Range.Start.Column)
}
