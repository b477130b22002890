//go:build linux

package main

import (
	"encoding/binary"
	"fmt"
	"sync"

	"golang.org/x/sys/unix"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// eventSize is the size of struct uhid_event (linux/uhid.h): the type and its
// largest member, uhid_create2_req.
const eventSize = 4 + 128 + 64 + 64 + 2 + 2 + 4 + 4 + 4 + 4 + 4096

// Types of events. An output carries a report of the driver; its length stands
// behind the room for the data, so that most of it is air.
const (
	uhidDestroy  = 1
	uhidStop     = 3
	uhidOutput   = 6
	outputData   = 4096
	uhidSet      = 13
	setHead      = 4 + 4 + 1 + 1 + 2
	shortEnough  = 64
	outputLength = 4 + outputData
)

// uhids are the HID devices that stand for those of the host.
type uhids struct {
	port
	mu      sync.Mutex // of writes to the port
	devices map[uint32]rawFile
}

// serveHID copies events between the kernel and the host.
func serveHID(p port) {
	u := &uhids{port: p, devices: map[uint32]rawFile{}}
	fmt.Println("guest: hid port:", p.frames(u.take))
}

func (u *uhids) take(f wire.Frame) {
	switch f.Kind {
	case wire.Plug:
		fd, err := unix.Open("/dev/uhid", unix.O_RDWR|unix.O_CLOEXEC, 0)
		if err != nil {
			fmt.Println("guest: /dev/uhid:", err)
			return
		}
		u.devices[f.ID] = rawFile(fd)
		go u.copy(f.ID, rawFile(fd))
		u.event(f)
	case wire.Data:
		u.event(f)
	case wire.Unplug:
		if fd, ok := u.devices[f.ID]; ok {
			delete(u.devices, f.ID)
			// It waits for the driver to let go.
			go func() { _, _ = fd.Write(binary.LittleEndian.AppendUint32(nil, uhidDestroy)) }()
		}
	}
}

// event gives the kernel an event of the host's.
func (u *uhids) event(f wire.Frame) {
	if fd, ok := u.devices[f.ID]; ok {
		if _, err := fd.Write(f.Body); err != nil {
			fmt.Println("guest: uhid event:", err)
		}
	}
}

// copy sends the kernel's events to the host, without the air in them.
func (u *uhids) copy(id uint32, fd rawFile) {
	b := make([]byte, eventSize)
	for {
		n, err := fd.Read(b)
		if err != nil {
			break
		}
		u.send(wire.Frame{Kind: wire.Data, ID: id, Body: squeezed(b[:n])})
		if n >= 4 && binary.LittleEndian.Uint32(b) == uhidStop {
			break // the driver has let go
		}
	}
	unix.Close(int(fd))
	u.send(wire.Frame{Kind: wire.Gone, ID: id})
}

func (u *uhids) send(f wire.Frame) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if err := wire.Write(u.port, f); err != nil {
		fmt.Println("guest: hid port:", err)
	}
}

// squeezed cuts an event to what it says. The data of an output report stay
// at the front; the host finds their end by the end of the frame.
func squeezed(b []byte) []byte {
	switch {
	case len(b) < 4:
	case binary.LittleEndian.Uint32(b) == uhidOutput && len(b) >= outputLength+2:
		n := int(binary.LittleEndian.Uint16(b[outputLength:]))
		return b[:4+min(n, outputData)]
	case binary.LittleEndian.Uint32(b) == uhidSet && len(b) >= setHead:
		n := int(binary.LittleEndian.Uint16(b[setHead-2:]))
		return b[:min(setHead+n, len(b))]
	}
	return b[:min(len(b), shortEnough)]
}
