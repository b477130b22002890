//go:build linux

package main

import (
	"encoding/binary"
	"fmt"

	"golang.org/x/sys/unix"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// Types of events (linux/uhid.h). An output carries a report of the driver; its
// length stands behind the room for the data, so that most of it is air.
const (
	uhidDestroy  = 1
	uhidStop     = 3
	uhidOutput   = 6
	uhidGet      = 9
	uhidGetReply = 10
	uhidSet      = 13
	outputLength = 4 + 4096
	setHead      = 4 + 4 + 1 + 1 + 2
	getLength    = 4 + 4 + 1 + 1
	shortEnough  = 64
)

// uhids serves HID devices. A report that the host has given ahead is answered
// here: the levels of lines, which the driver asks for again and again.
type uhids struct{}

func (uhids) plug(_ *pump, body []byte) (*kernelEnd, error) {
	fd, err := unix.Open("/dev/uhid", unix.O_RDWR|unix.O_CLOEXEC|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("/dev/uhid: %w", err)
	}
	rawWrite(rawFile(fd), body)
	return &kernelEnd{file: rawFile(fd)}, nil
}

// unplug destroys the device. The kernel waits for whoever uses it, so the
// call has a thread of its own.
func (uhids) unplug(e *kernelEnd) {
	go func() { _, _ = e.file.Write(binary.LittleEndian.AppendUint32(nil, uhidDestroy)) }()
}

func (uhids) said(p *pump, e *kernelEnd, b []byte) bool {
	if len(b) < 4 {
		return true
	}
	if little(b) == uhidGet && len(b) >= getLength {
		if report, ok := e.standing[b[8]]; ok {
			reply := binary.LittleEndian.AppendUint32(make([]byte, 0, 16), uhidGetReply)
			reply = append(append(reply, b[4:8]...), 0, 0)
			reply = binary.LittleEndian.AppendUint16(reply, uint16(len(report)))
			rawWrite(e.file, append(reply, report...))
			return true
		}
	}
	p.send(wire.Frame{Kind: wire.Data, ID: e.id, Body: squeezed(b)})
	return little(b) != uhidStop
}

// squeezed cuts an event to what it says. The data of an output report stay
// at the front; the host finds their end by the end of the frame.
func squeezed(b []byte) []byte {
	switch {
	case little(b) == uhidOutput && len(b) >= outputLength+2:
		n := int(binary.LittleEndian.Uint16(b[outputLength:]))
		return b[:min(4+n, outputLength)]
	case little(b) == uhidSet && len(b) >= setHead:
		n := int(binary.LittleEndian.Uint16(b[setHead-2:]))
		return b[:min(setHead+n, len(b))]
	}
	return b[:min(len(b), shortEnough)]
}
