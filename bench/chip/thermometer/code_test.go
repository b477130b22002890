package thermometer

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// Codes printed in the data sheets: 9 bits in TI LM75B SNIS153B, p. 9; 12 bits
// in TI TMP75 SBOS288M, table 7-1.
func TestCodes(t *testing.T) {
	for _, c := range []struct {
		bits    int
		celsius float64
		code    uint16
	}{
		{9, 125, 0x0FA}, {9, 25, 0x032}, {9, 0.5, 0x001}, {9, 0, 0x000},
		{9, -0.5, 0x1FF}, {9, -25, 0x1CE}, {9, -55, 0x192},
		{12, 127.9375, 0x7FF}, {12, 100, 0x640}, {12, 80, 0x500}, {12, 75, 0x4B0},
		{12, 50, 0x320}, {12, 25, 0x190}, {12, 0.25, 0x004}, {12, 0, 0x000},
		{12, -0.25, 0xFFC}, {12, -25, 0xE70}, {12, -55, 0xC90},
	} {
		code, err := decode(c.code<<(16-c.bits), c.bits)
		require.NoError(t, err)
		require.Equal(t, c.code, uint16(code)&(1<<c.bits-1), "%d bits, %g °C", c.bits, c.celsius)
		require.InDelta(t, c.celsius, temperature(code, c.bits).SI-273.15, 1e-9, "%d bits, code %03Xh", c.bits, c.code)
		require.Equal(t, quantity.Temperature, temperature(code, c.bits).Dim)
	}
}

// Whole registers printed in TI TMP1075 SBOS854F, table 7-1.
func TestRegistersOfTwelveBits(t *testing.T) {
	for word, celsius := range map[uint16]float64{
		0x6400: 100, 0x5000: 80, 0x4B00: 75, 0x1900: 25, 0x0010: 0.0625,
		0xFFF0: -0.0625, 0xE700: -25, 0x8000: -128,
	} {
		code, err := decode(word, 12)
		require.NoError(t, err)
		require.InDelta(t, celsius, temperature(code, 12).SI-273.15, 1e-9, "%04Xh", word)
	}
}

// Steps: 0.5 K (SNIS153B, p. 9), 0.125 K (NXP LM75A), 0.0625 K (SBOS288M).
func TestSteps(t *testing.T) {
	require.Equal(t, 0.5, step(9))
	require.Equal(t, 0.125, step(11))
	require.Equal(t, 0.0625, step(12))
}

func TestUnspecifiedBitsAreNotLookedAt(t *testing.T) {
	code, err := decode(0x197F, 9)
	require.NoError(t, err)
	require.Equal(t, int16(0x32), code)
	_, err = decode(0xFFFF, 12)
	require.ErrorIs(t, err, chip.ErrLost, "a bus that nobody drives")
}

func TestCodesRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		bits := rapid.SampledFrom([]int{9, 11, 12}).Draw(rt, "bits")
		word := rapid.Uint16().Draw(rt, "word") &^ (1<<(16-bits) - 1)
		code, err := decode(word, bits)
		require.NoError(rt, err)
		back := math.Round((temperature(code, bits).SI - 273.15) * 256)
		require.Equal(rt, int16(word), int16(back), "the register counts 1/256 K")
	})
}

// Reset values 5000h and 4B00h (SBOS854F, limit registers).
func TestLimitWords(t *testing.T) {
	for celsius, want := range map[float64]uint16{80: 0x5000, 75: 0x4B00, 45.7: 0x2D80, -0.1: 0xFF80, -55: 0xC900, 125: 0x7D00} {
		got, err := limitWord(quantity.Celsius(celsius))
		require.NoError(t, err)
		require.Equal(t, want, got, "%g °C", celsius)
	}
	for _, q := range []quantity.Quantity{quantity.Celsius(125.1), quantity.Celsius(-55.1), quantity.Celsius(math.NaN()), quantity.Volts(300)} {
		_, err := limitWord(q)
		require.ErrorIs(t, err, ErrSetting)
	}
}

// LM75 data sheet, key specifications.
func TestAccuracy(t *testing.T) {
	d, _ := open(t, 9)
	for celsius, kelvin := range map[float64]float64{-55: 3, -25.1: 3, -25: 2, 25: 2, 100: 2, 100.1: 3, 125: 3} {
		a, err := d.Accuracy(quantity.Celsius(celsius))
		require.NoError(t, err)
		require.Equal(t, quantity.Quantity{SI: kelvin, Dim: quantity.Temperature}, a.Error.Quantity, "%g °C", celsius)
		require.Equal(t, 0.5, a.LSB.SI)
		require.Contains(t, a.Error.Source, "LM75")
	}
	for _, q := range []quantity.Quantity{quantity.Celsius(-56), quantity.Celsius(126), quantity.Volts(300)} {
		_, err := d.Accuracy(q)
		require.ErrorIs(t, err, ErrSetting)
	}
}
