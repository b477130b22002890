//go:build linux

package main

import (
	"fmt"
	"os"
	"strings"
	"sync"

	"golang.org/x/sys/unix"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// hub is the virtual host controller of USB/IP.
const hub = "/sys/devices/platform/vhci_hcd.0/"

// usbs are the USB devices that stand for those of the host.
type usbs struct {
	port
	mu      sync.Mutex // of writes to the port
	sockets map[uint32]rawFile
}

// serveUSB copies packets between the kernel and the host.
func serveUSB(p port) {
	u := &usbs{port: p, sockets: map[uint32]rawFile{}}
	fmt.Println("guest: usb port:", p.frames(u.take))
}

func (u *usbs) take(f wire.Frame) {
	switch f.Kind {
	case wire.Plug:
		if err := u.plug(f); err != nil {
			fmt.Println("guest: plug a USB device:", err)
			u.send(wire.Frame{Kind: wire.Gone, ID: f.ID})
		}
	case wire.Data:
		if fd, ok := u.sockets[f.ID]; ok {
			if _, err := fd.Write(f.Body); err != nil {
				fmt.Println("guest: usb packet:", err)
			}
		}
	case wire.Unplug:
		if fd, ok := u.sockets[f.ID]; ok {
			delete(u.sockets, f.ID)
			_ = unix.Shutdown(int(fd), unix.SHUT_RDWR)
		}
	}
}

// plug gives the controller one end of a pair of sockets. The body says the
// device's number and its speed.
func (u *usbs) plug(f wire.Frame) error {
	number, err := freeSocket()
	if err != nil {
		return err
	}
	pair, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_STREAM|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		return fmt.Errorf("make a pair of sockets: %w", err)
	}
	attach := fmt.Sprintf("%s %d %s", number, pair[1], f.Body)
	err = os.WriteFile(hub+"attach", []byte(attach), 0)
	unix.Close(pair[1]) // the controller holds it now
	if err != nil {
		unix.Close(pair[0])
		return fmt.Errorf("attach %q: %w", attach, err)
	}
	u.sockets[f.ID] = rawFile(pair[0])
	go u.copy(f.ID, rawFile(pair[0]))
	return nil
}

// freeSocket is the number of a socket of the hub that nothing is plugged
// into. A line of its status reads "hs  0000 004 ...": hub, socket, state;
// state 4 is free (drivers/usb/usbip/usbip_common.h, VDEV_ST_NULL).
func freeSocket() (string, error) {
	text, err := os.ReadFile(hub + "status")
	if err != nil {
		return "", fmt.Errorf("which sockets are free: %w", err)
	}
	for line := range strings.Lines(string(text)) {
		if w := strings.Fields(line); len(w) > 2 && w[0] == "hs" && w[2] == "004" {
			return strings.TrimLeft(w[1][:len(w[1])-1], "0") + w[1][len(w[1])-1:], nil
		}
	}
	return "", fmt.Errorf("no socket is free:\n%s", text)
}

// copy sends the controller's packets to the host.
func (u *usbs) copy(id uint32, fd rawFile) {
	b := make([]byte, 1<<14)
	for {
		n, err := fd.Read(b)
		if err != nil {
			break
		}
		u.send(wire.Frame{Kind: wire.Data, ID: id, Body: b[:n]})
	}
	unix.Close(int(fd))
	u.send(wire.Frame{Kind: wire.Gone, ID: id})
}

func (u *usbs) send(f wire.Frame) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if err := wire.Write(u.port, f); err != nil {
		fmt.Println("guest: usb port:", err)
	}
}
