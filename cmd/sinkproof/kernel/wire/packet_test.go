package wire

import (
	"encoding/hex"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The two packets of the kernel documentation, usb/usbip_protocol.rst, section
// "EXAMPLE": a bulk transfer into the machine and the answer of the device.
const documented = `
	00000001 00000d05 0001000f 00000001 00000001 00000200 00000040 ffffffff 00000000 00000004 00000000 00000000`

func bytesOf(t testing.TB, text string) []byte {
	b, err := hex.DecodeString(strings.Join(strings.Fields(text), ""))
	require.NoError(t, err)
	return b
}

func TestTheDocumentedPacketIsRead(t *testing.T) {
	p := CutPacket(bytesOf(t, documented))
	require.NotNil(t, p)
	require.EqualValues(t, Submit, p.Command())
	require.True(t, p.In())
	require.Equal(t, 0x40, p.Length())
	require.Empty(t, p.Data())

	answer := p.Reply(2, []byte{1, 2})
	require.Equal(t, bytesOf(t, "00000003 00000d05"), answer[:8])
	require.Equal(t, bytesOf(t, "00000000 00000002"), answer[20:28])
	require.Len(t, answer, 50)
	require.Equal(t, bytesOf(t, "ffffffe0"), p.Answer(Submitted, -32, 0, nil)[20:24])
}

// request is a control transfer as the driver makes it.
func request(in bool, kind, number byte, data ...byte) []byte {
	direction := 0
	if in {
		direction = 1
	}
	head := fmt.Sprintf("00000001 00000001 0001000f %08x 00000000 00000000 %08x 00000000 00000000 00000000 %02x %02x 0000 5000 0000",
		direction, len(data), kind, number)
	b, _ := hex.DecodeString(strings.Join(strings.Fields(head), ""))
	if in {
		return b
	}
	return append(b, data...)
}

func TestRequestsOfTheAdapterAreTold(t *testing.T) {
	for _, c := range []struct {
		name                    string
		packet                  []byte
		transfers, begins, asks bool
	}{
		{"a write with a read behind it", request(false, 0x41, AdapterTransfer|AdapterBegin, 7), true, true, false},
		{"a write alone", request(false, 0x41, AdapterTransfer|AdapterBegin|AdapterEnd, 7), true, false, false},
		{"a read", request(true, 0xc1, AdapterTransfer|AdapterEnd), true, false, false},
		{"the status", request(true, 0xc1, AdapterStatus), false, false, true},
		{"a descriptor", request(true, 0x80, 6), false, false, false},
		{"an interface of the standard", request(false, 0x01, 11), false, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := CutPacket(c.packet)
			require.Equal(t, c.packet, []byte(p))
			require.Equal(t, c.transfers, p.Transfers())
			require.Equal(t, c.begins, p.Begins())
			require.Equal(t, c.asks, p.AsksStatus())
			require.Nil(t, CutPacket(c.packet[:len(c.packet)-1]), "it is not whole")
		})
	}
}

func FuzzCutPacket(f *testing.F) {
	f.Add(bytesOf(f, documented))
	f.Add(request(false, 0x41, AdapterTransfer, 1, 2, 3))
	f.Fuzz(func(t *testing.T, b []byte) {
		p := CutPacket(b)
		require.LessOrEqual(t, len(p), len(b))
		if p == nil {
			return
		}
		_ = p.Begins() && p.AsksStatus()
		require.Len(t, p.Reply(0, nil), packetHeader)
	})
}

func ExampleFrame() {
	b := Frame{Kind: Data, ID: 3, Body: []byte("hello")}.Append(nil)
	f, n := Cut(b)
	fmt.Printf("%d bytes for device %d: %s\n", n, f.ID, f.Body)
	// Output: 14 bytes for device 3: hello
}
