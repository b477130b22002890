package chips

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func newThermometer(celsius float64, o ThermometerOptions) *Thermometer {
	o.Celsius = func(time.Duration) float64 { return celsius }
	o.Rand = dice()
	return NewThermometer(o)
}

func readWord(d Device, now time.Duration, pointer byte) uint16 {
	d.Write(now, []byte{pointer})
	var r [2]byte
	d.Read(now, r[:])
	return uint16(r[0])<<8 | uint16(r[1])
}

// Codes of TI TMP75 data sheet SBOS288M, Table 7-1 (12 bits), and of TI
// TMP1075 data sheet SBOS854F, Table 7-1 (the same as 16-bit words).
func TestThermometerCodes(t *testing.T) {
	for _, c := range []struct {
		celsius float64
		code    uint16
	}{
		{127.9375, 0x7ff}, {100, 0x640}, {80, 0x500}, {75, 0x4b0}, {50, 0x320}, {25, 0x190},
		{0.25, 0x004}, {0, 0x000}, {-0.25, 0xffc}, {-25, 0xe70}, {-55, 0xc90},
		{0.0625, 0x001}, {-0.0625, 0xfff}, {-128, 0x800}, {500, 0x7ff},
	} {
		t.Run(fmt.Sprint(c.celsius), func(t *testing.T) {
			d := newThermometer(c.celsius, ThermometerOptions{})
			require.Zero(t, readWord(d, 0, 0), "0 °C until the first conversion has ended")
			require.Equal(t, c.code<<4, readWord(d, time.Second, 0))
		})
	}
}

// Limits after power-up: 75 °C and 80 °C (SBOS854F: 4B00h and 5000h; LM75).
func TestThermometerRegisters(t *testing.T) {
	d := newThermometer(25, ThermometerOptions{})
	require.Equal(t, uint16(0x4b00), readWord(d, 0, 2))
	require.Equal(t, uint16(0x5000), readWord(d, 0, 3))
	d.Write(0, []byte{2, 0x12, 0x3f})
	d.Write(0, []byte{3, 0x45, 0x6f})
	d.Write(0, []byte{3, 0x45})
	require.Equal(t, uint16(0x1230), readWord(d, 0, 2), "the lowest four bits are not there")
	require.Equal(t, uint16(0x4560), readWord(d, 0, 3))
	require.Zero(t, readWord(d, 0, 1))
	d.Write(0, []byte{0, 0xff, 0xff})
	require.Equal(t, uint16(0x1900), readWord(d, time.Second, 0), "read only")
	d.Write(0, nil)
}

func TestThermometerShutdownAndOneShot(t *testing.T) {
	now := time.Second
	d := newThermometer(25, ThermometerOptions{Oscillator: 0.1})
	require.Equal(t, uint16(0x1900), readWord(d, now, 0))
	d.Write(now, []byte{1, 0x01})
	d.o.Celsius = func(time.Duration) float64 { return 30 }
	require.Equal(t, uint16(0x1900), readWord(d, now+10*time.Second, 0), "asleep")
	now += 10 * time.Second
	d.Write(now, []byte{1, 0x81})
	require.Equal(t, uint16(0x0101), readWord(d, now, 1), "the one-shot bit reads 0")
	require.Equal(t, uint16(0x1900), readWord(d, now+241*time.Millisecond, 0))
	require.Equal(t, uint16(0x1e00), readWord(d, now+243*time.Millisecond, 0))
	d.Write(now, []byte{1, 0x00})
	d.o.Celsius = func(time.Duration) float64 { return 35 }
	require.Equal(t, uint16(0x2300), readWord(d, now+time.Second, 0), "awake again")
}

func TestThermometerErrors(t *testing.T) {
	d := newThermometer(25, ThermometerOptions{Offset: 1})
	require.Equal(t, uint16(0x1a00), readWord(d, time.Second, 0))
	d = newThermometer(25, ThermometerOptions{Noise: 0.5})
	seen := map[uint16]bool{}
	for i := range 20 {
		seen[readWord(d, time.Duration(i+1)*time.Second, 0)] = true
	}
	require.Greater(t, len(seen), 5)
}

// A word of 12 bits: the lowest four are zero whatever happens.
func TestThermometerSurvivesAnything(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		d := newThermometer(rapid.Float64Range(-300, 300).Draw(r, "celsius"), ThermometerOptions{Noise: 0.1})
		now := time.Duration(0)
		for _, w := range rapid.SliceOf(rapid.SliceOfN(rapid.Byte(), 0, 4)).Draw(r, "writes") {
			d.Write(now, w)
			now += 100 * time.Millisecond
			require.Zero(r, readWord(d, now, 0)&0x000f)
		}
	})
}
