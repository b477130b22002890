//go:build linux

package main

import (
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"runtime/debug"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// pump copies between a port and the kernel's end of its devices. It runs as a
// process of its own with one thread, and blocks in plain system calls that the
// runtime does not hear of: on one emulated processor every wake of a second
// thread would delay a transfer.
type pump struct {
	port    rawFile
	devices map[uint32]*kernelEnd
	in      []byte // bytes from the port: the beginning of a frame
	out     []byte // room for a frame to the port
	polled  []unix.PollFd
	serve   server
}

// kernelEnd is the kernel's end of one device.
type kernelEnd struct {
	id   uint32
	file rawFile
	// standing are answers that the host has given ahead, by what is asked.
	standing map[byte][]byte
	rest     []byte // of a stream of packets
}

// server knows one kind of device.
type server interface {
	// plug makes the kernel's end of a device.
	plug(p *pump, body []byte) (*kernelEnd, error)
	// unplug lets the kernel take the device away.
	unplug(e *kernelEnd)
	// said takes what the kernel says. False says that the device is gone.
	said(p *pump, e *kernelEnd, b []byte) bool
}

// startPump starts the pump of a port as a process.
func startPump(name string) error {
	c := exec.Command("/init", name)
	// Without it the scheduler would signal a thread that blocks for long.
	c.Env = []string{"GODEBUG=asyncpreemptoff=1", slackEnv + "=1"}
	c.Stdout, c.Stderr = os.Stdout, os.Stderr
	if err := c.Start(); err != nil {
		return fmt.Errorf("start the pump of port %s: %w", name, err)
	}
	go func() { fmt.Println("guest: pump", name, "has ended:", c.Wait()) }()
	return nil
}

// runPump is the whole life of a pump.
func runPump(name string, s server) error {
	runtime.LockOSThread()
	runtime.GOMAXPROCS(2)  // one is blocked for good, the other is for what may wait
	debug.SetGCPercent(-1) // a collection would wait for the blocked thread
	port, err := openPort(name)
	if err != nil {
		return err
	}
	p := &pump{port: port, devices: map[uint32]*kernelEnd{}, serve: s}
	b := make([]byte, 1<<16)
	for {
		for _, fd := range p.ready() {
			n, err := rawRead(fd, b)
			if fd == port {
				if err != nil || n == 0 {
					return err
				}
				p.take(b[:n])
				continue
			}
			for _, e := range p.devices {
				if e.file == fd && (err != nil || n == 0 || !s.said(p, e, b[:n])) {
					p.drop(e)
				}
			}
		}
	}
}

// ready waits until something can be read.
func (p *pump) ready() []rawFile {
	fds := append(p.polled[:0], unix.PollFd{Fd: int32(p.port), Events: unix.POLLIN})
	for _, e := range p.devices {
		fds = append(fds, unix.PollFd{Fd: int32(e.file), Events: unix.POLLIN})
	}
	p.polled = fds
	unix.RawSyscall6(unix.SYS_PPOLL, uintptr(unsafe.Pointer(&fds[0])), uintptr(len(fds)), 0, 0, 0, 0)
	var out []rawFile
	for _, f := range fds {
		if f.Revents != 0 {
			out = append(out, rawFile(f.Fd))
		}
	}
	return out
}

// take handles bytes from the port.
func (p *pump) take(b []byte) {
	p.in = append(p.in, b...)
	done := 0
	for {
		f, n := wire.Cut(p.in[done:])
		if n == 0 {
			break
		}
		p.frame(f)
		done += n
	}
	p.in = p.in[:copy(p.in, p.in[done:])]
}

func (p *pump) frame(f wire.Frame) {
	e := p.devices[f.ID]
	switch {
	case f.Kind == wire.Plug:
		made, err := p.serve.plug(p, f.Body)
		if err != nil {
			fmt.Println("guest: plug a device:", err)
			p.send(wire.Frame{Kind: wire.Gone, ID: f.ID})
			return
		}
		made.id, made.standing = f.ID, map[byte][]byte{}
		p.devices[f.ID] = made
	case e == nil:
	case f.Kind == wire.Data:
		rawWrite(e.file, f.Body)
	case f.Kind == wire.Unplug:
		p.serve.unplug(e)
	case f.Kind == wire.Standing && len(f.Body) > 0:
		e.standing[f.Body[0]] = append(e.standing[f.Body[0]][:0], f.Body[1:]...)
	}
}

// drop forgets a device that the kernel has let go of.
func (p *pump) drop(e *kernelEnd) {
	delete(p.devices, e.id)
	unix.Close(int(e.file))
	p.send(wire.Frame{Kind: wire.Gone, ID: e.id})
}

func (p *pump) send(f wire.Frame) {
	p.out = f.Append(p.out[:0])
	rawWrite(p.port, p.out)
}

func rawRead(f rawFile, b []byte) (int, error) {
	for {
		n, _, errno := unix.RawSyscall(unix.SYS_READ, uintptr(f), uintptr(unsafe.Pointer(&b[0])), uintptr(len(b)))
		switch errno {
		case 0:
			return int(n), nil
		case unix.EINTR:
			continue
		}
		return 0, errno
	}
}

// rawWrite writes everything or says on the console why not.
func rawWrite(f rawFile, b []byte) {
	for len(b) > 0 {
		n, _, errno := unix.RawSyscall(unix.SYS_WRITE, uintptr(f), uintptr(unsafe.Pointer(&b[0])), uintptr(len(b)))
		switch errno {
		case 0:
			b = b[n:]
		case unix.EINTR:
		default:
			fmt.Println("guest: pump: write:", errno)
			return
		}
	}
}

// timerSlack lets the kernel join the wake-ups of programs that sleep: the
// runtime of a Go program looks after its threads every 20 µs, and each look
// costs an emulated processor as much as half a transfer.
const timerSlack = 500 * time.Microsecond

// slackEnv marks a program that was started again with the slack.
const slackEnv = "SLACK"

// slacken starts the program again with a timer slack, which its threads and
// every program that it starts inherit.
func slacken() error {
	if os.Getenv(slackEnv) != "" {
		return nil
	}
	runtime.LockOSThread()
	if err := unix.Prctl(unix.PR_SET_TIMERSLACK, uintptr(timerSlack), 0, 0, 0); err != nil {
		return fmt.Errorf("set the timer slack: %w", err)
	}
	return fmt.Errorf("start again: %w", unix.Exec("/init", os.Args, []string{slackEnv + "=1"}))
}

// little reads the 32-bit number at the front of an event.
func little(b []byte) uint32 { return binary.LittleEndian.Uint32(b) }
