package linux

import (
	"errors"
	"fmt"
	"sync"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/gpio"
)

// waits is the part of a Line that its waits share, under the line's lock.
type waits struct {
	wake    int  // an eventfd that ends running waits
	turn    uint // grows when running waits must end
	halted  bool // waits to come must end too
	waiting int  // how many run
	left    *sync.Cond
}

// look is the longest that a wait goes without asking the kernel anew: 1 s. A chip
// that is unplugged wakes nobody, but whoever asks is told (Linux 6.1,
// drivers/gpio/gpiolib-cdev.c, linereq_poll; seen there). Own choice.
const look = time.Second

// WaitForEdge waits for the next edge of the kind that In asked for, or takes one
// that came since. It tells whether there was one.
//
// A negative timeout waits for ever and 0 not at all, as the interface says;
// periph does the opposite (gpioioctl/gpio.go, WaitForEdge: 0 removes the
// deadline, -1 sets one that has passed). false means that the time is over,
// that In, Out, Halt or Close came, that the line is no input with edges, or that
// its chip is gone, which is noticed within a second.
func (l *Line) WaitForEdge(timeout time.Duration) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.dir != input || l.edge == gpio.NoEdge || l.halted {
		return false
	}
	turn, end := l.turn, l.computer.opts.Now().Add(timeout)
	l.waiting++
	defer l.leave()
	for {
		switch got, err := l.take(); {
		case err != nil:
			return false
		case got:
			return true
		}
		rest := look
		if timeout >= 0 {
			if rest = min(look, end.Sub(l.computer.opts.Now())); rest <= 0 {
				return false
			}
		}
		if err := l.sleep(rest); err != nil || l.turn != turn {
			return false
		}
	}
}

// sleep waits without the lock until there is an edge, an interruption, or the
// end of the time. The descriptors stay open: Close waits for the last to leave.
func (l *Line) sleep(rest time.Duration) error {
	fds := []unix.PollFd{{Fd: int32(l.fd), Events: unix.POLLIN}, {Fd: int32(l.wake), Events: unix.POLLIN}}
	l.mu.Unlock()
	defer l.mu.Lock()
	limit := unix.NsecToTimespec(rest.Nanoseconds())
	_, err := l.computer.kernel.poll(fds, &limit)
	switch {
	case errors.Is(err, unix.EINTR):
		return nil
	case err != nil:
		return err
	case fds[0].Revents&(unix.POLLERR|unix.POLLHUP|unix.POLLNVAL) != 0:
		return unix.ENODEV
	}
	return nil
}

// take takes one edge from the kernel's queue, if there is one.
func (l *Line) take() (bool, error) {
	var event [unsafe.Sizeof(unix.GPIOV2LineEvent{})]byte
	for {
		n, err := unix.Read(l.fd, event[:])
		switch {
		case errors.Is(err, unix.EINTR):
			continue
		case errors.Is(err, unix.EAGAIN):
			return false, nil
		case err != nil:
			return false, err
		}
		return n == len(event), nil
	}
}

// drain forgets the edges of the kernel's queue: 16 fit in it
// (event_buffer_size, include/uapi/linux/gpio.h), so a line that chatters cannot
// hold it up. periph leaves them (gpioioctl/gpio.go, In).
func (l *Line) drain() error {
	for range 64 {
		got, err := l.take()
		if err != nil {
			return fmt.Errorf("line %s: forget old edges: %w", l, err)
		}
		if !got {
			return nil
		}
	}
	return nil
}

// interrupt ends the running waits, and with stay also those to come until the
// next In.
func (l *Line) interrupt(stay bool) {
	l.turn++
	l.halted = l.halted || stay
	if l.waiting > 0 {
		one := [8]byte{1} // a counter in the byte order of either kind is not 0
		// The one error is a counter that is full, which wakes as well.
		_, _ = unix.Write(l.wake, one[:])
	}
}

// leave ends one wait. The last one clears the wake-up.
func (l *Line) leave() {
	l.waiting--
	if l.waiting > 0 {
		return
	}
	var count [8]byte
	// The one error is that nobody woke the waits.
	_, _ = unix.Read(l.wake, count[:])
	l.left.Broadcast()
}

// Halt ends every wait for an edge, those that run and those that come before
// the next In: a Halt that comes a moment before the wait is not lost, as it is
// with periph (gpioioctl/gpio.go, Halt, which sets a deadline that WaitForEdge
// sets anew). The line stays requested, keeps its direction, and an output keeps
// its level. Halting twice is harmless.
func (l *Line) Halt() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.interrupt(true)
	return nil
}
