package ledger

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// nobody is a user id without rights; the usual number, by convention only.
const nobody = 65534

// unprivileged calls f on a thread whose file accesses are those of a user
// without rights, since the rights of folders mean nothing to root.
func unprivileged(t *testing.T, f func()) {
	t.Helper()
	if os.Geteuid() != 0 {
		f()
		return
	}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	require.NoError(t, syscall.Setfsuid(nobody))
	defer func() { require.NoError(t, syscall.Setfsuid(0)) }()
	f()
}

// readOnly takes the right to write away from a ledger's folder, and lets
// everybody through to it.
func readOnly(t *testing.T, path string) {
	t.Helper()
	dir := filepath.Dir(path)
	require.NoError(t, os.Chmod(filepath.Dir(dir), 0o755))
	require.NoError(t, os.Chmod(path, 0o444))
	require.NoError(t, os.Chmod(dir, 0o555))
	t.Cleanup(func() { require.NoError(t, os.Chmod(dir, 0o755)) })
}

// An auditor reads a ledger on a medium that cannot be written.
func TestAReadOnlyFolder(t *testing.T) {
	path := filled(t)
	readOnly(t, path)
	unprivileged(t, func() {
		verify(t, path, VerifyOpts{})
		v, err := OpenView(context.Background(), path)
		require.NoError(t, err)
		rows, err := v.History(context.Background(), "LMP-1")
		require.NoError(t, err)
		require.Len(t, rows, 2)
		require.NoError(t, v.Close())

		_, err = Open(context.Background(), path, Opts{Key: benchKey()})
		require.ErrorIs(t, err, ErrAccess)
	})
}

// Questions are answered there too, from columns that are there, or from some that
// are made elsewhere for the time being.
func TestColumnsInAReadOnlyFolder(t *testing.T) {
	for name, before := range map[string]func(path string){
		"none there": func(string) {},
		"all there":  func(path string) { require.NoError(t, openValues(t, path).Close()) },
		"some there": func(path string) {
			require.NoError(t, openValues(t, path).Close())
			l := reopen(t, path)
			complete(t, l, 20, "LMP-20", record.Pass)
			require.NoError(t, l.Close())
		},
	} {
		path := filled(t)
		before(path)
		readOnly(t, path)
		unprivileged(t, func() {
			v, err := OpenValues(context.Background(), path, nil)
			require.NoError(t, err, name)
			y, err := v.Yield(context.Background(), Question{})
			require.NoError(t, err, name)
			want := 3
			if name == "some there" {
				want = 4
			}
			require.Equal(t, want, y.Runs, name)
			require.Equal(t, name == "all there", v.folder == "", name)
			require.NoError(t, v.Close())
			require.NoDirExists(t, v.folder)
		})
	}
}

func TestAFileThatMayNotBeRead(t *testing.T) {
	path := filled(t)
	readOnly(t, path)
	require.NoError(t, os.Chmod(path, 0))
	unprivileged(t, func() {
		_, err := OpenView(context.Background(), path)
		require.ErrorIs(t, err, ErrAccess)
	})
}
