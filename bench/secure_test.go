package bench_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
)

func TestSecureClearsWhatAKilledProgramLeft(t *testing.T) {
	b := newBoard(t)
	// Written, and the program is gone: both output registers of every expander
	// (OLATA, OLATB: 14h, 15h), then their directions (IODIRA, IODIRB: 00h, 01h;
	// Microchip MCP23017 data sheet DS20001952C, table 3-5).
	for addr := uint16(0x20); addr < 0x23; addr++ {
		require.NoError(t, b.Tx(addr, []byte{0x14, 0xff, 0x12}, nil))
		require.NoError(t, b.Tx(addr, []byte{0x00, 0x00, 0x00}, nil))
	}
	require.NotEqual(t, [3]uint16{}, b.high)
	require.NoError(t, bench.Secure(context.Background(), b.rig, b.hardware()))
	require.Equal(t, [3]uint16{}, b.high)
	require.Zero(t, b.pulses, "no arm pulse")
	require.Zero(t, b.beatAt, "no heartbeat")
	for name, on := range b.energised {
		require.False(t, on, "%s", name)
	}
}

func TestSecureTellsOfAVbusThatStaysUp(t *testing.T) {
	b := newBoard(t)
	b.unit = unit{farads: 4.7e-6, holdsUp: 4.2}
	require.ErrorIs(t, bench.Secure(context.Background(), b.rig, b.hardware()), bench.ErrHeld)
	require.Equal(t, [3]uint16{}, b.high)
}

func TestSecureNamesAChipThatIsGone(t *testing.T) {
	b := newBoard(t)
	b.silent = map[uint16]bool{0x20: true}
	var f *bench.Fault
	require.ErrorAs(t, bench.Secure(context.Background(), b.rig, b.hardware()), &f)
	require.NotEmpty(t, f.Thing)
	require.NotEmpty(t, f.Hint)
}
