//go:build guest

package linux

import (
	"os"
	"os/exec"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/host/v3"
	"periph.io/x/host/v3/gpioioctl"
	"periph.io/x/host/v3/sysfs"
)

// The tests of the files *_guest_test.go run on a real kernel, in an emulated
// machine whose buses and lines lead to a world outside:
//
//	CGO_ENABLED=0 go test -c -tags guest -o linux.test ./bench/linux
//	linux.test -test.run ^TestGuest
//
// Two variables say where that world is: SINKPROOF_GUEST_I2C, the number of the
// bus, and SINKPROOF_GUEST_CHIP, the chip of lines. On the bus, at memory stand
// 256 bytes behind a pointer that counts up; at slow the same, a second late;
// nothing elsewhere but at history. Lines 0 and 1 are joined. What is done to
// lines 2 to 7 is kept in the history: writing a number and reading gives the
// count of entries and one byte each, bit 0 the level, bit 1 set for an output;
// writing 255 clears all.
//
// Each test gives the same stimulus to periph's driver and to this package's,
// and demands the defect of the one and the right answer of the other. When
// periph mends a defect its test fails here: then this layer has one reason less.
const (
	memory  = 0x50
	slow    = 0x51
	nobody  = 0x52
	history = 0x53
)

// guestBus is the number of the bus under test.
func guestBus(t *testing.T) int {
	t.Helper()
	n, err := strconv.Atoi(os.Getenv("SINKPROOF_GUEST_I2C"))
	require.NoError(t, err, "SINKPROOF_GUEST_I2C: these tests run in the guest")
	return n
}

// guestComputer is the machine as this package has it.
func guestComputer(t *testing.T, o Options) *Computer {
	t.Helper()
	c, err := New(o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, c.Close()) })
	return c
}

// ours opens the bus by this package.
func ours(t *testing.T, o Options) *Bus {
	t.Helper()
	b, err := guestComputer(t, o).OpenBus(strconv.Itoa(guestBus(t)))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	return b
}

// theirs opens the bus by periph.
func theirs(t *testing.T) *sysfs.I2C {
	t.Helper()
	b, err := sysfs.NewI2C(guestBus(t))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	return b
}

// ourLine finds a line of the chip under test by this package.
func ourLine(t *testing.T, c *Computer, offset int) *Line {
	t.Helper()
	l, err := c.FindLine(os.Getenv("SINKPROOF_GUEST_CHIP") + ":" + strconv.Itoa(offset))
	require.NoError(t, err)
	return l
}

// theirLine finds a line of the chip under test by periph.
func theirLine(t *testing.T, offset int) *gpioioctl.GPIOLine {
	t.Helper()
	_, err := host.Init()
	require.NoError(t, err)
	for _, c := range gpioioctl.Chips {
		if c.Name() == os.Getenv("SINKPROOF_GUEST_CHIP") {
			l := c.ByNumber(offset)
			t.Cleanup(l.Close)
			return l
		}
	}
	require.FailNow(t, "periph has no chip", "SINKPROOF_GUEST_CHIP=%q", os.Getenv("SINKPROOF_GUEST_CHIP"))
	return nil
}

// What an entry of the history is.
const (
	high     byte = 1
	outgoing byte = 2
)

// forgetHistory clears what was done to the lines.
func forgetHistory(t *testing.T, b *Bus) {
	t.Helper()
	require.NoError(t, b.Tx(history, []byte{0xFF}, nil))
}

// historyOf is what was done to a line since.
func historyOf(t *testing.T, b *Bus, offset int) []byte {
	t.Helper()
	r := make([]byte, 32)
	require.NoError(t, b.Tx(history, []byte{byte(offset)}, r))
	require.Less(t, int(r[0]), len(r))
	return r[1 : 1+r[0]]
}

// childVariable names what a child process of the tests is to do.
const childVariable = "SINKPROOF_GUEST_CHILD"

// child prepares this program to run one test in a process of its own, because
// the test may break it.
func child(t *testing.T, test string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	c := exec.CommandContext(t.Context(), self, "-test.run", "^"+test+"$", "-test.v")
	c.Env = append(os.Environ(), childVariable+"="+test)
	return c
}

// soon is longer than anything that should come: the kernel looks at the lines
// of this chip 10 times a second (hid-cp2112.c, cp2112_gpio_poll_callback), on an
// emulated processor.
const soon = 10 * time.Second

// while is long enough to see that something waits.
const while = 300 * time.Millisecond
