package linux

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// board is a kernel that is not there: files stand for its devices, and it
// answers their requests. It does what no adapter at hand does, such as a short
// count; what the real kernel does is proved in the guest.
type board struct {
	opts Options

	mu       sync.Mutex
	adapters map[string]*adapter // by the name of the device
	chips    map[string]*chip
	requests map[int]*wire // by descriptor
	// deaf is a kernel that wakes nobody when a chip goes.
	deaf  bool
	polls int
}

// adapter is one I2C adapter.
type adapter struct {
	can              Functions
	timeout, retries int
	claimed          map[uint16]bool
	refuse           map[uint]error // by request
	calls            int
	// do answers a transfer: the count of messages done and an error.
	do func(addr uint16, w, r []byte) (int, error)
}

// chip is one chip of lines.
type chip struct {
	name, label string
	wires       []*wire
	refuse      map[uint]error
}

// wire is one line of a chip.
type wire struct {
	name, consumer string
	flags          uint64
	level          bool
	refuse         map[uint64]error // by a flag that the driver does not take
	broken         error            // what reading and setting come to
	log            []string         // what the kernel was asked
	queue          int              // where edges are written
}

func newBoard(t *testing.T) *board {
	t.Helper()
	root := t.TempDir()
	b := &board{
		opts:     Options{Consumer: "bench", Dev: filepath.Join(root, "dev"), Sys: filepath.Join(root, "sys")},
		adapters: map[string]*adapter{}, chips: map[string]*chip{}, requests: map[int]*wire{},
	}
	require.NoError(t, os.MkdirAll(b.opts.Dev, 0o755))
	require.NoError(t, os.MkdirAll(b.opts.Sys, 0o755))
	return b
}

// computer opens the board as a Computer.
func (b *board) computer(t *testing.T) *Computer {
	t.Helper()
	c, err := New(b.opts)
	require.NoError(t, err)
	c.kernel = b
	t.Cleanup(func() { require.NoError(t, c.Close()) })
	return c
}

// dev makes the file of a device.
func (b *board) dev(t *testing.T, name string) string {
	t.Helper()
	path := filepath.Join(b.opts.Dev, name)
	require.NoError(t, os.WriteFile(path, nil, 0o600))
	return path
}

// sys writes a file of the kernel's tree.
func (b *board) sys(t *testing.T, name, content string) {
	t.Helper()
	path := filepath.Join(b.opts.Sys, name)
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, []byte(content), 0o644))
}

// bus puts an adapter on the board, with a chip at 0x50 that answers anything.
func (b *board) bus(t *testing.T, number int, name string) *adapter {
	t.Helper()
	id := fmt.Sprintf("i2c-%d", number)
	b.dev(t, id)
	b.sys(t, "class/i2c-dev/"+id+"/name", name+"\n")
	b.sys(t, "bus/i2c/devices/"+id+"/name", name+"\n")
	a := &adapter{can: FuncI2C, claimed: map[uint16]bool{}, refuse: map[uint]error{},
		do: func(addr uint16, w, r []byte) (int, error) {
			if addr != 0x50 {
				return 0, unix.ENXIO
			}
			for i := range r {
				r[i] = 0xA5
			}
			return min(len(w), 1) + min(len(r), 1), nil
		}}
	b.adapters[id] = a
	return a
}

// chip puts a chip of lines on the board.
func (b *board) chip(t *testing.T, number int, label string, names ...string) *chip {
	t.Helper()
	k := &chip{name: fmt.Sprintf("gpiochip%d", number), label: label, refuse: map[uint]error{}}
	b.dev(t, k.name)
	b.sys(t, "bus/gpio/devices/"+k.name+"/dev", "254:0\n")
	for _, n := range names {
		k.wires = append(k.wires, &wire{name: n, refuse: map[uint64]error{}, queue: -1})
	}
	b.chips[k.name] = k
	return k
}

// device is the name of the file that a descriptor is open on.
func device(fd int) string {
	path, err := os.Readlink(fmt.Sprintf("/proc/self/fd/%d", fd))
	if err != nil {
		return ""
	}
	return filepath.Base(path)
}

func (b *board) count(fd int, request uint, arg int) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	a := b.adapters[device(fd)]
	if a == nil {
		return 0, unix.ENOTTY
	}
	if err := a.refuse[request]; err != nil {
		return 0, err
	}
	switch request {
	case i2cTimeout:
		a.timeout = arg
	case i2cRetries:
		a.retries = arg
	case i2cSlave:
		if a.claimed[uint16(arg)] {
			return 0, unix.EBUSY
		}
	default:
		return 0, unix.ENOTTY
	}
	return 0, nil
}

func (b *board) poll(fds []unix.PollFd, limit *unix.Timespec) (int, error) {
	b.mu.Lock()
	b.polls++
	deaf, again := b.deaf, b.polls > 1
	b.mu.Unlock()
	switch {
	case !deaf:
		return unix.Ppoll(fds, limit, nil)
	case limit == nil:
		return 0, unix.EDEADLK // nothing would ever end it
	case again:
		fds[0].Revents = unix.POLLHUP | unix.POLLERR
		return 1, nil
	}
	return 0, nil // the limit has passed
}

func (b *board) point(fd int, request uint, arg unsafe.Pointer) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if l := b.requests[fd]; l != nil && device(fd) != "" {
		return 0, l.ask(request, arg)
	}
	if a := b.adapters[device(fd)]; a != nil {
		return a.ask(request, arg)
	}
	if k := b.chips[device(fd)]; k != nil {
		return 0, b.askChip(k, request, arg)
	}
	return 0, unix.ENOTTY
}

func (a *adapter) ask(request uint, arg unsafe.Pointer) (int, error) {
	if err := a.refuse[request]; err != nil {
		return 0, err
	}
	switch request {
	case i2cFuncs:
		*(*uintptr)(arg) = uintptr(a.can)
		return 0, nil
	case i2cRdwr:
		a.calls++
		t := (*transfer)(arg)
		var w, r []byte
		var addr uint16
		for _, m := range unsafe.Slice((*message)(t.messages), t.count) {
			addr = m.addr
			if m.flags&flagRead != 0 {
				r = unsafe.Slice((*byte)(m.buf), m.length)
			} else {
				w = unsafe.Slice((*byte)(m.buf), m.length)
			}
		}
		return a.do(addr, w, r)
	}
	return 0, unix.ENOTTY
}

func (b *board) askChip(k *chip, request uint, arg unsafe.Pointer) error {
	if err := k.refuse[request]; err != nil {
		return err
	}
	switch request {
	case gpioChipInfo:
		info := (*unix.GPIOChipInfo)(arg)
		copy(info.Name[:], k.name)
		copy(info.Label[:], k.label)
		info.Lines = uint32(len(k.wires))
		return nil
	case unix.GPIO_V2_GET_LINEINFO_IOCTL:
		info := (*unix.GPIOV2LineInfo)(arg)
		l := k.wires[info.Offset]
		copy(info.Name[:], l.name)
		copy(info.Consumer[:], l.consumer)
		info.Flags = l.flags
		return nil
	case unix.GPIO_V2_GET_LINE_IOCTL:
		r := (*unix.GPIOV2LineRequest)(arg)
		l := k.wires[r.Offsets[0]]
		if l.flags&flagUsed != 0 {
			return unix.EBUSY
		}
		if err := l.configure("request", &r.Config); err != nil {
			return err
		}
		l.consumer = text(r.Consumer[:])
		return b.open(l, r)
	}
	return unix.ENOTTY
}

// open gives a request its descriptor: the reading end of a pipe, in which edges
// are put.
func (b *board) open(l *wire, r *unix.GPIOV2LineRequest) error {
	var p [2]int
	if err := unix.Pipe2(p[:], unix.O_CLOEXEC); err != nil {
		return err
	}
	r.Fd, l.queue = int32(p[0]), p[1]
	b.requests[p[0]] = l
	return nil
}

func (l *wire) ask(request uint, arg unsafe.Pointer) error {
	if l.broken != nil {
		return l.broken
	}
	switch request {
	case gpioSetConfig:
		return l.configure("config", (*unix.GPIOV2LineConfig)(arg))
	case unix.GPIO_V2_LINE_SET_VALUES_IOCTL:
		l.level = (*unix.GPIOV2LineValues)(arg).Bits&1 == 1
		l.log = append(l.log, fmt.Sprintf("set %t", l.level))
		return nil
	case unix.GPIO_V2_LINE_GET_VALUES_IOCTL:
		v := (*unix.GPIOV2LineValues)(arg)
		v.Bits = 0
		if l.level {
			v.Bits = 1
		}
		l.log = append(l.log, "get")
		return nil
	}
	return unix.ENOTTY
}

// configure takes a configuration as the kernel does, with the level of an
// output in it.
func (l *wire) configure(how string, c *unix.GPIOV2LineConfig) error {
	for flag, err := range l.refuse {
		if c.Flags&flag != 0 {
			return err
		}
	}
	entry := fmt.Sprintf("%s %#x", how, c.Flags)
	if c.Num_attrs == 1 && c.Attrs[0].Attr.Id == unix.GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES {
		l.level = c.Attrs[0].Attr.Flags&c.Attrs[0].Mask&1 == 1
		entry += fmt.Sprintf(" at %t", l.level)
	}
	l.flags = flagUsed | c.Flags
	l.log = append(l.log, entry)
	return nil
}

// beat puts edges into the queue of a line.
func (l *wire) beat(t *testing.T, edges int) {
	t.Helper()
	for range edges {
		_, err := unix.Write(l.queue, make([]byte, unsafe.Sizeof(unix.GPIOV2LineEvent{})))
		require.NoError(t, err)
	}
}

// quick is a kernel that does every transfer at once, to measure what the layer
// itself costs.
type quick struct{ *board }

func (quick) point(_ int, _ uint, arg unsafe.Pointer) (int, error) {
	return int((*transfer)(arg).count), nil
}
