package twin

import (
	"context"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"sinkproof/bench/wiring"
)

func theBus(t testing.TB, w *Twin) i2c.BusCloser {
	b, ok := w.Hardware().Buses["i2c-main"].(i2c.BusCloser)
	require.True(t, ok)
	return b
}

// A bus at 400 kHz takes 2.5 µs per bit: start, nine bits for the address and
// each byte, repeated start, stop (I2C-bus specification UM10204, section 3.1).
func TestTransfersTakeTheirBits(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	b, clock := theBus(t, w), w.Hardware().Clock
	const bit = 2500 * time.Nanosecond
	for _, c := range []struct {
		name string
		addr uint16
		w, r int
		bits int
		ok   bool
	}{
		{"write three bytes", 0x48, 3, 0, 1 + 4*9 + 1, true},
		{"read two bytes", 0x48, 0, 2, 1 + 3*9 + 1, true},
		{"pointer, then two bytes", 0x48, 1, 2, 1 + 2*9 + 1 + 3*9 + 1, true},
		{"nobody there", 0x33, 1, 2, 1 + 9 + 1, false},
		{"beyond seven bits", 0x148, 1, 0, 1 + 9 + 1, false},
		{"nothing", 0x33, 0, 0, 0, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := clock.Now()
			err := b.Tx(c.addr, make([]byte, c.w), make([]byte, c.r))
			require.Equal(t, c.ok, err == nil)
			if err != nil {
				require.ErrorIs(t, err, syscall.ENXIO)
			}
			require.InDelta(t, float64(c.bits)*float64(bit), float64(clock.Now()-before), 4)
		})
	}
}

func TestBusHasNoSpeedAndAnEnd(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	b := theBus(t, w)
	require.Equal(t, "i2c-main", b.String())
	require.Error(t, b.SetSpeed(100*physic.KiloHertz))
	require.NoError(t, b.Close())
	require.ErrorIs(t, b.Tx(0x48, []byte{1}, nil), errClosed)
}

func TestTransferAllocatesNothing(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	b := theBus(t, w)
	pointer, start, r := []byte{0}, []byte{1, 0xc3, 0xe3}, make([]byte, 2)
	require.NoError(t, w.Hardware().Clock.Sleep(context.Background(), time.Second))
	require.Zero(t, testing.AllocsPerRun(500, func() {
		_ = b.Tx(0x48, start, nil)
		_ = b.Tx(0x48, pointer, r)
	}))
}

// Where two chips share an address both take what is written, and on reading a
// zero wins.
func TestAddressClashIsBoth(t *testing.T) {
	rig := *shippedRig(t)
	rig.Chips = append([]wiring.Chip(nil), rig.Chips...)
	for i := range rig.Chips {
		if rig.Chips[i].Name == "out3" {
			rig.Chips[i].Address = 0x21
		}
	}
	w, err := New(Config{Wiring: &rig, Product: shippedProduct(t, "hand-lamp"), Seed: 1})
	require.NoError(t, err)
	b := theBus(t, w)
	require.NoError(t, b.Tx(0x21, []byte{0x00, 0x0f, 0xff}, nil))
	r := make([]byte, 1)
	require.NoError(t, b.Tx(0x21, []byte{0x00}, r))
	require.Equal(t, []byte{0x0f}, r)
	require.NoError(t, w.Break(RigFault{Kind: ChipAbsent, Part: "out2"}))
	require.NoError(t, b.Tx(0x21, []byte{0x00, 0xf0, 0xff}, nil))
	w.Mend()
	require.NoError(t, b.Tx(0x21, []byte{0x00}, r))
	require.Equal(t, []byte{0x00}, r, "one has 0Fh, the other F0h")
}

func TestBusFaults(t *testing.T) {
	ask := func(b i2c.Bus) error { return b.Tx(0x48, []byte{1}, make([]byte, 2)) }
	t.Run("one transfer is not acknowledged", func(t *testing.T) {
		w := newTwin(t, "hand-lamp", 1)
		require.NoError(t, w.Break(RigFault{Kind: BusNak, Part: "i2c-main", Index: 2}))
		b := theBus(t, w)
		require.NoError(t, ask(b))
		require.NoError(t, ask(b))
		require.ErrorIs(t, ask(b), syscall.ENXIO)
		require.NoError(t, ask(b))
	})
	t.Run("dead from a transfer on", func(t *testing.T) {
		w := newTwin(t, "hand-lamp", 1)
		require.NoError(t, w.Break(RigFault{Kind: BusDead, Part: "i2c-main", Index: 1}))
		b := theBus(t, w)
		require.NoError(t, ask(b))
		for range 3 {
			require.ErrorIs(t, ask(b), syscall.ETIMEDOUT)
		}
		w.Mend()
		require.NoError(t, ask(b))
	})
	t.Run("slow", func(t *testing.T) {
		w := newTwin(t, "hand-lamp", 1)
		require.NoError(t, w.Break(RigFault{Kind: BusSlow, Part: "i2c-main", Value: 10}))
		before := w.Hardware().Clock.Now()
		require.NoError(t, ask(theBus(t, w)))
		require.InDelta(t, 1.2e-3, (w.Hardware().Clock.Now() - before).Seconds(), 2e-5)
	})
	t.Run("hangs once", func(t *testing.T) {
		w := newTwin(t, "hand-lamp", 1)
		require.NoError(t, w.Break(RigFault{Kind: BusHang, Part: "i2c-main", For: time.Second}))
		before := w.Hardware().Clock.Now()
		require.ErrorIs(t, ask(theBus(t, w)), syscall.ETIMEDOUT)
		require.Equal(t, time.Second, w.Hardware().Clock.Now()-before)
		require.NoError(t, ask(theBus(t, w)))
	})
}
