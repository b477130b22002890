package linux

import (
	"errors"
	"fmt"
	"runtime"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Requests of the kernel. I2C: include/uapi/linux/i2c-dev.h. GPIO:
// include/uapi/linux/gpio.h, the second version of the interface (Linux 5.10);
// what is not here is in golang.org/x/sys/unix.
const (
	i2cRetries = 0x0701
	i2cTimeout = 0x0702 // in units of 10 ms
	i2cSlave   = 0x0703
	i2cFuncs   = 0x0705
	i2cRdwr    = 0x0707

	gpioChipInfo  = 0x8044b401
	gpioSetConfig = 0xc110b40d
)

// Flags of a line: enum gpio_v2_line_flag of include/uapi/linux/gpio.h.
const (
	flagUsed = 1 << iota
	flagActiveLow
	flagInput
	flagOutput
	flagRising
	flagFalling
	flagOpenDrain
	flagOpenSource
	flagPullUp
	flagPullDown
	flagBiasDisabled
)

// kernel is the seam to the running kernel. Only tests replace it, for what no
// adapter at hand does.
type kernel interface {
	// point makes a request whose argument is a structure.
	point(fd int, request uint, arg unsafe.Pointer) (int, error)
	// count makes a request whose argument is a number.
	count(fd int, request uint, arg int) (int, error)
	// poll waits until a descriptor is ready, for ever where limit is nil.
	poll(fds []unix.PollFd, limit *unix.Timespec) (int, error)
}

// running is the kernel that runs this process.
type running struct{}

func (running) point(fd int, request uint, arg unsafe.Pointer) (int, error) {
	n, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(fd), uintptr(request), uintptr(arg))
	if errno != 0 {
		return 0, errno
	}
	return int(n), nil
}

func (running) count(fd int, request uint, arg int) (int, error) {
	n, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(fd), uintptr(request), uintptr(arg))
	if errno != 0 {
		return 0, errno
	}
	return int(n), nil
}

func (running) poll(fds []unix.PollFd, limit *unix.Timespec) (int, error) {
	return unix.Ppoll(fds, limit, nil)
}

// ask makes a request with a structure that the kernel fills or reads. The
// structure is pinned: the kernel has its address while other goroutines run.
func ask[T any](k kernel, fd int, request uint, arg *T) error {
	var pin runtime.Pinner
	defer pin.Unpin()
	pin.Pin(arg)
	_, err := k.point(fd, request, unsafe.Pointer(arg))
	return err
}

// openDevice opens a device for reading and writing. A signal may come in
// between; the runtime of Go sends them to itself.
func openDevice(path string) (int, error) {
	for {
		fd, err := unix.Open(path, unix.O_RDWR|unix.O_CLOEXEC, 0)
		if !errors.Is(err, unix.EINTR) {
			return fd, err
		}
	}
}

// attributeMax is the most that is read of one file of /sys: a page, the most
// that the kernel writes there (Documentation/filesystems/sysfs.rst).
const attributeMax = 4096

// attribute reads one file of /sys.
func attribute(path string) ([]byte, error) {
	fd, err := unix.Open(path, unix.O_RDONLY|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	defer unix.Close(fd)
	buf := make([]byte, attributeMax)
	n, err := unix.Read(fd, buf)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", path, err)
	}
	return buf[:n], nil
}

// text is a fixed field of a kernel structure, which ends at its first zero.
func text(field []byte) string {
	for i, b := range field {
		if b == 0 {
			return string(field[:i])
		}
	}
	return string(field)
}
