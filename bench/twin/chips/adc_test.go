package chips

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// newADC returns a perfect converter with inputs at constant voltages.
func newADC(o ADCOptions, volts ...float64) (*bench, *ADC) {
	b := &bench{}
	for i, v := range volts {
		o.Inputs[i] = steady(b, v)
	}
	if o.Supply == 0 {
		o.Supply = 5
	}
	o.Rand, o.Reach = dice(), b.reach
	c := NewADC(o)
	b.device = c
	return b, c
}

// start writes Config with the single-shot start bit.
func start(b *bench, config uint16) { b.put(adcConfig, byte(config>>8), byte(config)) }

// TI ADS1115 data sheet SBAS444D, Config register: reset value 8583h; the
// threshold resets are from memory of the same sheet.
func TestADCAfterPowerUp(t *testing.T) {
	b, _ := newADC(ADCOptions{})
	require.Equal(t, uint16(0x8583), b.get(adcConfig))
	require.Equal(t, uint16(0x8000), b.get(adcLow))
	require.Equal(t, uint16(0x7fff), b.get(adcHigh))
	require.Zero(t, b.get(adcConversion))
}

// Codes computed from LSB = FSR/32768 (USB-C facts, section 9.1); LSB sizes
// from TI ADS1115L data sheet SBASAV5, Table 8-1.
func TestADCCodes(t *testing.T) {
	for _, c := range []struct {
		volts float64
		pga   uint16
		code  uint16
	}{
		{0.4173, 2, 0x1a15}, {0.918, 2, 0x3960}, {1.683, 2, 0x6930}, {0.2, 2, 0x0c80},
		{2.5, 1, 0x4e20}, {5.0, 0, 0x682b}, {-0.1, 2, 0xf9c0}, {2.1, 2, 0x7fff},
		{0.2, 5, 0x6400}, {0.2, 6, 0x6400}, {0.2, 7, 0x6400}, {0.5, 4, 0x7d00}, {1.0, 3, 0x7d00},
	} {
		t.Run(fmt.Sprintf("%g V, PGA %d", c.volts, c.pga), func(t *testing.T) {
			b, _ := newADC(ADCOptions{}, c.volts)
			start(b, 0xc183|c.pga<<adcGainShift)
			b.pass(10 * time.Millisecond)
			require.Equal(t, c.code, b.get(adcConversion))
		})
	}
}

// Rates from SBASAV5, electrical characteristics, where it is the rate that varies by
// ±10 %; before that the ready bit reads 0.
func TestADCTakesItsTime(t *testing.T) {
	for i, rate := range []float64{8, 16, 32, 64, 128, 250, 475, 860} {
		for _, clock := range []float64{-0.1, 0, 0.1} {
			b, _ := newADC(ADCOptions{Oscillator: clock}, 1)
			start(b, 0xc303|uint16(i)<<adcRateShift)
			whole := time.Duration(float64(time.Second)/(rate*(1+clock))) + adcWake
			b.pass(whole - time.Microsecond)
			require.Zero(t, b.get(adcConfig)&adcStart, "%g per second, busy", rate)
			start(b, 0xc303|uint16(i)<<adcRateShift) // a second start changes nothing
			b.pass(2 * time.Microsecond)
			require.NotZero(t, b.get(adcConfig)&adcStart, "%g per second, ready", rate)
		}
	}
}

func TestADCSelectsInputs(t *testing.T) {
	for code, want := range []float64{0.5 - 1.0, 0.5 - 1.6, 1.0 - 1.6, 1.3 - 1.6, 0.5, 1.0, 1.3, 1.6} {
		b, _ := newADC(ADCOptions{}, 0.5, 1.0, 1.3, 1.6)
		start(b, 0x8583|uint16(code)<<adcMuxShift)
		b.pass(10 * time.Millisecond)
		require.InDelta(t, want, float64(int16(b.get(adcConversion)))*62.5e-6, 40e-6, "mux %d", code)
	}
}

// A conversion of a ramp shows its mean over the conversion, whatever its
// length: a delta-sigma converter integrates.
func TestADCAveragesARamp(t *testing.T) {
	for i := range uint16(8) {
		b, c := newADC(ADCOptions{})
		c.o.Inputs[0] = ramp(b, 10)
		b.pass(20 * time.Millisecond)
		start(b, 0xc303|i<<adcRateShift)
		b.pass(200 * time.Millisecond)
		middle := 0.020 + adcWake.Seconds() + 0.5/adcRate(i<<adcRateShift)
		require.InDelta(t, 10*middle, float64(int16(b.get(adcConversion)))*125e-6, 2e-4, "rate %d", i)
	}
}

func TestADCSaturates(t *testing.T) {
	b, _ := newADC(ADCOptions{Supply: 3.3}, 4.5)
	start(b, 0xc183) // ±6.144 V, but the chip runs on 3.3 V
	b.pass(10 * time.Millisecond)
	require.InDelta(t, 3.3, float64(b.get(adcConversion))*187.5e-6, 1e-3)
	b, _ = newADC(ADCOptions{}, -5)
	start(b, 0xc583)
	b.pass(10 * time.Millisecond)
	require.InDelta(t, -0.3, float64(int16(b.get(adcConversion)))*62.5e-6, 1e-4)
}

func TestADCErrors(t *testing.T) {
	read := func(o ADCOptions, scale float64) float64 {
		b, c := newADC(o, 2)
		c.Scale(0, scale)
		start(b, 0xc383) // ±4.096 V
		b.pass(10 * time.Millisecond)
		return float64(int16(b.get(adcConversion))) * 125e-6
	}
	require.InDelta(t, 2.003, read(ADCOptions{Gain: 0.0015}, 1), 125e-6)
	require.InDelta(t, 2.001, read(ADCOptions{Offset: 0.001}, 1), 125e-6)
	require.InDelta(t, 2.02, read(ADCOptions{}, 1.01), 125e-6)
	require.InDelta(t, 2+0.5*62.5e-6*math.Sin(math.Pi*2/4.096), read(ADCOptions{Bow: 0.5}, 1), 125e-6)
}

// The noise of one conversion is the one stated: 1000 conversions have its rms
// value within 15 %.
func TestADCNoise(t *testing.T) {
	b, _ := newADC(ADCOptions{Noise: 500e-6}, 1)
	sum := 0.0
	for range 1000 {
		start(b, 0xc3e3)
		b.pass(2 * time.Millisecond)
		d := float64(int16(b.get(adcConversion)))*125e-6 - 1
		sum += d * d
	}
	require.InEpsilon(t, 500e-6, math.Sqrt(sum/1000), 0.15)
}

// Hum of 50 Hz shows in a fast conversion and is gone in one that spans whole
// periods: at 8 per second a conversion lasts 6.25 of them, at 16 about three.
func TestADCHum(t *testing.T) {
	swing := func(config uint16, pause time.Duration) float64 {
		b, c := newADC(ADCOptions{}, 1)
		c.Hum(0, 0.1, 50)
		low, high := math.Inf(1), math.Inf(-1)
		for range 60 {
			start(b, config)
			b.pass(pause)
			v := float64(int16(b.get(adcConversion))) * 125e-6
			low, high = min(low, v), max(high, v)
		}
		return high - low
	}
	require.InDelta(t, 0.2, swing(0xc3e3, 3*time.Millisecond), 0.01)
	require.Less(t, swing(0xc323, 67*time.Millisecond), 0.03)
}

func TestADCContinuous(t *testing.T) {
	b, c := newADC(ADCOptions{})
	c.o.Inputs[0] = ramp(b, 1)
	start(b, 0x4283) // AIN0, ±4.096 V, continuous, 128 per second
	last := -1.0
	for range 20 {
		b.pass(7812500 * time.Nanosecond)
		v := float64(int16(b.get(adcConversion))) * 125e-6
		require.Greater(t, v, last)
		require.InDelta(t, b.now.Seconds(), v, 0.0079*1.6)
		last = v
	}
	// The next conversion after a change of the rate takes the new one; a
	// change to single-shot ends with the conversion that runs.
	start(b, 0x42e3)
	b.pass(12 * time.Millisecond)
	require.InDelta(t, b.now.Seconds(), float64(int16(b.get(adcConversion)))*125e-6, 0.002)
	start(b, 0x43e3)
	b.pass(5 * time.Millisecond)
	still := b.get(adcConversion)
	b.pass(50 * time.Millisecond)
	require.Equal(t, still, b.get(adcConversion))
	require.NotZero(t, b.get(adcConfig)&adcStart)
}

// Hi_thresh negative and Lo_thresh positive make the pin say when a conversion
// is ready (SBAS444D, section 9.3.8).
func TestADCReadyPin(t *testing.T) {
	b, c := newADC(ADCOptions{}, 1)
	b.put(adcHigh, 0x80, 0)
	b.put(adcLow, 0, 0)
	require.False(t, c.Alert(b.now))
	start(b, 0xc3e0)
	b.pass(time.Millisecond)
	require.False(t, c.Alert(b.now))
	b.pass(time.Millisecond)
	require.True(t, c.Alert(b.now))
	start(b, 0x42e0) // continuous: a short pulse after each
	b.pass(1162791*time.Nanosecond + time.Microsecond)
	require.True(t, c.Alert(b.now))
	b.pass(20 * time.Microsecond)
	require.False(t, c.Alert(b.now))
}

func TestADCComparator(t *testing.T) {
	b, c := newADC(ADCOptions{})
	v := 1.0
	c.o.Inputs[0] = input{b, level{func(time.Duration) float64 { return v }}}
	b.put(adcHigh, 0x20, 0) // 8192 steps of 125 µV: 1.024 V
	b.put(adcLow, 0x10, 0)  // 0.512 V
	convert := func(config uint16) bool {
		start(b, config)
		b.pass(2 * time.Millisecond)
		return c.Alert(b.now)
	}
	require.False(t, convert(0xc3e1))
	v = 1.5
	require.False(t, convert(0xc3e1), "the queue asks for two")
	require.True(t, convert(0xc3e1))
	v = 0.7
	require.True(t, convert(0xc3e1), "hysteresis: until below the low threshold")
	v = 0.3
	require.False(t, convert(0xc3e1))
	require.True(t, convert(0xc3f0), "window: below the low threshold")
	v = 1.5
	require.True(t, convert(0xc3e4))
	v = 0.3
	require.True(t, convert(0xc3e4), "latched")
	b.get(adcConversion)
	require.False(t, c.Alert(b.now), "reading the conversion clears the latch")
	require.True(t, convert(0xc3e8), "active high, not asserted: the pin is low")
}

// Whatever is written, the chip neither panics nor loses its timer: a start in
// single-shot mode ends within the longest conversion.
func TestADCSurvivesAnything(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		b, _ := newADC(ADCOptions{Oscillator: rapid.Float64Range(-0.1, 0.1).Draw(r, "clock")}, 1, 2, 3, 4)
		for _, w := range rapid.SliceOfN(rapid.SliceOfN(rapid.Byte(), 0, 4), 0, 30).Draw(r, "writes") {
			b.put(w...)
			b.pass(time.Duration(rapid.IntRange(0, 3000).Draw(r, "pause")) * time.Microsecond)
		}
		start(b, 0x83e3) // a stop of whatever runs
		b.pass(140 * time.Millisecond)
		start(b, 0xc3e3)
		b.pass(2 * time.Millisecond)
		require.NotZero(r, b.get(adcConfig)&adcStart)
		require.InDelta(r, 1, float64(int16(b.get(adcConversion)))*125e-6, 1e-3)
	})
}

// A converter that nobody has read for long shows its last whole conversion,
// and asks for the circuit once per look.
func TestADCReadAfterALongTime(t *testing.T) {
	b, c := newADC(ADCOptions{})
	c.o.Inputs[0] = ramp(b, 0.1)
	start(b, 0x42e3) // continuous, 860 per second
	b.pass(20 * time.Second)
	v := float64(int16(b.get(adcConversion))) * 125e-6
	require.InDelta(t, 2-0.1*1.5/860, v, 0.1*0.5/860+125e-6)
	require.Equal(t, 1, b.reached)
	b.get(adcConversion)
	require.Equal(t, 1, b.reached, "nothing has ended since")
}

// Conversions in which the circuit changes are put together of their parts.
func TestADCFollowsTheCircuit(t *testing.T) {
	b, c := newADC(ADCOptions{})
	v := 1.0
	c.o.Inputs[0] = input{b, level{func(time.Duration) float64 { return v }}}
	start(b, 0xc303) // single, 8 per second: 125 ms from 25 µs on
	b.pass(50*time.Millisecond + adcWake)
	c.Follow(b.now)
	v = 2
	b.pass(100 * time.Millisecond)
	require.InDelta(t, (1*50+2*75)/125.0, float64(int16(b.get(adcConversion)))*125e-6, 125e-6)
}
