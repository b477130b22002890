package kernel

import (
	"encoding/binary"
	"errors"
	"fmt"
	"sync"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// Adapter is a USB device with an I2C bus, as the kernel's driver i2c-tiny-usb
// knows it (drivers/i2c/busses/i2c-tiny-usb.c), that the machine reaches by
// USB/IP (kernel documentation, usb/usbip_protocol).
type Adapter struct {
	port  *link
	id    uint32
	bus   Bus
	ready chan struct{}
	gone  chan struct{}
	once  sync.Once

	rest []byte // of the stream: the beginning of a packet
	// sent is what was written since the last start condition and waits for
	// its end: a write that a read follows is one transfer.
	sent []byte
	nak  bool // of the last transfer
}

// Requests of the adapter.
const (
	adapterFunctions = 1
	adapterDelay     = 2
	adapterStatus    = 3
	adapterTransfer  = 4 // with the two flags
	adapterEnd       = 2
)

// What the status says.
const (
	statusACK = 1
	statusNAK = 2
)

// Commands and sizes of USB/IP.
const (
	submit       = 1
	unlink       = 2
	submitted    = 3
	unlinked     = 4
	packetHeader = 48
)

// errStall is what the machine sees as a request that the device refuses: EPIPE.
const errStall = -32

// PlugAdapter plugs an adapter into the machine and waits until its bus is
// there.
func (m *Machine) PlugAdapter(bus Bus) (*Adapter, error) {
	m.plugs.Do(m.listen)
	a := &Adapter{port: m.usb, bus: bus, ready: make(chan struct{}), gone: make(chan struct{})}
	a.id = m.devices.add(a)
	// The device's number is free to choose; 2 is full speed.
	if err := a.port.send(wire.Frame{Kind: wire.Plug, ID: a.id, Body: []byte("65538 2")}); err != nil {
		return nil, fmt.Errorf("plug the adapter in: %w", err)
	}
	return a, m.appears("the adapter", a.ready, a.gone)
}

// Unplug takes the adapter away, as if somebody pulled its cable.
func (a *Adapter) Unplug() error {
	return a.port.send(wire.Frame{Kind: wire.Unplug, ID: a.id})
}

// take handles one frame of the device: a piece of the stream of packets.
func (a *Adapter) take(f wire.Frame) {
	if f.Kind == wire.Gone {
		close(a.gone)
		return
	}
	a.rest = append(a.rest, f.Body...)
	for len(a.rest) >= packetHeader {
		n := packetHeader
		if p := packet(a.rest); p.command() == submit && !p.in() {
			n += p.length()
		}
		if len(a.rest) < n {
			return
		}
		a.handle(packet(a.rest[:n]))
		a.rest = a.rest[n:]
	}
}

// packet is one packet of USB/IP from the host controller.
type packet []byte

func (p packet) word(at int) uint32 { return binary.BigEndian.Uint32(p[at:]) }
func (p packet) command() uint32    { return p.word(0) }
func (p packet) in() bool           { return p.word(12) == 1 }
func (p packet) length() int        { return int(p.word(24)) }
func (p packet) setup() []byte      { return p[40:48] }
func (p packet) data() []byte       { return p[packetHeader:] }

func (a *Adapter) handle(p packet) {
	if p.command() == unlink {
		// Everything is answered in turn, so what should be unlinked was done.
		a.reply(p, unlinked, 0, 0, nil)
		return
	}
	s := p.setup()
	kind, request := s[0], s[1]
	value, index := binary.LittleEndian.Uint16(s[2:]), binary.LittleEndian.Uint16(s[4:])
	switch {
	case kind&0x60 == 0: // a standard request
		a.standard(p, request, value)
	case request&^3 == adapterTransfer:
		a.transfer(p, index, request&adapterEnd != 0)
	case request == adapterFunctions:
		// I2C and the emulation of SMBus by it (linux/i2c.h).
		a.answer(p, binary.LittleEndian.AppendUint32(nil, 0x8eff0001))
	case request == adapterDelay:
		a.reply(p, submitted, 0, 0, nil)
		a.once.Do(func() { close(a.ready) })
	case request == adapterStatus:
		status := byte(statusACK)
		if a.nak {
			status = statusNAK
		}
		a.answer(p, []byte{status})
	default:
		a.reply(p, submitted, errStall, 0, nil)
	}
}

// standard answers what every USB device is asked (USB 2.0, sec. 9.4).
func (a *Adapter) standard(p packet, request byte, value uint16) {
	const getDescriptor, setConfiguration = 6, 9
	switch {
	case request == getDescriptor && value>>8 == 1:
		a.answer(p, []byte{18, 1, 0x10, 1, 0xff, 0, 0, 8, 0x03, 0x04, 0x31, 0xc6, 0, 1, 0, 0, 0, 1})
	case request == getDescriptor && value>>8 == 2:
		a.answer(p, []byte{9, 2, 18, 0, 1, 1, 0, 0x80, 50, 9, 4, 0, 0, 0, 0xff, 0, 0, 0})
	case request == setConfiguration:
		a.reply(p, submitted, 0, 0, nil)
	default:
		a.reply(p, submitted, errStall, 0, nil)
	}
}

// transfer does one message. A write that is not the last one waits for the
// read behind it.
func (a *Adapter) transfer(p packet, addr uint16, end bool) {
	if !p.in() && !end {
		a.sent, a.nak = append(a.sent[:0], p.data()...), false
		a.reply(p, submitted, 0, p.length(), nil)
		return
	}
	w, r := a.sent, []byte(nil)
	if p.in() {
		r = make([]byte, p.length())
	} else {
		w = append(w, p.data()...)
	}
	a.sent = a.sent[:0]
	err := a.bus.Tx(addr, w, r)
	switch a.nak = errors.Is(err, ErrNoAnswer); {
	case err != nil && !a.nak:
		a.reply(p, submitted, errStall, 0, nil)
	case p.in():
		a.answer(p, r)
	default:
		a.reply(p, submitted, 0, p.length(), nil)
	}
}

// answer gives bytes, no more than were asked for.
func (a *Adapter) answer(p packet, b []byte) {
	b = b[:min(len(b), p.length())]
	a.reply(p, submitted, 0, len(b), b)
}

// reply sends a packet back.
func (a *Adapter) reply(p packet, command uint32, status, length int, data []byte) {
	b := make([]byte, packetHeader, packetHeader+len(data))
	binary.BigEndian.PutUint32(b, command)
	copy(b[4:8], p[4:8]) // the sequence number
	binary.BigEndian.PutUint32(b[20:], uint32(int32(status)))
	binary.BigEndian.PutUint32(b[24:], uint32(length))
	// An error says that the machine has ended.
	_ = a.port.send(wire.Frame{Kind: wire.Data, ID: a.id, Body: append(b, data...)})
}
