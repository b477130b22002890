package linux

import (
	"errors"
	"fmt"
	"runtime"
	"unsafe"
)

var (
	// ErrClosed is the cause when a bus is used after Close.
	ErrClosed = errors.New("it is closed")
	// ErrGone is beside the cause when the adapter was unplugged.
	ErrGone = errors.New("the adapter is gone")
	// ErrOverrun is the cause when a transfer took longer than Options.Deadline.
	// What it read is in the buffer and must not be used.
	ErrOverrun = errors.New("the transfer took too long")
	// ErrShort is the cause when the kernel did fewer messages than it was given.
	ErrShort = errors.New("the transfer ended early")
	// ErrTooLong is the cause when a message is longer than the kernel takes.
	ErrTooLong = errors.New("the message is too long")
	// ErrEmpty is the cause when a transfer has nothing to write or read.
	ErrEmpty = errors.New("the transfer is empty")
	// ErrAddress is the cause when an address has more than seven bits.
	ErrAddress = errors.New("the address is beyond seven bits")
)

// messageMax is the longest message that i2c-dev takes: 8192 bytes
// (i2cdev_ioctl_rdwr, drivers/i2c/i2c-dev.c). The length field has 16 bits, so a
// longer one would even be cut: periph cuts it (sysfs/i2c.go, Tx).
const messageMax = 8192

// addressMax is the highest address. The kernel has no ten-bit addresses for
// programs ("NOT supported! (due to code brokenness)", include/uapi/linux/
// i2c-dev.h).
const addressMax = 0x7f

// flagRead marks a message that reads: I2C_M_RD, include/uapi/linux/i2c.h.
const flagRead = 0x0001

// message is struct i2c_msg of include/uapi/linux/i2c.h. Its pointer is a real
// one, so that the collector sees the buffer.
type message struct {
	addr   uint16
	flags  uint16
	length uint16
	buf    unsafe.Pointer
}

// transfer is struct i2c_rdwr_ioctl_data of include/uapi/linux/i2c-dev.h.
type transfer struct {
	messages unsafe.Pointer
	count    uint32
}

// check refuses what the kernel would refuse less plainly or misunderstand.
func check(addr uint16, w, r []byte) error {
	switch {
	case addr > addressMax:
		return fmt.Errorf("%w: the highest is %#02x", ErrAddress, addressMax)
	case len(w) == 0 && len(r) == 0:
		return ErrEmpty
	case len(w) > messageMax:
		return fmt.Errorf("write %d bytes: %w: the kernel takes %d", len(w), ErrTooLong, messageMax)
	case len(r) > messageMax:
		return fmt.Errorf("read %d bytes: %w: the kernel takes %d", len(r), ErrTooLong, messageMax)
	}
	return nil
}

// rdwr does one combined transfer: the write, then after a repeated start the
// read.
//
// periph keeps the messages and buffers as numbers on its own stack and then
// waits for its mutex (sysfs/i2c.go, Tx): when the collector moves the stack
// meanwhile the kernel reads and writes freed memory. Here everything that the
// kernel is told lies on the heap, is pointed to, and is pinned.
func rdwr(k kernel, fd int, addr uint16, w, r []byte) error {
	var pin runtime.Pinner
	defer pin.Unpin()
	messages := make([]message, 0, 2)
	if len(w) > 0 {
		pin.Pin(&w[0])
		messages = append(messages, message{addr: addr, length: uint16(len(w)), buf: unsafe.Pointer(&w[0])})
	}
	if len(r) > 0 {
		pin.Pin(&r[0])
		messages = append(messages, message{addr: addr, flags: flagRead, length: uint16(len(r)), buf: unsafe.Pointer(&r[0])})
	}
	pin.Pin(&messages[0])
	t := &transfer{messages: unsafe.Pointer(&messages[0]), count: uint32(len(messages))}
	pin.Pin(t)
	n, err := k.point(fd, i2cRdwr, unsafe.Pointer(t))
	switch {
	case err != nil:
		return err
	case n != len(messages):
		return fmt.Errorf("%w: %d of %d messages", ErrShort, n, len(messages))
	}
	return nil
}
