package powermon

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
)

// Calibration words: the last row is the data sheet's example (TI INA226 data
// sheet SBOS547, table 1, p. 16), the others follow from its formula (p. 15).
func TestCalibration(t *testing.T) {
	for _, c := range []struct {
		lsb, ohms float64
		want      uint16
	}{
		{25e-6, 0.1, 0x0800},
		{125e-6, 0.02, 0x0800},
		{2.5e-6, 1, 0x0800},
		{1e-3, 0.002, 0x0A00},
	} {
		got, err := Calibration(quantity.Amperes(c.lsb), quantity.Ohms(c.ohms))
		require.NoError(t, err)
		require.Equal(t, c.want, got, "%g A on %g ohm", c.lsb, c.ohms)
	}
}

func TestCalibrationRefusesWhatDoesNotFit(t *testing.T) {
	amperes, ohms := quantity.Amperes, quantity.Ohms
	for name, c := range map[string]struct{ lsb, shunt quantity.Quantity }{
		"word above 15 bits": {amperes(1e-6), ohms(0.1)},
		"word below 1":       {amperes(1), ohms(1)},
		"no shunt":           {amperes(1e-3), ohms(0)},
		"negative shunt":     {amperes(1e-3), ohms(-0.1)},
		"negative step":      {amperes(-1e-3), ohms(0.1)},
		"no number":          {amperes(math.NaN()), ohms(0.1)},
		"endless shunt":      {amperes(1e-3), ohms(math.Inf(1))},
		"step is no current": {quantity.Volts(1e-3), ohms(0.1)},
		"shunt is no ohms":   {amperes(1e-3), quantity.Volts(0.1)},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Calibration(c.lsb, c.shunt)
			require.ErrorIs(t, err, ErrSetting)
		})
	}
}

// Truncation makes the real step larger than the one asked for, by less than a
// part in the calibration word; a word that is whole is not lost to binary
// arithmetic.
func TestCalibrationTruncates(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		word := rapid.IntRange(1, 32767).Draw(rt, "word")
		ohms := rapid.Float64Range(1e-3, 10).Draw(rt, "ohms")
		whole := 0.00512 / (float64(word) * ohms)
		got, err := Calibration(quantity.Amperes(whole), quantity.Ohms(ohms))
		require.NoError(rt, err)
		require.Equal(rt, uint16(word), got)
		if word < 32767 {
			between := 0.00512 / ((float64(word) + 0.999) * ohms)
			got, err = Calibration(quantity.Amperes(between), quantity.Ohms(ohms))
			require.NoError(rt, err)
			require.Equal(rt, uint16(word), got)
		}
	})
}

// 4127h is the reset value: no average, 1.1 ms, continuous (SBOS547, table 7-1).
func TestConfigurationWord(t *testing.T) {
	require.Equal(t, uint16(0x4127), config(Average1, Time1100us, Time1100us, bothContinuous))
	require.Equal(t, uint16(0x4523), config(Average16, Time1100us, Time1100us, bothTriggered))
	require.Equal(t, uint16(0x4FC0), config(Average1024, Time8244us, Time140us, powerDown))
}

// Averages (Linux drivers/hwmon/ina2xx.c) and conversion times (SBOS547,
// electrical characteristics).
func TestAveragesAndTimes(t *testing.T) {
	for a, n := range []int{1, 4, 16, 64, 128, 256, 512, 1024} {
		require.Equal(t, n, Average(a).Count())
	}
	typical := []int{140, 204, 332, 588, 1100, 2116, 4156, 8244}
	longest := []int{154, 224, 365, 646, 1210, 2328, 4572, 9068}
	for c := range typical {
		require.Equal(t, time.Duration(typical[c])*time.Microsecond, ConversionTime(c).Period())
		require.Equal(t, time.Duration(longest[c])*time.Microsecond, ConversionTime(c).Longest())
	}
	require.Zero(t, Average(8).Count())
	require.Zero(t, ConversionTime(8).Period())
	require.Zero(t, ConversionTime(8).Longest())
	require.Equal(t, "average of 16", Average16.String())
	require.Equal(t, "Average(8)", Average(8).String())
	require.Equal(t, "140µs", Time140us.String())
	require.Equal(t, "ConversionTime(8)", ConversionTime(8).String())
}

// At 2.5 mA on 0.1 ohm the offset alone is 4 % (10 µV is 100 µA; SBOS547,
// electrical characteristics), which is why a bench has a second range.
func TestAccuracyOfASmallCurrent(t *testing.T) {
	d, _ := open(t)
	a := d.Accuracy()
	require.InDelta(t, 0.04, a.CurrentOffset.SI/2.5e-3, 1e-9)
	require.Equal(t, quantity.Current, a.CurrentOffset.Dim)
	require.InDelta(t, 25e-6, a.CurrentLSB.SI, 1e-15)
	require.Equal(t, d.CurrentLSB(), a.CurrentLSB.Quantity)
	require.InDelta(t, 2.5e-6, a.ShuntLSB.SI, 1e-15)
	require.InDelta(t, 1.25e-3, a.BusLSB.SI, 1e-15)
	require.InDelta(t, 7.5e-3, a.BusOffset.SI, 1e-15)
	require.InDelta(t, 0.001, a.Gain.SI, 1e-15)
	require.Equal(t, quantity.Voltage-quantity.Temperature, a.BusOffsetDrift.Dim)
	require.Contains(t, a.ShuntOffset.Source, "SBOS547")
	// 5 V on 830 kΩ is 6 µA.
	require.InDelta(t, 6e-6, 5/d.Loading().Bus.SI, 0.05e-6)
	require.Equal(t, quantity.Amperes(10e-6), d.Loading().Bias)
}
