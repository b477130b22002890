package kernel

import (
	"encoding/binary"
	"fmt"
	"sync"
	"syscall"
	"time"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// Bridge is a HID device with eight GPIO lines: the registers of Silicon Labs'
// CP2112 (AN495, CP2112 interface specification) as far as the kernel's driver
// hid-cp2112 uses them. Its own I2C bus is empty: every transfer on it ends
// without an acknowledge.
type Bridge struct {
	port  *link
	id    uint32
	lines Lines
	ready chan struct{} // closed when the driver has opened the device
	gone  chan struct{}

	telling sync.Mutex
	told    bool  // the guest knows levels
	levels  uint8 // that it knows

	once     sync.Once
	outputs  uint8
	pushPull uint8
	settings [13]byte // of the I2C bus, given back as they were set
}

// Numbers and types of reports (AN495, chapters 4 to 6).
const (
	reportDirections  = 0x02
	reportGetLines    = 0x03
	reportSetLines    = 0x04
	reportVersion     = 0x05
	reportBusSettings = 0x06
	reportStatusAsk   = 0x15
	reportStatus      = 0x16
	reportLock        = 0x20
)

// Types of events between a kernel and a HID device made by a program
// (linux/uhid.h).
const (
	uhidOpen     = 4
	uhidOutput   = 6
	uhidGet      = 9
	uhidGetReply = 10
	uhidCreate   = 11
	uhidInput    = 12
	uhidSet      = 13
	uhidSetReply = 14
)

// PlugBridge plugs a bridge into the machine and waits until its lines are
// there.
func (m *Machine) PlugBridge(lines Lines) (*Bridge, error) {
	m.plugs.Do(m.listen)
	b := &Bridge{port: m.hid, lines: lines, ready: make(chan struct{}), gone: make(chan struct{})}
	b.id = m.devices.add(b)
	go b.follow()
	if err := b.port.send(wire.Frame{Kind: wire.Plug, ID: b.id, Body: create()}); err != nil {
		return nil, fmt.Errorf("plug the bridge in: %w", err)
	}
	return b, m.appears("the bridge", b.ready, b.gone)
}

// Unplug takes the bridge away, as if somebody pulled its cable.
func (b *Bridge) Unplug() error {
	return b.port.send(wire.Frame{Kind: wire.Unplug, ID: b.id})
}

// create is the event that makes the device: struct uhid_create2_req with the
// vendor and product that the driver knows.
func create() []byte {
	const head = 4 + 128 + 64 + 64
	e := make([]byte, head)
	binary.LittleEndian.PutUint32(e, uhidCreate)
	copy(e[4:], "bridge")
	d := descriptor()
	e = binary.LittleEndian.AppendUint16(e, uint16(len(d)))
	e = binary.LittleEndian.AppendUint16(e, 3) // BUS_USB
	for _, v := range []uint32{0x10c4, 0xea90, 0, 0} {
		e = binary.LittleEndian.AppendUint32(e, v)
	}
	return append(e, d...)
}

// descriptor is a report descriptor that lists the reports which the driver
// uses (USB HID 1.11, sec. 6.2.2). Each is a number of bytes without meaning.
func descriptor() []byte {
	const input, output, feature = 0x81, 0x91, 0xb1
	d := []byte{0x06, 0x00, 0xff, 0x09, 0x01, 0xa1, 0x01, 0x75, 0x08, 0x15, 0x00, 0x26, 0xff, 0x00}
	for _, r := range []struct{ number, length, kind byte }{
		{reportDirections, 4, feature}, {reportGetLines, 1, feature}, {reportSetLines, 2, feature},
		{reportVersion, 2, feature}, {reportBusSettings, 13, feature}, {reportLock, 1, feature},
		{0x10, 63, output}, {0x11, 63, output}, {0x12, 63, output}, {0x13, 63, input}, {0x14, 63, output},
		{reportStatusAsk, 63, output}, {reportStatus, 63, input}, {0x17, 63, output},
	} {
		d = append(d, 0x85, r.number, 0x95, r.length, 0x09, 0x01, r.kind, 0x02)
	}
	return append(d, 0xc0)
}

// take handles one frame of the device.
func (b *Bridge) take(f wire.Frame) {
	if f.Kind == wire.Gone {
		close(b.gone)
		return
	}
	if len(f.Body) < 4 {
		return
	}
	body := f.Body[4:]
	switch binary.LittleEndian.Uint32(f.Body) {
	case uhidGet:
		b.get(body)
	case uhidSet:
		b.set(body)
	case uhidOutput:
		if len(body) > 0 && body[0] == reportStatusAsk {
			// "Complete with an error": no chip has answered.
			b.send(append(binary.LittleEndian.AppendUint16(event(uhidInput), 7), reportStatus, 3, 0, 0, 0, 0, 0))
		}
	}
}

// followed is how often the lines are looked at. A level that changed reaches
// the machine this much later: less than a program needs to ask.
const followed = time.Millisecond

// follow tells the guest the levels of the lines whenever they change, so that
// it can answer by itself what the driver asks all the time.
func (b *Bridge) follow() {
	look := time.NewTicker(followed)
	defer look.Stop()
	for {
		select {
		case <-look.C:
			b.tell()
		case <-b.gone:
			return
		}
	}
}

// tell sends the levels where they have changed.
func (b *Bridge) tell() {
	b.telling.Lock()
	defer b.telling.Unlock()
	now := b.lines.Levels()
	if b.told && now == b.levels {
		return
	}
	b.told, b.levels = true, now
	// An error says that the machine has ended.
	_ = b.port.send(wire.Frame{Kind: wire.Standing, ID: b.id, Body: []byte{reportGetLines, reportGetLines, now}})
}

// get answers a request for a feature report: its number follows an id.
func (b *Bridge) get(body []byte) {
	if len(body) < 6 {
		return
	}
	var data []byte
	switch body[4] {
	case reportDirections:
		data = []byte{body[4], b.outputs, b.pushPull, 0, 0}
	case reportGetLines:
		data = []byte{body[4], b.lines.Levels()}
	case reportVersion:
		data = []byte{body[4], 0x0c, 1}
	case reportBusSettings:
		data = append([]byte{body[4]}, b.settings[:]...)
	case reportLock:
		data = []byte{body[4], 0}
	}
	reply := append(event(uhidGetReply), body[:4]...)
	reply = binary.LittleEndian.AppendUint16(reply, uint16(failure(data == nil)))
	reply = binary.LittleEndian.AppendUint16(reply, uint16(len(data)))
	b.send(append(reply, data...))
	if body[4] == reportLock {
		// The last thing that the driver asks for while it starts.
		b.once.Do(func() { close(b.ready) })
	}
}

// set takes a feature report: id, number, type, length, and the report with
// its number again.
func (b *Bridge) set(body []byte) {
	const head = 4 + 1 + 1 + 2
	if len(body) < head+1 {
		return
	}
	data := body[head+1:]
	ok := true
	switch {
	case body[4] == reportDirections && len(data) >= 2:
		b.outputs, b.pushPull = data[0], data[1]
		b.lines.Direct(b.outputs)
	case body[4] == reportSetLines && len(data) >= 2:
		b.lines.Set(data[1], data[0])
	case body[4] == reportBusSettings:
		copy(b.settings[:], data)
	default:
		ok = false
	}
	b.tell()
	reply := append(event(uhidSetReply), body[:4]...)
	b.send(binary.LittleEndian.AppendUint16(reply, uint16(failure(!ok))))
}

// failure is the errno of a report that there is not.
func failure(failed bool) syscall.Errno {
	if failed {
		return syscall.EIO
	}
	return 0
}

func event(kind uint32) []byte { return binary.LittleEndian.AppendUint32(nil, kind) }

func (b *Bridge) send(event []byte) {
	// An error says that the machine has ended.
	_ = b.port.send(wire.Frame{Kind: wire.Data, ID: b.id, Body: event})
}
