package chip_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
	"sinkproof/bench/quantity"
)

func TestWaitSleepsBeforeTheFirstLookButNeverPastTheFastestChip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		nominal := time.Duration(rapid.Int64Range(1000, 1e9).Draw(rt, "nominal ns"))
		factor := rapid.Float64Range(1/1.1, 1/0.9).Draw(rt, "period factor")
		done := time.Duration(float64(nominal) * factor)
		c := &chiptest.Clock{}
		looks := 0
		w := chip.Wait{Nominal: nominal, Longest: nominal * 10 / 9}
		err := w.Until(t.Context(), c, 0, func() (bool, error) {
			if looks == 0 && c.Now() > done {
				rt.Fatalf("first look at %s, chip was done at %s", c.Now(), done)
			}
			looks++
			return c.Now() >= done, nil
		})
		require.NoError(rt, err)
		require.GreaterOrEqual(rt, c.Now(), done)
		late := max(nominal/32, 20*time.Microsecond)
		require.LessOrEqual(rt, c.Now()-done, late, "found ready within one step")
	})
}

func TestWaitGivesUpAfterTheLongestTimeAndAMargin(t *testing.T) {
	c := &chiptest.Clock{}
	w := chip.Wait{Nominal: 125 * time.Millisecond, Longest: 139 * time.Millisecond}
	err := w.Until(t.Context(), c, 0, func() (bool, error) { return false, nil })
	require.ErrorIs(t, err, chip.ErrNotReady)
	require.ErrorContains(t, err, "139ms")
	require.Greater(t, c.Now(), w.Longest)
	require.Less(t, c.Now(), w.Longest+10*time.Millisecond)
}

func TestWaitAsksOnceMoreWhenTheLoopItselfWasLate(t *testing.T) {
	c := &chiptest.Clock{}
	c.Advance(time.Second)
	w := chip.Wait{Nominal: time.Millisecond, Longest: 2 * time.Millisecond}
	err := w.Until(t.Context(), c, 0, func() (bool, error) { return true, nil })
	require.NoError(t, err)
}

// still is a clock that stands.
type still struct{ sleeps int }

func (s *still) Now() time.Duration { return 0 }

func (s *still) Sleep(context.Context, time.Duration) error { s.sleeps++; return nil }

func TestWaitEndsUnderAClockThatStands(t *testing.T) {
	c := &still{}
	w := chip.Wait{Nominal: time.Millisecond, Longest: 2 * time.Millisecond}
	err := w.Until(t.Context(), c, 0, func() (bool, error) { return false, nil })
	require.ErrorIs(t, err, chip.ErrNotReady)
	require.Less(t, c.sleeps, 500)
}

func TestWaitHandsOnWhatEndsIt(t *testing.T) {
	w := chip.Wait{Nominal: time.Millisecond, Longest: 2 * time.Millisecond}
	broken := errors.New("broken")
	err := w.Until(t.Context(), &chiptest.Clock{}, 0, func() (bool, error) { return false, broken })
	require.ErrorIs(t, err, broken)

	never := func() (bool, error) { return false, nil }
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, w.Until(ctx, &chiptest.Clock{}, 0, never), context.Canceled)
	for limit := 1; limit <= 3; limit++ {
		c := &chiptest.Clock{Limit: limit}
		require.ErrorIs(t, w.Until(t.Context(), c, 0, never), context.Canceled, "given up at sleep %d", limit)
	}
}

// at is the address that the scripts below expect.
const at = 0x48

func TestWordsPutTheUpperByteFirst(t *testing.T) {
	bus := &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		{Addr: at, W: []byte{0x01, 0xC3, 0x83}},
		{Addr: at, W: []byte{0x01}, R: []byte{0x12, 0x34}},
		{Addr: at, W: []byte{0x01, 0x60}},
	}}
	w := chip.NewWords(bus, at)
	require.NoError(t, w.Write(1, 0xC383))
	got, err := w.Read(1)
	require.NoError(t, err)
	require.Equal(t, uint16(0x1234), got)
	require.NoError(t, w.WriteUpper(1, 0x60))
	require.NoError(t, bus.Close())
}

func TestWordsCompareOnlyTheMaskedBits(t *testing.T) {
	bus := &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		{Addr: at, W: []byte{2}, R: []byte{0x85, 0x83}},
		{Addr: at, W: []byte{2}, R: []byte{0x85, 0x83}},
		{Addr: at, W: []byte{3, 0xAA, 0x55}},
		{Addr: at, W: []byte{3}, R: []byte{0xAA, 0x54}},
	}}
	w := chip.NewWords(bus, at)
	require.NoError(t, w.Check(2, 0x0583, 0x7FFF, chip.ErrLost))
	err := w.Check(2, 0x0583, 0xFFFF, chip.ErrLost)
	require.ErrorIs(t, err, chip.ErrLost)
	require.ErrorContains(t, err, "register 02h reads 8583h, want 0583h")
	require.ErrorIs(t, w.Put(3, 0xAA55, chip.ErrIdentity), chip.ErrIdentity)
	require.NoError(t, bus.Close())
}

func TestWordsNameTheRegisterAndKeepTheCause(t *testing.T) {
	cut := &chiptest.Cut{How: chiptest.Dead}
	w := chip.NewWords(cut, at)
	_, err := w.Read(4)
	require.ErrorIs(t, err, chiptest.ErrCut)
	require.ErrorContains(t, err, "read register 04h")
	err = w.Write(5, 0x0800)
	require.ErrorIs(t, err, chiptest.ErrCut)
	require.ErrorContains(t, err, "write register 05h = 0800h")
	err = w.WriteUpper(1, 0x60)
	require.ErrorIs(t, err, chiptest.ErrCut)
	require.ErrorContains(t, err, "write register 01h = 60h")
	require.ErrorIs(t, w.Put(5, 1, chip.ErrLost), chiptest.ErrCut)
}

func TestPerKelvinChangesTheDimensionOnly(t *testing.T) {
	q := chip.PerKelvin(quantity.Volts(40e-6))
	require.Equal(t, quantity.Quantity{SI: 40e-6, Dim: quantity.Voltage - quantity.Temperature}, q)
}
