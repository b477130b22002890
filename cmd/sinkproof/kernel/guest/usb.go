//go:build linux

package main

import (
	"fmt"
	"os"
	"strings"

	"golang.org/x/sys/unix"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// hub is the virtual host controller of USB/IP.
const hub = "/sys/devices/platform/vhci_hcd.0/"

// usbs serves USB devices that are I2C adapters. The driver makes four requests
// for one transfer; all but the one that ends it are answered here.
type usbs struct{}

// plug gives the controller one end of a pair of sockets. The body says the
// device's number and its speed.
func (usbs) plug(_ *pump, body []byte) (*kernelEnd, error) {
	number, err := freeSocket()
	if err != nil {
		return nil, err
	}
	pair, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_STREAM|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		return nil, fmt.Errorf("make a pair of sockets: %w", err)
	}
	attach := fmt.Sprintf("%s %d %s", number, pair[1], body)
	err = os.WriteFile(hub+"attach", []byte(attach), 0)
	unix.Close(pair[1]) // the controller holds it now
	if err != nil {
		unix.Close(pair[0])
		return nil, fmt.Errorf("attach %q: %w", attach, err)
	}
	return &kernelEnd{file: rawFile(pair[0])}, nil
}

func (usbs) unplug(e *kernelEnd) { _ = unix.Shutdown(int(e.file), unix.SHUT_RDWR) }

// said cuts the stream into packets.
func (u usbs) said(p *pump, e *kernelEnd, b []byte) bool {
	e.rest = append(e.rest, b...)
	done := 0
	for {
		packet := wire.CutPacket(e.rest[done:])
		if packet == nil {
			break
		}
		u.packet(p, e, packet)
		done += len(packet)
	}
	e.rest = e.rest[:copy(e.rest, e.rest[done:])]
	return true
}

func (usbs) packet(p *pump, e *kernelEnd, packet wire.Packet) {
	switch {
	case packet.Begins():
		// The host keeps it for the read behind it, and says nothing.
		rawWrite(e.file, packet.Reply(packet.Length(), nil))
		e.standing[wire.AdapterStatus] = []byte{wire.StatusACK}
	case packet.AsksStatus() && len(e.standing[wire.AdapterStatus]) == 1:
		rawWrite(e.file, packet.Reply(1, e.standing[wire.AdapterStatus]))
		return
	}
	p.send(wire.Frame{Kind: wire.Data, ID: e.id, Body: packet})
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
			return w[1], nil
		}
	}
	return "", fmt.Errorf("no socket is free:\n%s", text)
}
