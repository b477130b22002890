package linux

import (
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

func TestARefusalNamesTheGroupAndTheNextStep(t *testing.T) {
	for name, c := range map[string]struct {
		owner     owner
		person    person
		why, hint string
	}{
		"not in the group":   {owner{"gpio", 997, 0o660}, person{"ada", []int{1000}, []int{1000}}, "belongs to the group gpio, and ada is not in it", "usermod -aG gpio ada"},
		"joined since":       {owner{"gpio", 997, 0o660}, person{"ada", []int{1000}, []int{1000, 997}}, "joined after this session began", "Log out and in"},
		"in it all the same": {owner{"gpio", 997, 0o660}, person{"ada", []int{1000, 997}, nil}, "ada is in its group gpio", "sandbox"},
		"group of root":      {owner{"root", 0, 0o660}, person{"ada", []int{1000}, nil}, "belongs to the group root", "udev rule"},
		"no group":           {owner{"gpio", 997, 0o600}, person{"ada", []int{997}, nil}, "mode 0600 lets no group use it", "udev rule"},
		"group reads only":   {owner{"gpio", 997, 0o640}, person{"ada", []int{997}, nil}, "mode 0640 lets no group use it", "udev rule"},
	} {
		why, hint := c.owner.explain("/dev/gpiochip0", c.person)
		require.Contains(t, why, c.why, name)
		require.Contains(t, hint, c.hint, name)
	}
}

// asNobody runs f in a thread that has lost the rights over files: the file
// system takes it for user 65534 (setfsuid(2)). The thread ends with f.
func asNobody(t *testing.T, f func()) {
	t.Helper()
	done := make(chan error)
	go func() {
		defer close(done)
		runtime.LockOSThread() // and never unlocked: the thread is not used again
		if err := unix.Setfsuid(65534); err != nil {
			done <- err
			return
		}
		f()
	}()
	require.NoError(t, <-done)
}

// TestADeviceOfSomebodyElseIsAReason with the real rights of real files, also
// where root runs the tests.
func TestADeviceOfSomebodyElseIsAReason(t *testing.T) {
	b := newBoard(t)
	b.bus(t, 1, "main")
	b.chip(t, 0, "main", "a")
	// The directories of a test are for its user alone.
	for dir := filepath.Dir(b.opts.Dev); dir != filepath.Clean(os.TempDir()); dir = filepath.Dir(dir) {
		require.NoError(t, os.Chmod(dir, 0o755))
	}
	require.NoError(t, os.Chmod(b.opts.Dev+"/i2c-1", 0))
	require.NoError(t, os.Chmod(b.opts.Dev+"/gpiochip0", 0))
	c := b.computer(t)
	var buses []BusInfo
	var chips []ChipInfo
	var openBus, findLine error
	asNobody(t, func() {
		buses, chips = c.Buses(), c.Chips()
		_, openBus = c.OpenBus("1")
		_, findLine = c.FindLine("a")
	})
	require.Len(t, buses, 1)
	require.Len(t, chips, 1)
	for _, err := range []error{buses[0].Reason, chips[0].Reason, openBus, findLine} {
		require.ErrorIs(t, err, fs.ErrPermission)
		require.ErrorIs(t, err, unix.EACCES)
		require.ErrorContains(t, err, "lets no group use it")
		require.Contains(t, reasonOf(t, err, Permission).Hint, "udev rule")
	}
	require.Equal(t, "main", buses[0].Name, "what the kernel tells everybody is told")
}

func TestThePresentUserHasAName(t *testing.T) {
	p := present()
	require.NotEmpty(t, p.name)
	require.Contains(t, p.active, unix.Getegid())
	require.Equal(t, "4294967294", groupName(1<<32-2), "a group without name is its number")
}

func TestOtherTroubleIsTold(t *testing.T) {
	b := newBoard(t)
	c := b.computer(t)
	require.Nil(t, c.reason("/dev/i2c-1", nil))
	require.Equal(t, Trouble, c.reason("/dev/i2c-1", unix.EMFILE).Kind)
	require.Equal(t, Permission, c.reason(b.opts.Dev+"/none", unix.EACCES).Kind, "gone meanwhile")
	require.Equal(t, "Look at the kernel's messages.", c.absentHint("/dev/null"))
}
