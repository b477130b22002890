package chips

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// newMonitor returns a perfect monitor on a shunt and a bus voltage.
func newMonitor(shunt, bus float64, o MonitorOptions) (*bench, *Monitor) {
	b := &bench{}
	o.Plus, o.Minus, o.Sense = steady(b, bus+shunt), steady(b, bus), steady(b, bus)
	o.Rand, o.Reach = dice(), b.reach
	m := NewMonitor(o, 0)
	b.device = m
	return b, m
}

// TI INA226 data sheet SBOS547, Table 7-1.
func TestMonitorAfterPowerUp(t *testing.T) {
	b, m := newMonitor(0, 0, MonitorOptions{})
	for register, want := range map[byte]uint16{
		0: 0x4127, 1: 0, 2: 0, 3: 0, 4: 0, 5: 0, 6: 0, 7: 0, 0xfe: 0x5449, 0xff: 0x2260, 0x20: 0xffff,
	} {
		require.Equal(t, want, b.get(register), "register %#02x", register)
	}
	require.False(t, m.Alert(0))
}

// The worked example of SBOS547, Table 1: 10 A in 2 mΩ at 12 V; and the
// computed rows of the facts, section 9.2. The sheet prints 119.82 W for a
// power register that is 119.80 W.
func TestMonitorWorkedExamples(t *testing.T) {
	for _, c := range []struct {
		shunt, bus                float64
		calibration               uint16
		wantShunt, wantBus        uint16
		wantCurrent, wantPower    uint16
		amperesPerBit, wattsOfBit float64
	}{
		{20e-3, 11.98, 2560, 0x1f40, 0x2570, 0x2710, 0x12b8, 1e-3, 25e-3},
		{50e-3, 5, 2048, 0x4e20, 0xfa0, 0x4e20, 4000, 25e-6, 625e-6},
		{10e-3, 5, 2048, 4000, 0xfa0, 4000, 800, 25e-6, 625e-6},
		{0.25e-3, 5, 2048, 100, 0xfa0, 100, 20, 25e-6, 625e-6},
		{60e-3, 4.9, 2048, 24000, 3920, 24000, 4704, 125e-6, 3125e-6},
	} {
		t.Run(fmt.Sprintf("%g V over the shunt", c.shunt), func(t *testing.T) {
			b, _ := newMonitor(c.shunt, c.bus, MonitorOptions{})
			require.Zero(t, b.get(monCurrent))
			b.put(monCalibration, byte(c.calibration>>8), byte(c.calibration))
			b.pass(5 * time.Millisecond)
			require.Equal(t, c.wantShunt, b.get(monShunt))
			require.Equal(t, c.wantBus, b.get(monBus))
			require.Equal(t, c.wantCurrent, b.get(monCurrent))
			require.Equal(t, c.wantPower, b.get(monPower))
		})
	}
}

// -80 mV / 2.5 µV = -32000 = 8300h (from memory of the data sheet; checked by
// arithmetic), and the ends of the scales.
func TestMonitorSigns(t *testing.T) {
	read := func(shunt, bus float64) (uint16, uint16) {
		b, _ := newMonitor(shunt, bus, MonitorOptions{})
		b.pass(5 * time.Millisecond)
		return b.get(monShunt), b.get(monBus)
	}
	shunt, _ := read(-80e-3, 5)
	require.Equal(t, uint16(0x8300), shunt)
	shunt, bus := read(0.2, 50)
	require.Equal(t, uint16(0x7fff), shunt)
	require.Equal(t, uint16(0x7fff), bus)
	_, bus = read(0, -1)
	require.Zero(t, bus)
}

// Conversion times and averages: SBOS547, electrical characteristics, and the
// Linux driver ina2xx. A cycle is as many pairs as are averaged.
func TestMonitorTakesItsTime(t *testing.T) {
	times := []float64{140e-6, 204e-6, 332e-6, 588e-6, 1100e-6, 2116e-6, 4156e-6, 8244e-6}
	averages := []float64{1, 4, 16, 64, 128, 256, 512, 1024}
	for i := range 8 {
		for mode, pair := range map[uint16]float64{1: times[i], 2: times[7-i], 3: times[i] + times[7-i]} {
			b, _ := newMonitor(1e-3, 5, MonitorOptions{Oscillator: 0.1})
			config := 0x4000 | uint16(i)<<9 | uint16(7-i)<<6 | uint16(i)<<3 | mode
			b.put(monConfig, byte(config>>8), byte(config))
			whole := seconds(averages[i] * pair * 1.1)
			b.pass(whole - 2*time.Microsecond)
			require.Zero(t, b.get(monMask)&monReady)
			b.pass(4 * time.Microsecond)
			require.NotZero(t, b.get(monMask)&monReady, "code %d, mode %d", i, mode)
			require.Zero(t, b.get(monMask)&monReady, "reading Mask/Enable clears the flag")
			b.pass(3 * whole)
			require.Zero(t, b.get(monMask)&monReady, "triggered once")
		}
	}
}

func seconds(s float64) time.Duration { return time.Duration(math.Ceil(s * 1e9)) }

// The mean of a ramp over the whole averaging window.
func TestMonitorAverages(t *testing.T) {
	b, m := newMonitor(0, 5, MonitorOptions{})
	m.o.Plus, m.o.Minus = ramp(b, 0.5), steady(b, 0)
	b.put(monConfig, 0x45, 0x27) // 16 pairs of 2.2 ms, continuous
	b.pass(35300 * time.Microsecond)
	require.InDelta(t, 0.5*0.0176, float64(int16(b.get(monShunt)))*2.5e-6, 5e-6)
	b.pass(35200 * time.Microsecond)
	require.InDelta(t, 0.5*0.0528, float64(int16(b.get(monShunt)))*2.5e-6, 5e-6)
}

func TestMonitorErrors(t *testing.T) {
	b, _ := newMonitor(40e-3, 10, MonitorOptions{Gain: 0.001, Offset: 10e-6, BusOffset: 7.5e-3})
	b.pass(5 * time.Millisecond)
	require.InDelta(t, 40.05e-3, float64(b.get(monShunt))*2.5e-6, 2.5e-6)
	require.InDelta(t, 10.0175, float64(b.get(monBus))*1.25e-3, 1.3e-3)
}

// Averaging lowers the noise with the square root of the number.
func TestMonitorNoise(t *testing.T) {
	rms := func(config uint16, whole time.Duration) float64 {
		b, _ := newMonitor(10e-3, 5, MonitorOptions{Noise: 100e-6})
		sum := 0.0
		for range 400 {
			b.put(monConfig, byte(config>>8), byte(config))
			b.pass(whole)
			d := float64(int16(b.get(monShunt)))*2.5e-6 - 10e-3
			sum += d * d
		}
		return math.Sqrt(sum / 400)
	}
	require.InEpsilon(t, 100e-6, rms(0x4001, time.Millisecond), 0.15)
	require.InEpsilon(t, 25e-6, rms(0x4401, 3*time.Millisecond), 0.15)
}

func TestMonitorAlerts(t *testing.T) {
	b, m := newMonitor(10e-3, 5, MonitorOptions{})
	v := 10e-3
	m.o.Plus, m.o.Minus = input{b, level{func(time.Duration) float64 { return v }}}, steady(b, 0)
	mask := func(bits uint16) { b.put(monMask, byte(bits>>8), byte(bits)) }
	limit := func(code uint16) { b.put(monLimit, byte(code>>8), byte(code)) }
	alert := func(shunt float64) bool {
		v = shunt
		b.pass(5 * time.Millisecond)
		return m.Alert(b.now)
	}
	limit(8000) // 20 mV
	mask(monShuntOver)
	require.False(t, alert(19e-3))
	require.True(t, alert(21e-3))
	require.NotZero(t, b.get(monMask)&monFlag)
	require.False(t, alert(19e-3), "transparent")
	mask(monShuntOver | monLatch)
	require.True(t, alert(21e-3))
	require.True(t, alert(0), "latched")
	require.NotZero(t, b.get(monMask)&monFlag)
	require.False(t, m.Alert(b.now), "reading Mask/Enable clears the latch")
	mask(monShuntUnder)
	require.True(t, alert(19e-3))
	limit(3000) // 3.75 V
	mask(monBusOver)
	require.True(t, alert(0))
	mask(monBusUnder)
	require.False(t, alert(0))
	mask(monBusOver | monActiveHigh)
	require.False(t, alert(0), "asserted is high")
	mask(monReadyAlert)
	require.True(t, alert(0))
	b.get(monMask)
	require.False(t, m.Alert(b.now))
	b.put(monCalibration, 0x7f, 0xff)
	limit(10)
	mask(monPowerOver)
	require.True(t, alert(30e-3))
	require.NotZero(t, b.get(monMask)&monOverflow, "the current register cannot hold it")
}

func TestMonitorResetAndPowerDown(t *testing.T) {
	b, _ := newMonitor(10e-3, 5, MonitorOptions{})
	b.put(monLimit, 1, 2)
	b.put(monConfig, 0x40, 0x00)
	b.pass(5 * time.Millisecond)
	require.Equal(t, uint16(0x4000), b.get(monConfig))
	require.Zero(t, b.get(monShunt))
	b.put(monConfig, 0x80, 0x00)
	require.Equal(t, uint16(0x4127), b.get(monConfig))
	require.Zero(t, b.get(monLimit))
	b.pass(5 * time.Millisecond)
	require.Equal(t, uint16(4000), b.get(monShunt))
}

// Whatever is written, a reset brings back a monitor that measures.
func TestMonitorSurvivesAnything(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		b, m := newMonitor(10e-3, 5, MonitorOptions{})
		for _, w := range rapid.SliceOfN(rapid.SliceOfN(rapid.Byte(), 0, 4), 0, 20).Draw(r, "writes") {
			b.put(w...)
			b.pass(time.Duration(rapid.IntRange(0, 9000).Draw(r, "pause")) * time.Microsecond)
			b.get(rapid.Byte().Draw(r, "register"))
			m.Alert(b.now)
		}
		b.put(monConfig, 0x80, 0)
		b.pass(3 * time.Millisecond)
		require.Equal(r, uint16(4000), b.get(monShunt))
		require.Equal(r, uint16(4000), b.get(monBus))
	})
}

// Where the alert compares, every cycle counts, read or not; elsewhere only the
// last.
func TestMonitorLatchesWhatNobodyRead(t *testing.T) {
	for mask, want := range map[uint16]bool{monShuntOver | monLatch: true, 0: false} {
		b, m := newMonitor(0, 5, MonitorOptions{})
		m.o.Plus, m.o.Minus = input{b, level{func(at time.Duration) float64 {
			if at < 50*time.Millisecond {
				return 30e-3
			}
			return 0
		}}}, steady(b, 0)
		b.put(monLimit, 8000>>8, 8000&0xff) // 20 mV
		b.put(monMask, byte(mask>>8), byte(mask))
		b.pass(time.Second)
		require.Equal(t, want, m.Alert(b.now))
		require.Zero(t, b.get(monShunt))
	}
}
