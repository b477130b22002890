//go:build guest

package linux

import (
	"context"
	"fmt"
	"os"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/host/v3/sysfs"
)

// fill writes the memory: every byte is its address turned over.
func fill(t *testing.T, b i2c.Bus) {
	t.Helper()
	w := make([]byte, 257)
	for i := range 256 {
		w[1+i] = ^byte(i)
	}
	require.NoError(t, b.Tx(memory, w, nil))
}

func TestGuestMemoryAnswers(t *testing.T) {
	b := ours(t, Options{})
	fill(t, b)
	r := make([]byte, 3)
	require.NoError(t, b.Tx(memory, []byte{0xFE}, r))
	require.Equal(t, []byte{0x01, 0x00, 0xFF}, r, "the pointer counts up and turns over")
	require.ErrorIs(t, b.SetSpeed(100*physic.KiloHertz), ErrSpeed)
	_, told := b.Clock()
	require.False(t, told, "this machine has no device tree")
}

// load makes so many reads of the memory from several goroutines while the
// collector runs, or fewer up to the first that is wrong. Every goroutine makes
// its stack large before each transfer, so that the collector has a reason to
// move it while the transfer waits for its turn.
func load(b i2c.Bus, transfers int64) (faults int64) {
	var done, wrong atomic.Int64
	over := func() bool { return done.Load() >= transfers || wrong.Load() > 0 }
	var all sync.WaitGroup
	for g := range 6 {
		all.Go(func() {
			for i := g; !over(); i += 7 {
				grow(40)
				var w [1]byte
				var r [8]byte
				w[0] = byte(i % 248)
				err := b.Tx(memory, w[:], r[:])
				done.Add(1)
				for k := range r {
					if err != nil || r[k] != ^(w[0]+byte(k)) {
						wrong.Add(1)
						break
					}
				}
			}
		})
	}
	all.Go(func() {
		for !over() {
			runtime.GC()
			time.Sleep(time.Millisecond) // this machine has one processor
		}
	})
	all.Wait()
	return wrong.Load()
}

// How many transfers a load is. periph's bus was seen to fail within the first
// twenty in every run: ours is tried three times as long, and theirs gets every
// chance to do well.
const (
	loadOfOurs   = 60
	loadOfTheirs = 600
)

// TestGuestOneBusServesManyGoroutines: periph's bus says that it is safe for
// concurrent use and reads freed stack (host v3.8.5, sysfs/i2c.go, Tx). It may
// break the process, so it has one of its own.
func TestGuestOneBusServesManyGoroutines(t *testing.T) {
	b := ours(t, Options{})
	fill(t, b)
	c := child(t, "TestGuestLoadOfPeriph")
	said, err := c.CombinedOutput()
	t.Logf("periph: %v\n%s", err, said)
	require.Error(t, err, "periph's bus stood the load")

	fill(t, b)
	began := time.Now()
	require.Zero(t, load(b, loadOfOurs))
	t.Logf("this package: %d transfers in %s", loadOfOurs, time.Since(began))
}

// TestGuestLoadOfPeriph is the load on periph's bus, alone in its process. It
// fails at the first fault; run by itself it has nothing to do.
func TestGuestLoadOfPeriph(t *testing.T) {
	if os.Getenv(childVariable) != t.Name() {
		return
	}
	require.Zero(t, load(theirs(t), loadOfTheirs))
}

// TestGuestErrorsKeepTheirErrno: periph formats them with %v (sysfs/i2c.go, Tx).
func TestGuestErrorsKeepTheirErrno(t *testing.T) {
	theirErr := theirs(t).Tx(nobody, []byte{0}, nil)
	require.ErrorContains(t, theirErr, unix.ENXIO.Error())
	require.NotErrorIs(t, theirErr, unix.ENXIO)

	ourErr := ours(t, Options{}).Tx(nobody, []byte{0}, nil)
	require.ErrorContains(t, ourErr, unix.ENXIO.Error())
	require.ErrorIs(t, ourErr, unix.ENXIO, "i2c-tiny-usb, usb_xfer")
}

// TestGuestAProbeReallyReads: periph takes a transfer of nothing for a success
// (sysfs/i2c.go, Tx).
func TestGuestAProbeReallyReads(t *testing.T) {
	require.NoError(t, theirs(t).Tx(nobody, nil, nil), "nobody is there")

	b := ours(t, Options{})
	require.ErrorIs(t, b.Tx(nobody, nil, nil), ErrEmpty)
	require.ErrorIs(t, b.Probe(nobody), ErrNoAnswer)
	require.ErrorIs(t, b.Probe(nobody), unix.ENXIO)
	require.NoError(t, b.Probe(memory))
}

// TestGuestALateAnswerIsAnError: periph knows no deadline.
func TestGuestALateAnswerIsAnError(t *testing.T) {
	r := make([]byte, 1)
	began := time.Now()
	require.NoError(t, theirs(t).Tx(slow, nil, r))
	require.GreaterOrEqual(t, time.Since(began), 900*time.Millisecond, "the world takes a second")

	b := ours(t, Options{Deadline: 500 * time.Millisecond})
	require.ErrorIs(t, b.Tx(slow, nil, r), ErrOverrun)
	require.NoError(t, b.Tx(memory, nil, r), "the bus goes on")
}

// TestGuestALongMessageIsRefused: periph cuts its length to 16 bits and reports
// success (sysfs/i2c.go, Tx).
func TestGuestALongMessageIsRefused(t *testing.T) {
	b := ours(t, Options{})
	fill(t, b)
	r := make([]byte, 0x10001)
	require.NoError(t, theirs(t).Tx(memory, []byte{1}, r))
	require.Equal(t, byte(0xFE), r[0])
	require.Zero(t, r[1], "it read one byte of 65537")

	require.ErrorIs(t, b.Tx(memory, []byte{1}, r), ErrTooLong)
	require.NoError(t, b.Tx(memory, []byte{1}, r[:300]))
	require.Equal(t, byte(0xFD), r[1])
}

func TestGuestAScanFindsWhatAnswers(t *testing.T) {
	found, err := ours(t, Options{}).Scan(context.Background())
	require.NoError(t, err)
	var all []string
	for _, f := range found {
		all = append(all, fmt.Sprintf("%#02x %t %v", f.Addr, f.Claimed, f.Err))
	}
	require.Equal(t, []string{"0x50 false <nil>", "0x51 false <nil>", "0x53 false <nil>"}, all)
}

func TestGuestABusIsFoundByItsAdapter(t *testing.T) {
	c := guestComputer(t, Options{})
	info, err := c.FindBus(strconv.Itoa(guestBus(t)))
	require.NoError(t, err)
	require.Contains(t, info.Name, "i2c-tiny-usb")
	b, err := c.OpenBus(info.Name)
	require.NoError(t, err)
	require.NoError(t, b.Probe(memory))
	require.NoError(t, b.Close())
	require.ErrorIs(t, b.Probe(memory), ErrClosed)
	for _, b := range c.Buses() {
		if b.Number == guestBus(t) {
			require.Nil(t, b.Reason)
			require.Equal(t, "plain I2C transfers, SMBus commands", b.Functions.String())
			return
		}
	}
	require.Fail(t, "the bus is not in the list")
}

// TestGuestADeviceOfRootIsAReason: devtmpfs gives devices to root alone where no
// udev rule says otherwise.
func TestGuestADeviceOfRootIsAReason(t *testing.T) {
	c := guestComputer(t, Options{})
	ref := strconv.Itoa(guestBus(t))
	var err error
	asNobody(t, func() { _, err = c.OpenBus(ref) })
	require.ErrorIs(t, err, unix.EACCES)
	require.Contains(t, reasonOf(t, err, Permission).Hint, "udev rule")
	_, err = sysfs.NewI2C(9999)
	require.NotErrorIs(t, err, unix.ENOENT, "periph loses it")
	_, err = c.OpenBus("9999")
	require.ErrorIs(t, err, ErrAbsent)
}
