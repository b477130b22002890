package ledger

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/modfile"
)

// The translated C library must be the version that the translated SQLite
// was made with: its authors say so in the README of modernc.org/sqlite, and
// another one can damage a database.
func TestTheCLibraryIsTheOneSQLiteWasMadeWith(t *testing.T) {
	version := func(format string) string {
		out, err := exec.Command("go", "list", "-m", "-f", format, "modernc.org/sqlite", "modernc.org/libc").Output()
		require.NoError(t, err)
		return string(out)
	}
	folders := strings.Fields(version("{{.Dir}}"))
	versions := strings.Fields(version("{{.Version}}"))
	path := filepath.Join(folders[0], "go.mod")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	mod, err := modfile.Parse(path, data, nil)
	require.NoError(t, err)
	wanted := ""
	for _, r := range mod.Require {
		if r.Mod.Path == "modernc.org/libc" {
			wanted = r.Mod.Version
		}
	}
	require.NotEmpty(t, wanted)
	require.Equal(t, wanted, versions[1])
	require.NotEqual(t, "v1.61.0", versions[0], "a version to skip")
}
