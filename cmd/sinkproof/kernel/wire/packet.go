package wire

import "encoding/binary"

// Packet is one packet of USB/IP from the host controller of the machine
// (kernel documentation, usb/usbip_protocol), header and data.
type Packet []byte

// Commands of USB/IP and the size of every header.
const (
	Submit       = 1
	Unlink       = 2
	Submitted    = 3
	Unlinked     = 4
	packetHeader = 48
)

// Requests of an I2C adapter of the kind that the driver i2c-tiny-usb knows
// (drivers/i2c/busses/i2c-tiny-usb.c).
const (
	AdapterFunctions = 1
	AdapterDelay     = 2
	AdapterStatus    = 3
	AdapterTransfer  = 4 // with the flags
	AdapterBegin     = 1
	AdapterEnd       = 2
)

// What the status says.
const (
	StatusACK = 1
	StatusNAK = 2
)

// CutPacket is the first packet of a stream, nil where it is not whole. It
// keeps the bytes of b.
func CutPacket(b []byte) Packet {
	if len(b) < packetHeader {
		return nil
	}
	n, p := packetHeader, Packet(b)
	if p.Command() == Submit && !p.In() {
		n += p.Length()
	}
	if len(b) < n {
		return nil
	}
	return p[:n]
}

func (p Packet) word(at int) uint32 { return binary.BigEndian.Uint32(p[at:]) }

// Command is what the packet wants.
func (p Packet) Command() uint32 { return p.word(0) }

// In tells whether a submitted transfer goes to the machine.
func (p Packet) In() bool { return p.word(12) == 1 }

// Length is how many bytes a submitted transfer carries or asks for, at most a
// control transfer's.
func (p Packet) Length() int { return int(p.word(24) & 0xffff) }

// Setup is the request of a control transfer (USB 2.0, sec. 9.3).
func (p Packet) Setup() []byte { return p[40:48] }

// Data is what a transfer from the machine carries.
func (p Packet) Data() []byte { return p[packetHeader:] }

// vendor tells whether it is a request of the adapter's own.
func (p Packet) vendor() bool { return p.Command() == Submit && p.Setup()[0]&0x60 == 0x40 }

// Transfers tells whether the packet is a message on the adapter's bus.
func (p Packet) Transfers() bool {
	return p.vendor() && p.Setup()[1]&^(AdapterBegin|AdapterEnd) == AdapterTransfer
}

// Begins tells whether the packet is a written message that is not the last of
// its transfer.
func (p Packet) Begins() bool {
	return p.Transfers() && !p.In() && p.Setup()[1]&AdapterEnd == 0
}

// AsksStatus tells whether the packet asks how the last message went.
func (p Packet) AsksStatus() bool { return p.vendor() && p.Setup()[1] == AdapterStatus }

// Reply is the packet that answers a submitted transfer which went well.
func (p Packet) Reply(length int, data []byte) []byte { return p.Answer(Submitted, 0, length, data) }

// Answer is a packet that answers with a status, zero or the negative of an
// errno.
func (p Packet) Answer(command uint32, status, length int, data []byte) []byte {
	b := make([]byte, packetHeader, packetHeader+len(data))
	binary.BigEndian.PutUint32(b, command)
	copy(b[4:8], p[4:8]) // the sequence number
	binary.BigEndian.PutUint32(b[20:], uint32(int32(status)))
	binary.BigEndian.PutUint32(b[24:], uint32(length))
	return append(b, data...)
}
