package chips

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// expanderBench remembers what the expander drives.
type expanderBench struct {
	e     *Expander
	high  uint16
	calls int
}

func newExpander() *expanderBench {
	b := &expanderBench{}
	b.e = NewExpander(func(_ time.Duration, high uint16) { b.high, b.calls = high, b.calls+1 })
	return b
}

func (b *expanderBench) put(w ...byte) { b.e.Write(0, w) }

func (b *expanderBench) get(from byte, n int) []byte {
	b.put(from)
	r := make([]byte, n)
	b.e.Read(0, r)
	return r
}

// Microchip MCP23017 data sheet DS20001952C, Table 3-5: IODIR = FFh, every
// other register 00h; 22 addresses with BANK = 0.
func TestExpanderAfterPowerUp(t *testing.T) {
	b := newExpander()
	want := make([]byte, 22)
	want[0], want[1] = 0xff, 0xff
	require.Equal(t, want, b.get(0, 22))
	require.Zero(t, b.calls)
}

func TestExpanderDrivesOnlyOutputs(t *testing.T) {
	b := newExpander()
	b.put(0x14, 0xa5, 0x5a) // OLATA, OLATB
	require.Zero(t, b.high, "all pins are inputs yet")
	b.put(0x00, 0x00, 0xf0)
	require.Equal(t, uint16(0x0aa5), b.high)
	require.Equal(t, []byte{0xa5, 0x0a}, b.get(0x12, 2))
	b.put(0x13, 0x0f) // writing GPIO writes the latch
	require.Equal(t, uint16(0x0fa5), b.high)
	require.Equal(t, []byte{0x0f}, b.get(0x15, 1))
	require.Equal(t, b.high, b.e.High())
	calls := b.calls
	b.put(0x13, 0x0f)
	require.Equal(t, calls, b.calls, "nothing has changed")
}

func TestExpanderInputs(t *testing.T) {
	b := newExpander()
	require.Equal(t, []byte{0, 0}, b.get(0x12, 2))
	b.put(0x0c, 0x81) // GPPUA
	require.Equal(t, []byte{0x81, 0}, b.get(0x12, 2))
	b.put(0x02, 0x01) // IPOLA
	require.Equal(t, []byte{0x80, 0}, b.get(0x12, 2))
	b.put(0x0e, 0xff, 0xff, 0xff, 0xff) // INTF and INTCAP cannot be written
	require.Equal(t, []byte{0, 0, 0, 0}, b.get(0x0e, 4))
}

// BANK = 1 splits the map: port A 00..0Ah, port B 10..1Ah, IOCON at 05h (public
// driver definitions of the facts, mcp_bank1). A chip that was left in it is
// brought back by writing 00h to 05h.
func TestExpanderBanks(t *testing.T) {
	b := newExpander()
	b.put(0x0a, 0xa0) // BANK and SEQOP
	require.Equal(t, []byte{0xa0}, b.get(0x05, 1))
	require.Equal(t, []byte{0xa0}, b.get(0x15, 1))
	b.put(0x10, 0x0f) // IODIRB
	require.Equal(t, []byte{0x0f, 0x0f}, b.get(0x10, 2), "without sequence the pointer stays")
	b.put(0x05, 0x80)
	require.Equal(t, []byte{0xff, 0, 0, 0, 0, 0x80, 0, 0, 0, 0, 0, 0x0f}, b.get(0x00, 12), "on from port A to port B")
	b.put(0x0b, 1) // between the two halves there is nothing
	require.Equal(t, []byte{0}, b.get(0x0b, 1))
	b.put(0x05, 0x00)
	require.Equal(t, []byte{0xff, 0x0f}, b.get(0x00, 2))
	require.Equal(t, []byte{0x00, 0x00}, b.get(0x0a, 2))
}

func TestExpanderWithoutSequenceToggles(t *testing.T) {
	b := newExpander()
	b.put(0x0a, 0x20)
	b.put(0x00, 0x11, 0x22, 0x33)
	require.Equal(t, []byte{0x33, 0x22, 0x33}, b.get(0x00, 3))
}

func TestExpanderRollsOver(t *testing.T) {
	b := newExpander()
	b.put(0x15, 0x42, 0x00, 0x01) // OLATB, then IODIRA and IODIRB
	require.Equal(t, []byte{0x00, 0x01}, b.get(0x00, 2))
	require.Equal(t, []byte{0x42, 0x00}, b.get(0x15, 2))
}

// Whatever is written, the pins that are driven high are those that are
// outputs with their latch set.
func TestExpanderSurvivesAnything(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		b := newExpander()
		for _, w := range rapid.SliceOf(rapid.SliceOfN(rapid.Byte(), 0, 30)).Draw(r, "writes") {
			b.put(w...)
			b.get(rapid.Byte().Draw(r, "from"), 40)
		}
		b.put(0x05, 0)
		b.put(0x0a, 0)
		dir, latch := b.get(0x00, 2), b.get(0x14, 2)
		high := uint16(latch[0]&^dir[0]) | uint16(latch[1]&^dir[1])<<8
		require.Equal(r, high, b.high)
	})
}
