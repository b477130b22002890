package ledger

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
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

func TestAFileThatMayNotBeRead(t *testing.T) {
	path := filled(t)
	readOnly(t, path)
	require.NoError(t, os.Chmod(path, 0))
	unprivileged(t, func() {
		_, err := OpenView(context.Background(), path)
		require.ErrorIs(t, err, ErrAccess)
	})
}
