package kernel

import (
	"encoding/binary"
	"errors"
	"fmt"
	"sync"
	"syscall"

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

	// sent is what was written since the last start condition and waits for
	// its end: a write that a read follows is one transfer.
	sent []byte
}

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

// take handles one frame of the device: a packet.
func (a *Adapter) take(f wire.Frame) {
	if f.Kind == wire.Gone {
		close(a.gone)
		return
	}
	if p := wire.CutPacket(f.Body); p != nil {
		a.handle(p)
	}
}

func (a *Adapter) handle(p wire.Packet) {
	s := p.Setup()
	switch {
	case p.Command() == wire.Unlink:
		// Everything is answered in turn, so what should be unlinked was done.
		a.send(nil, p.Answer(wire.Unlinked, 0, 0, nil))
	case s[0]&0x60 == 0:
		a.standard(p, s[1], binary.LittleEndian.Uint16(s[2:]))
	case p.Begins():
		// The guest has answered; the read behind it is the same transfer.
		a.sent = append(a.sent[:0], p.Data()...)
	case p.Transfers():
		a.transfer(p, binary.LittleEndian.Uint16(s[4:]))
	case s[1] == wire.AdapterFunctions:
		// I2C and the emulation of SMBus by it (linux/i2c.h).
		a.answer(p, binary.LittleEndian.AppendUint32(nil, 0x8eff0001))
	case s[1] == wire.AdapterDelay:
		a.answer(p, nil)
		a.once.Do(func() { close(a.ready) })
	default:
		a.stall(p)
	}
}

// standard answers what every USB device is asked (USB 2.0, sec. 9.4).
func (a *Adapter) standard(p wire.Packet, request byte, value uint16) {
	const getDescriptor, setConfiguration = 6, 9
	switch {
	case request == getDescriptor && value>>8 == 1:
		a.answer(p, []byte{18, 1, 0x10, 1, 0xff, 0, 0, 8, 0x03, 0x04, 0x31, 0xc6, 0, 1, 0, 0, 0, 1})
	case request == getDescriptor && value>>8 == 2:
		a.answer(p, []byte{9, 2, 18, 0, 1, 1, 0, 0x80, 50, 9, 4, 0, 0, 0, 0xff, 0, 0, 0})
	case request == setConfiguration:
		a.answer(p, nil)
	default:
		a.stall(p)
	}
}

// transfer does the message that ends a transfer.
func (a *Adapter) transfer(p wire.Packet, addr uint16) {
	w, r := a.sent, []byte(nil)
	if p.In() {
		r = make([]byte, p.Length())
	} else {
		w = append(w, p.Data()...)
	}
	a.sent = a.sent[:0]
	err := a.bus.Tx(addr, w, r)
	status := byte(wire.StatusACK)
	if errors.Is(err, ErrNoAnswer) {
		status, err = wire.StatusNAK, nil
	}
	switch {
	case err != nil:
		a.stall(p)
	case p.In():
		a.send([]byte{wire.AdapterStatus, status}, p.Reply(len(r), r))
	default:
		a.send([]byte{wire.AdapterStatus, status}, p.Reply(p.Length(), nil))
	}
}

// answer gives bytes, no more than were asked for.
func (a *Adapter) answer(p wire.Packet, b []byte) {
	b = b[:min(len(b), p.Length())]
	a.send(nil, p.Reply(len(b), b))
}

// stall refuses a request; the machine sees EPIPE.
func (a *Adapter) stall(p wire.Packet) {
	a.send(nil, p.Answer(wire.Submitted, -int(syscall.EPIPE), 0, nil))
}

// send sends a packet back, and before it what the guest shall answer itself.
// An error says that the machine has ended.
func (a *Adapter) send(standing, packet []byte) {
	frames := []wire.Frame{{Kind: wire.Data, ID: a.id, Body: packet}}
	if standing != nil {
		frames = append([]wire.Frame{{Kind: wire.Standing, ID: a.id, Body: standing}}, frames...)
	}
	_ = a.port.send(frames...)
}
