package linux

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"runtime"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/physic"
)

// openOnly opens bus 1 of a board that has no other.
func openOnly(t *testing.T, b *board) *Bus {
	t.Helper()
	bus, err := b.computer(t).OpenBus("1")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, bus.Close()) })
	return bus
}

func TestABusIsFoundByNumberAndByAdapter(t *testing.T) {
	b := newBoard(t)
	b.bus(t, 1, "main controller")
	b.bus(t, 12, "tiny")
	c := b.computer(t)
	for ref, number := range map[string]int{"1": 1, "12": 12, "/dev/i2c-12": 12, "i2c-1": 1, "tiny": 12, "main controller": 1} {
		bus, err := c.OpenBus(ref)
		require.NoError(t, err, ref)
		require.Equal(t, number, bus.Number())
		require.NoError(t, bus.Close())
	}
	bus, err := c.OpenBus("tiny")
	require.NoError(t, err)
	require.Equal(t, "tiny", bus.Adapter())
	require.Equal(t, "bus 12 (tiny)", bus.String())
	require.NoError(t, bus.Close())
}

// reasonOf demands a Reason of a kind.
func reasonOf(t *testing.T, err error, kind Kind) *Reason {
	t.Helper()
	var r *Reason
	require.ErrorAs(t, err, &r)
	require.Equal(t, kind, r.Kind, "%v", err)
	require.NotEmpty(t, r.Hint)
	return r
}

func TestAnAdapterNameOfTwoBusesIsRefused(t *testing.T) {
	b := newBoard(t)
	b.bus(t, 3, "twin")
	b.bus(t, 1, "twin")
	_, err := b.computer(t).OpenBus("twin")
	require.ErrorIs(t, err, ErrAmbiguous)
	require.ErrorContains(t, err, "buses 1, 3")
	reasonOf(t, err, Ambiguous)
}

func TestAnAbsentBusNamesTheUsualCause(t *testing.T) {
	for name, c := range map[string]struct {
		make func(*testing.T, *board)
		hint string
	}{
		"no adapter":  {func(*testing.T, *board) {}, "device tree"},
		"another bus": {func(t *testing.T, b *board) { b.bus(t, 7, "other") }, "other buses"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBoard(t)
			c.make(t, b)
			_, err := b.computer(t).OpenBus("1")
			require.ErrorIs(t, err, ErrAbsent)
			require.Contains(t, reasonOf(t, err, Absent).Hint, c.hint)
		})
	}
}

func TestAnAdapterWithoutDeviceNamesTheModule(t *testing.T) {
	b := newBoard(t)
	b.sys(t, "bus/i2c/devices/i2c-1/name", "main\n")
	_, err := b.computer(t).OpenBus("1")
	require.ErrorIs(t, err, fs.ErrNotExist)
	require.Contains(t, reasonOf(t, err, Absent).Hint, "i2c-dev")
}

func TestAReferenceToABusThatCannotBeReadIsAReason(t *testing.T) {
	_, err := newBoard(t).computer(t).OpenBus("")
	require.ErrorIs(t, err, ErrReference)
	reasonOf(t, err, Absent)
}

func TestAnAdapterOfSMBusCommandsIsRefused(t *testing.T) {
	b := newBoard(t)
	b.bus(t, 1, "smbus").can = 0x000F0000 // what i2c-stub says in part
	_, err := b.computer(t).OpenBus("1")
	require.ErrorIs(t, err, ErrSMBusOnly)
	require.ErrorContains(t, err, "SMBus commands")
	reasonOf(t, err, Unfit)
}

func TestOpeningSetsPatienceAndRetries(t *testing.T) {
	for name, c := range map[string]struct {
		timeout time.Duration
		retries int
		tens    int
	}{
		"default":    {0, 0, 10},
		"tens":       {50 * time.Millisecond, 2, 5},
		"rounded up": {41 * time.Millisecond, 0, 5},
		"least":      {time.Nanosecond, 0, 1},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBoard(t)
			a := b.bus(t, 1, "main")
			a.timeout, a.retries = -1, -1
			b.opts.Timeout, b.opts.Retries = c.timeout, c.retries
			openOnly(t, b)
			require.Equal(t, c.tens, a.timeout, "in units of 10 ms, include/uapi/linux/i2c-dev.h")
			require.Equal(t, c.retries, a.retries)
		})
	}
}

func TestAnAdapterThatRefusesToBePreparedIsNotOpened(t *testing.T) {
	for name, request := range map[string]uint{"functions": i2cFuncs, "time-out": i2cTimeout, "retries": i2cRetries} {
		t.Run(name, func(t *testing.T) {
			b := newBoard(t)
			b.bus(t, 1, "main").refuse[request] = unix.EIO
			before := open(t)
			_, err := b.computer(t).OpenBus("1")
			require.ErrorIs(t, err, unix.EIO)
			reasonOf(t, err, Trouble)
			require.Equal(t, before, open(t), "the device stayed open")
		})
	}
}

// open counts the descriptors of this process.
func open(t *testing.T) int {
	t.Helper()
	all, err := os.ReadDir("/proc/self/fd")
	require.NoError(t, err)
	return len(all)
}

func TestOptionsThatTheKernelWouldCutAreRefused(t *testing.T) {
	for name, o := range map[string]Options{
		"long consumer":     {Consumer: "a name of more than thirty-one b"},
		"negative time-out": {Timeout: -1},
		"long time-out":     {Timeout: 2 * time.Hour},
		"negative retries":  {Retries: -1},
		"negative deadline": {Deadline: -1},
	} {
		_, err := New(o)
		require.ErrorIs(t, err, ErrOptions, name)
	}
	c, err := New(Options{Consumer: "a name of just thirty-one bytes"})
	require.NoError(t, err)
	require.Len(t, c.opts.Consumer, consumerMax)
}

func TestATransferThatCannotBeIsRefusedBeforeTheKernel(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	bus := openOnly(t, b)
	for name, c := range map[string]struct {
		addr uint16
		w, r []byte
		want error
	}{
		"nothing":    {0x50, nil, []byte{}, ErrEmpty},
		"ten bits":   {0x80, []byte{1}, nil, ErrAddress},
		"long write": {0x50, make([]byte, 8193), nil, ErrTooLong},
		"long read":  {0x50, nil, make([]byte, 8193), ErrTooLong},
		"would wrap": {0x50, nil, make([]byte, 0x10001), ErrTooLong},
	} {
		require.ErrorIs(t, bus.Tx(c.addr, c.w, c.r), c.want, name)
	}
	require.Zero(t, a.calls)
	require.NoError(t, bus.Tx(0x50, make([]byte, 8192), make([]byte, 8192)))
	require.Equal(t, 1, a.calls)
}

// TestAShortCountIsAnError: adapters that return the number of messages done
// look successful to periph, whose Tx throws it away (host v3.8.5, sysfs/i2c.go).
// No adapter of the guest does that, hence the board.
func TestAShortCountIsAnError(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	bus := openOnly(t, b)
	for done := range 2 {
		a.do = func(uint16, []byte, []byte) (int, error) { return done, nil }
		require.ErrorIs(t, bus.Tx(0x50, []byte{1}, make([]byte, 1)), ErrShort)
	}
	a.do = func(uint16, []byte, []byte) (int, error) { return 2, nil }
	require.NoError(t, bus.Tx(0x50, []byte{1}, make([]byte, 1)))
}

func TestErrorsKeepTheirErrno(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	bus := openOnly(t, b)
	for _, errno := range []unix.Errno{unix.ENXIO, unix.EREMOTEIO, unix.ETIMEDOUT, unix.EIO, unix.ENODEV, unix.EAGAIN} {
		a.do = func(uint16, []byte, []byte) (int, error) { return 0, errno }
		err := bus.Tx(0x50, []byte{1}, nil)
		require.ErrorIs(t, err, errno)
		require.ErrorContains(t, err, "bus 1 (main): address 0x50: write 1 and read 0 bytes")
	}
}

// TestAnAdapterThatWasUnpluggedSaysSo, whatever errno its driver chooses.
func TestAnAdapterThatWasUnpluggedSaysSo(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	bus := openOnly(t, b)
	require.NotErrorIs(t, bus.Probe(0x51), ErrGone)
	require.NoError(t, os.Remove(b.opts.Dev+"/i2c-1"))
	delete(b.adapters, "i2c-1")
	b.adapters["i2c-1 (deleted)"] = a // what /proc says of the open file
	require.NoError(t, bus.Probe(0x50), "what works, works")
	a.do = func(uint16, []byte, []byte) (int, error) { return 0, unix.EIO }
	err := bus.Probe(0x50)
	require.ErrorIs(t, err, ErrGone)
	require.ErrorIs(t, err, unix.EIO)
	a.do = func(uint16, []byte, []byte) (int, error) { return 0, unix.ENXIO }
	require.NotErrorIs(t, bus.Probe(0x50), ErrNoAnswer, "nobody could answer")
}

func TestAProbeReadsOneByte(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	bus := openOnly(t, b)
	var wrote, read int
	a.do = func(_ uint16, w, r []byte) (int, error) { wrote, read = len(w), len(r); return 1, nil }
	require.NoError(t, bus.Probe(0x50))
	require.Equal(t, []int{0, 1}, []int{wrote, read})
	for _, errno := range []unix.Errno{unix.ENXIO, unix.EREMOTEIO, unix.ETIMEDOUT} {
		a.do = func(uint16, []byte, []byte) (int, error) { return 0, errno }
		require.ErrorIs(t, bus.Probe(0x50), ErrNoAnswer)
		require.ErrorIs(t, bus.Probe(0x50), errno)
	}
	a.do = func(uint16, []byte, []byte) (int, error) { return 0, unix.EIO }
	require.NotErrorIs(t, bus.Probe(0x50), ErrNoAnswer)
	require.ErrorIs(t, bus.Probe(0x50), unix.EIO)
}

// TestATransferBeyondItsDeadlineIsAnError although it returned data.
func TestATransferBeyondItsDeadlineIsAnError(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	now, step := time.Time{}, time.Duration(0)
	b.opts.Deadline = 20 * time.Millisecond
	b.opts.Now = func() time.Time { now = now.Add(step); return now }
	bus := openOnly(t, b)
	r := make([]byte, 1)
	step = 20 * time.Millisecond
	require.NoError(t, bus.Tx(0x50, nil, r))
	require.Equal(t, []byte{0xA5}, r)
	step++
	err := bus.Tx(0x50, nil, r)
	require.ErrorIs(t, err, ErrOverrun)
	require.ErrorContains(t, err, "allowed are 20ms")
	a.do = func(uint16, []byte, []byte) (int, error) { return 0, unix.ETIMEDOUT }
	err = bus.Tx(0x50, nil, r)
	require.ErrorIs(t, err, ErrOverrun)
	require.ErrorIs(t, err, unix.ETIMEDOUT, "the cause is kept beside the overrun")
}

func TestAClosedBusSaysSo(t *testing.T) {
	b := newBoard(t)
	b.bus(t, 1, "main")
	bus := openOnly(t, b)
	require.NoError(t, bus.Close())
	require.NoError(t, bus.Close(), "twice is harmless")
	require.ErrorIs(t, bus.Tx(0x50, []byte{1}, nil), ErrClosed)
	require.ErrorIs(t, bus.Probe(0x50), ErrClosed)
	_, err := bus.Scan(context.Background())
	require.ErrorIs(t, err, ErrClosed)
}

func TestTheClockIsTheDeviceTreesMatter(t *testing.T) {
	b := newBoard(t)
	b.bus(t, 1, "main")
	b.bus(t, 2, "other")
	b.sys(t, "class/i2c-dev/i2c-1/device/of_node/clock-frequency", "\x00\x06\x1a\x80") // 400 000, big-endian
	b.sys(t, "class/i2c-dev/i2c-2/device/of_node/clock-frequency", "\x00\x06\x1a")     // no cell
	c := b.computer(t)
	bus, err := c.OpenBus("1")
	require.NoError(t, err)
	defer bus.Close()
	clock, told := bus.Clock()
	require.True(t, told)
	require.Equal(t, "400 kHz", clock.String())
	err = bus.SetSpeed(100 * physic.KiloHertz)
	require.ErrorIs(t, err, ErrSpeed)
	require.ErrorContains(t, err, "400 kHz")

	other, err := c.OpenBus("2")
	require.NoError(t, err)
	defer other.Close()
	_, told = other.Clock()
	require.False(t, told)
	require.ErrorIs(t, other.SetSpeed(100*physic.KiloHertz), ErrSpeed)
}

// TestTransfersOfOneBusFollowOneAnother, and Close waits for the one under way.
func TestTransfersOfOneBusFollowOneAnother(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	bus := openOnly(t, b)
	a.do = func(_ uint16, w, r []byte) (int, error) { r[0] = w[0]; return 2, nil }
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			for range 100 {
				r := make([]byte, 1)
				err := bus.Tx(0x50, []byte{byte(i)}, r)
				if errors.Is(err, ErrClosed) {
					return
				}
				if err != nil || r[0] != byte(i) {
					t.Errorf("goroutine %d read %d: %v", i, r[0], err)
				}
			}
		})
	}
	require.NoError(t, bus.Close())
	all.Wait()
}

// TestTheKernelReachesTheBuffersOfTheCaller, which lie on a stack that moves
// while the kernel works: here the board makes it grow. periph gives the kernel
// numbers that a move does not change (host v3.8.5, sysfs/i2c.go, Tx).
func TestTheKernelReachesTheBuffersOfTheCaller(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	bus := openOnly(t, b)
	a.do = func(_ uint16, w, r []byte) (int, error) {
		grow(256)
		runtime.GC()
		r[0], r[1] = w[0], w[1]
		return 2, nil
	}
	done := make(chan [2]byte)
	go func() { // its stack is small yet
		w, r := [2]byte{0x12, 0x34}, [2]byte{}
		if err := bus.Tx(0x50, w[:], r[:]); err != nil {
			t.Error(err)
		}
		done <- r
	}()
	require.Equal(t, [2]byte{0x12, 0x34}, <-done)
}

// grow uses n KiB of stack.
//
//go:noinline
func grow(n int) byte {
	var room [1024]byte
	room[n] = byte(n)
	if n == 0 {
		return room[0]
	}
	return grow(n-1) + room[n]
}

func TestAScanListsWhatAnswersAndWhatIsClaimed(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	bus := openOnly(t, b)
	a.claimed[0x68] = true
	var asked []uint16
	a.do = func(addr uint16, w, r []byte) (int, error) {
		asked = append(asked, addr)
		switch addr {
		case 0x08, 0x77:
			return 1, nil
		case 0x20:
			return 0, unix.EIO
		}
		return 0, unix.ENXIO
	}
	found, err := bus.Scan(context.Background())
	require.NoError(t, err)
	require.Len(t, found, 4)
	require.Equal(t, Found{Addr: 0x08}, found[0])
	require.Equal(t, uint16(0x20), found[1].Addr)
	require.ErrorIs(t, found[1].Err, unix.EIO)
	require.Equal(t, Found{Addr: 0x68, Claimed: true}, found[2])
	require.Equal(t, Found{Addr: 0x77}, found[3])
	require.NotContains(t, asked, uint16(0x68))
	require.Len(t, asked, 0x77-0x08, "every address but the claimed one")
}

func TestAScanEndsWithItsContext(t *testing.T) {
	b := newBoard(t)
	a := b.bus(t, 1, "main")
	bus := openOnly(t, b)
	ctx, cancel := context.WithCancel(context.Background())
	a.do = func(addr uint16, w, r []byte) (int, error) {
		if addr == 0x0A {
			cancel()
		}
		return 1, nil
	}
	found, err := bus.Scan(ctx)
	require.ErrorIs(t, err, context.Canceled)
	require.Len(t, found, 3)
}

func TestBusesAreListedWithWhatTheyCanDo(t *testing.T) {
	b := newBoard(t)
	b.bus(t, 10, "ten")
	b.bus(t, 2, "two").can = 0x00060000
	b.bus(t, 3, "three").refuse[i2cFuncs] = unix.EIO
	b.sys(t, "bus/i2c/devices/i2c-4/name", "four\n")
	b.sys(t, "bus/i2c/devices/i2c-x/name", "no number\n")
	b.dev(t, "i2c-sockets")
	all := b.computer(t).Buses()
	require.Len(t, all, 4)
	require.Equal(t, "two", all[0].Name)
	require.ErrorIs(t, all[0].Reason, ErrSMBusOnly)
	require.ErrorIs(t, all[1].Reason, unix.EIO)
	require.Equal(t, "four", all[2].Name)
	require.Equal(t, Absent, all[2].Reason.Kind)
	require.Equal(t, 10, all[3].Number)
	require.Nil(t, all[3].Reason)
	require.Equal(t, "plain I2C transfers", all[3].Functions.String())
	require.Equal(t, "plain I2C transfers, SMBus commands", Functions(0x0EFF0001).String(), "i2c-tiny-usb")
	require.Equal(t, "nothing that a rig knows", Functions(0).String())
}

func BenchmarkTx(b *testing.B) {
	board := &board{adapters: map[string]*adapter{}}
	bus := &Bus{kernel: quick{board}, now: time.Now, deadline: time.Second}
	w, r := []byte{1}, make([]byte, 2)
	b.ReportAllocs()
	for b.Loop() {
		if err := bus.Tx(0x50, w, r); err != nil {
			b.Fatal(err)
		}
	}
}
