package adc16x4

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// Configuration words computed from the fields of the configuration register
// (ADS1115 data sheet SBAS444D), comparator off, with the start bit.
func TestConfigurationWords(t *testing.T) {
	for _, c := range []struct {
		in   Input
		rng  Range
		rate Rate
		want uint16
	}{
		{AIN0, FS4096, SPS128, 0xC383},
		{AIN0, FS2048, SPS128, 0xC583},
		{AIN1, FS4096, SPS128, 0xD383},
		{AIN1, FS2048, SPS128, 0xD583},
		{AIN2, FS4096, SPS128, 0xE383},
		{AIN2, FS2048, SPS128, 0xE583},
		{AIN3, FS4096, SPS128, 0xF383},
		{AIN3, FS2048, SPS128, 0xF583},
		{AIN0, FS2048, SPS860, 0xC5E3},
		// The reset value (SBAS444D, configuration register).
		{AIN0Minus1, FS2048, SPS128, 0x8583},
	} {
		require.Equal(t, c.want, word(c.in, c.rng, c.rate)|bitSingle|compOff|bitOS, "%s %s %s", c.in, c.rng, c.rate)
	}
}

// Codes by round(V / FSR * 32768), clipped (SBAS444D, data format).
func TestCodes(t *testing.T) {
	for _, c := range []struct {
		volts     float64
		rng       Range
		code      int16
		hex       uint16
		saturated bool
	}{
		{0.4173, FS2048, 6677, 0x1A15, false},
		{0.918, FS2048, 14688, 0x3960, false},
		{1.683, FS2048, 26928, 0x6930, false},
		{0.2, FS2048, 3200, 0x0C80, false},
		{2.5, FS4096, 20000, 0x4E20, false},
		{5.0, FS6144, 26667, 0x682B, false},
		{-0.1, FS2048, -1600, 0xF9C0, false},
		{2.1, FS2048, 32767, 0x7FFF, true},
		{-2.1, FS2048, -32768, 0x8000, true},
	} {
		code, saturated := c.rng.Code(quantity.Volts(c.volts))
		require.Equal(t, c.code, code, "%g V", c.volts)
		require.Equal(t, c.hex, uint16(code), "%g V", c.volts)
		require.Equal(t, c.saturated, saturated, "%g V", c.volts)
		if !saturated {
			require.InDelta(t, c.volts, c.rng.Volts(code).SI, c.rng.LSB().SI/2)
		}
	}
	_, saturated := FS2048.Code(quantity.Volts(math.NaN()))
	require.True(t, saturated)
}

// Steps (TI ADS1115L data sheet SBASAV5, table 8-1).
func TestSteps(t *testing.T) {
	for rng, microvolts := range []float64{187.5, 125, 62.5, 31.25, 15.625, 7.8125} {
		require.InEpsilon(t, microvolts*1e-6, Range(rng).LSB().SI, 1e-12)
		require.Equal(t, quantity.Voltage, Range(rng).LSB().Dim)
		require.InEpsilon(t, microvolts*32768e-6, Range(rng).FullScale().SI, 1e-12)
	}
	require.True(t, math.IsNaN(Range(6).LSB().SI))
}

// Rates and their tolerance (SBASAV5, electrical characteristics).
func TestRates(t *testing.T) {
	for r, sps := range []int{8, 16, 32, 64, 128, 250, 475, 860} {
		require.Equal(t, sps, Rate(r).PerSecond())
		require.InEpsilon(t, 1/float64(sps), Rate(r).Period().Seconds(), 1e-5)
		require.InEpsilon(t, 1/(0.9*float64(sps)), Rate(r).Longest().Seconds(), 1e-5)
	}
	require.Equal(t, 125*time.Millisecond, SPS8.Period())
	require.Equal(t, 139*time.Millisecond, SPS8.Longest().Round(time.Millisecond))
	require.Zero(t, Rate(8).Period())
}

func TestNames(t *testing.T) {
	require.Equal(t, "AIN3", AIN3.String())
	require.Equal(t, "AIN0-AIN1", AIN0Minus1.String())
	require.Equal(t, "Input(8)", Input(8).String())
	require.Equal(t, "±2.048 V", FS2048.String())
	require.Equal(t, "Range(6)", Range(6).String())
	require.Equal(t, "860 SPS", SPS860.String())
	require.Equal(t, "Rate(8)", Rate(8).String())
}

func TestCodesAndVoltsRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rng := Range(rapid.IntRange(0, int(FS0256)).Draw(rt, "range"))
		code := rapid.Int16().Draw(rt, "code")
		back, saturated := rng.Code(rng.Volts(code))
		require.Equal(rt, code, back)
		require.Equal(rt, code == math.MaxInt16 || code == math.MinInt16, saturated)
	})
}

func TestVoltsAndCodesRoundTripWithinHalfAStep(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rng := Range(rapid.IntRange(0, int(FS0256)).Draw(rt, "range"))
		fs := rng.FullScale().SI
		v := rapid.Float64Range(-2*fs, 2*fs).Draw(rt, "volts")
		code, saturated := rng.Code(quantity.Volts(v))
		if saturated {
			require.Greater(rt, math.Abs(v), fs*32766/32768)
			require.Equal(rt, v > 0, code > 0)
			return
		}
		require.InDelta(rt, v, rng.Volts(code).SI, rng.LSB().SI*0.5000001)
	})
}

// The converter's own error (0.15 % and 3 steps at ±2.048 V) in the middle of
// the voltages that a 5.1 kΩ termination makes, worked out by hand from the
// same data sheet: 0.81, 1.60 and 2.72 mV.
func TestAccuracyOfATypicalReading(t *testing.T) {
	a, err := FS2048.Accuracy(AIN0)
	require.NoError(t, err)
	for volts, millivolts := range map[float64]float64{0.4173: 0.81, 0.9410: 1.60, 1.6887: 2.72} {
		require.InDelta(t, millivolts, (volts*a.Gain.SI+a.Offset.SI)*1e3, 0.005)
	}
	require.True(t, a.Offset.Typical, "against ground the sheet gives a typical figure only")
	require.Zero(t, a.RangeMatch.SI)
	require.Equal(t, quantity.Number-quantity.Temperature, a.GainDrift.Dim)
	require.InDelta(t, 40e-6, a.GainDrift.SI, 1e-12)
	require.InDelta(t, 62.5e-6, a.INL.SI, 1e-12)
}

func TestAccuracyOfOtherRangesIsNeverBetter(t *testing.T) {
	ref, err := FS2048.Accuracy(AIN0Minus1)
	require.NoError(t, err)
	require.False(t, ref.Offset.Typical, "on a pair the sheet guarantees 3 steps")
	for rng := FS6144; rng <= FS0256; rng++ {
		a, err := rng.Accuracy(AIN0Minus1)
		require.NoError(t, err)
		require.GreaterOrEqual(t, a.Offset.SI, ref.Offset.SI)
		require.GreaterOrEqual(t, a.RangeMatch.SI, ref.RangeMatch.SI)
		for _, l := range []chip.Limit{a.LSB, a.Gain, a.RangeMatch, a.InputMatch, a.GainDrift, a.Offset, a.OffsetDrift, a.INL} {
			require.NotEmpty(t, l.Source)
			require.GreaterOrEqual(t, l.SI, 0.0)
		}
	}
	_, err = Range(6).Accuracy(AIN0)
	require.ErrorIs(t, err, ErrSetting)
}

// Input impedances (SBASAV5, electrical characteristics), typical.
func TestLoading(t *testing.T) {
	for rng, want := range [][2]float64{{10e6, 22e6}, {6e6, 15e6}, {6e6, 4.9e6}, {3e6, 2.4e6}, {100e6, 710e3}, {100e6, 710e3}} {
		l, err := Range(rng).Loading()
		require.NoError(t, err)
		require.Equal(t, Loading{Common: quantity.Ohms(want[0]), Differential: quantity.Ohms(want[1])}, l)
	}
	_, err := Range(6).Loading()
	require.ErrorIs(t, err, ErrSetting)
}
