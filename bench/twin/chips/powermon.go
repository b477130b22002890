package chips

import (
	"math"
	"math/rand/v2"
	"time"
)

// The registers of the power monitor (TI INA226 data sheet SBOS547, table
// 7-1).
const (
	monConfig = iota
	monShunt
	monBus
	monPower
	monCurrent
	monCalibration
	monMask
	monLimit
	monManufacturer = 0xfe
	monDie          = 0xff
)

// Power-on and identity values (SBOS547, table 7-1), and the Config bits that
// always read 100 (from memory).
const (
	monConfigReset  = 0x4127
	monConfigFixed  = 0x4000
	monConfigReset1 = 1 << 15 // RST
	monMaker        = 0x5449
	monDieID        = 0x2260
)

// The bits of Mask/Enable (from memory of SBOS547, section "Mask/Enable
// Register").
const (
	monShuntOver  = 1 << 15
	monShuntUnder = 1 << 14
	monBusOver    = 1 << 13
	monBusUnder   = 1 << 12
	monPowerOver  = 1 << 11
	monReadyAlert = 1 << 10
	monFlag       = 1 << 4
	monReady      = 1 << 3
	monOverflow   = 1 << 2
	monActiveHigh = 1 << 1
	monLatch      = 1 << 0
	monCompares   = monShuntOver | monShuntUnder | monBusOver | monBusUnder | monPowerOver
	monWritable   = 0xfc00 | monActiveHigh | monLatch
)

// Steps of the two results in volts (SBOS547, electrical characteristics).
const (
	monShuntStep = 2.5e-6
	monBusStep   = 1.25e-3
)

// MonitorOptions are one piece of a power monitor.
type MonitorOptions struct {
	// Plus and Minus are the nodes at the shunt pins, Sense the node at the
	// bus pin; nil reads 0 V.
	Plus, Minus, Sense Probe
	// Gain and Oscillator are relative. Offset and Noise belong to the shunt
	// input and are in volts; BusOffset belongs to the bus input.
	Gain, Offset, Noise, BusOffset, Oscillator float64
	Rand                                       *rand.Rand
	Reach                                      Reach
}

// Monitor is a bidirectional monitor of shunt and bus voltage with an alert
// pin.
type Monitor struct {
	o           MonitorOptions
	pointer     byte
	config      uint16
	mask        uint16 // the writable bits
	limit       uint16
	calibration uint16
	shunt, bus  int16
	current     int16
	power       uint16

	flag, ready, overflow bool

	scale float64 // what a drifted shunt adds, relative

	running   bool
	end, span time.Duration
	noise     float64 // volts rms of a shunt result, as it is averaged
	// atShunt and atBus follow the two inputs.
	atShunt, atBus tally
}

// tally follows what one input shows. The result of a finished cycle is worked out
// when somebody asks for it, or before the circuit changes: most results nobody reads.
type tally struct {
	sum  float64       // volts times nanoseconds of the cycle that runs
	seen time.Duration // up to where it goes
	done outcome
}

// outcome is a finished cycle that has not been worked out where open is set.
type outcome struct {
	sum             float64
	seen, end, span time.Duration
	open            bool
}

// NewMonitor returns a monitor as it is after power-up at an instant: it
// converts shunt and bus all the time.
func NewMonitor(o MonitorOptions, now time.Duration) *Monitor {
	m := &Monitor{o: o, config: monConfigReset}
	m.restart(now)
	return m
}

// Scale multiplies what the monitor sees across its shunt: a gain error, or a
// shunt that drifted. 1 is none.
func (m *Monitor) Scale(factor float64) { m.scale = factor - 1 }

// Write takes the pointer and, when they follow, two bytes for a register.
func (m *Monitor) Write(now time.Duration, w []byte) {
	if len(w) == 0 {
		return
	}
	m.pointer = w[0]
	if len(w) < 3 {
		return
	}
	m.settle(now)
	v := uint16(w[1])<<8 | uint16(w[2])
	switch m.pointer {
	case monConfig:
		m.configure(now, v)
	case monCalibration:
		m.workOut()
		m.calibration = v & 0x7fff
	case monMask:
		m.mask = v & monWritable
		m.flag = false
	case monLimit:
		m.limit = v
	}
}

// configure takes a Config word; conversions start again.
func (m *Monitor) configure(now time.Duration, v uint16) {
	if v&monConfigReset1 != 0 {
		*m = Monitor{o: m.o, scale: m.scale, pointer: m.pointer, config: monConfigReset}
		m.restart(now)
		return
	}
	m.workOut()
	m.config = v&0x0fff | monConfigFixed
	m.ready = false
	m.restart(now)
}

// restart begins the first cycle with new settings.
func (m *Monitor) restart(now time.Duration) {
	m.span = m.cycle()
	m.noise = m.o.Noise / math.Sqrt(monAverage(m.config))
	m.start(now)
}

// start begins a cycle: as many pairs of conversions as are averaged.
func (m *Monitor) start(now time.Duration) {
	m.running = m.config&3 != 0
	m.end = now + m.span
	m.atShunt.seen, m.atShunt.sum = now, 0
	m.atBus.seen, m.atBus.sum = now, 0
}

// cycle returns the length of a whole cycle.
func (m *Monitor) cycle() time.Duration {
	d := 0.0
	if m.config&1 != 0 {
		d += monTime(m.config >> 3)
	}
	if m.config&2 != 0 {
		d += monTime(m.config >> 6)
	}
	d *= monAverage(m.config) * (1 + m.o.Oscillator)
	return time.Duration(d * float64(time.Second))
}

// settle brings the chip up to date where a cycle has ended since.
func (m *Monitor) settle(now time.Duration) {
	if m.running && now >= m.end {
		m.catchUp(now)
	}
}

// catchUp brings the circuit up to an instant, and ends the cycles that are over.
func (m *Monitor) catchUp(now time.Duration) {
	m.o.Reach.to(now)
	m.complete(now)
}

// Follow also integrates what the cycle that runs has seen so far.
func (m *Monitor) Follow(now time.Duration) {
	m.complete(now)
	if m.atShunt.done.open {
		m.finishShunt()
	}
	if m.atBus.done.open {
		m.finishBus()
	}
	if !m.running {
		return
	}
	if in := &m.atShunt; now > in.seen {
		in.sum += m.shuntOver(in.seen, now)
		in.seen = now
	}
	if in := &m.atBus; now > in.seen {
		in.sum += m.busOver(in.seen, now)
		in.seen = now
	}
}

// complete ends the cycles that are over. Of those that neither anybody nor the
// alert has looked at only the last matters.
func (m *Monitor) complete(now time.Duration) {
	for m.running && now >= m.end {
		if late := now - m.end; late >= m.span && m.config&4 != 0 && m.mask&monCompares == 0 {
			m.start(m.end + (late/m.span-1)*m.span)
		}
		m.finish()
	}
}

// shuntOver is what the shunt shows between two instants, times nanoseconds.
func (m *Monitor) shuntOver(from, to time.Duration) float64 {
	return (mean(m.o.Plus, from, to) - mean(m.o.Minus, from, to)) * float64(to-from)
}

// busOver is the same of the bus.
func (m *Monitor) busOver(from, to time.Duration) float64 {
	return mean(m.o.Sense, from, to) * float64(to-from)
}

// finish ends a cycle and, when it runs continuously, begins the next.
func (m *Monitor) finish() {
	if m.config&1 != 0 {
		m.atShunt.done = outcome{m.atShunt.sum, m.atShunt.seen, m.end, m.span, true}
	}
	if m.config&2 != 0 {
		m.atBus.done = outcome{m.atBus.sum, m.atBus.seen, m.end, m.span, true}
	}
	m.ready = true
	m.alert()
	if m.config&4 != 0 {
		m.start(m.end)
		return
	}
	m.running = false
}

// finishShunt integrates the rest of a finished cycle. It returns the mean, as this
// piece sees it.
func (m *Monitor) finishShunt() float64 {
	d := &m.atShunt.done
	if d.open && d.end > d.seen {
		d.sum += m.shuntOver(d.seen, d.end)
		d.seen = d.end
	}
	return d.sum/float64(d.span)*(1+m.o.Gain)*(1+m.scale) + m.o.Offset
}

// finishBus is the same of the bus.
func (m *Monitor) finishBus() float64 {
	d := &m.atBus.done
	if d.open && d.end > d.seen {
		d.sum += m.busOver(d.seen, d.end)
		d.seen = d.end
	}
	return d.sum/float64(d.span)*(1+m.o.Gain) + m.o.BusOffset
}

// workOut fills the result registers. Current = Shunt*CAL/2048, Power =
// Current*Bus/20000 (SBOS547, pp. 15-16).
func (m *Monitor) workOut() {
	if !m.atShunt.done.open && !m.atBus.done.open {
		return
	}
	if m.atShunt.done.open {
		v := m.finishShunt() + m.noise*m.o.Rand.NormFloat64()
		m.shunt = clip(v/monShuntStep, math.MinInt16)
	}
	if m.atBus.done.open {
		m.bus = clip(m.finishBus()/monBusStep, 0)
	}
	m.atShunt.done.open, m.atBus.done.open = false, false
	current := int64(m.shunt) * int64(m.calibration) / 2048
	m.overflow = current > math.MaxInt16 || current < math.MinInt16
	m.current = int16(max(math.MinInt16, min(math.MaxInt16, current)))
	power := max(int64(m.current), -int64(m.current)) * int64(m.bus) / 20000
	m.power = uint16(min(power, math.MaxUint16))
}

// clip rounds to a code of 16 bits not below low.
func clip(code, low float64) int16 {
	return int16(max(low, min(math.MaxInt16, math.Round(code))))
}

// sure is how many standard deviations of its noise a result may be believed to keep
// from a limit without being worked out: one in some hundred million comes closer.
const sure = 6

// alert compares the newest results with the limit. Of several functions that
// are enabled the one with the highest bit counts (SBOS547, section "Alert
// Pin", from memory).
func (m *Monitor) alert() {
	beyond := false
	limit := int16(m.limit)
	switch {
	case m.mask&monCompares == 0:
	case m.mask&monShuntOver != 0 && m.config&1 != 0 && m.finishShunt()+sure*m.noise < (float64(limit)-1)*monShuntStep:
	default:
		beyond = m.beyond(limit)
	}
	if beyond {
		m.flag = true
	} else if m.mask&monLatch == 0 {
		m.flag = false
	}
}

// beyond compares what is in the registers.
func (m *Monitor) beyond(limit int16) bool {
	switch {
	case m.mask&monShuntOver != 0:
		m.workOut()
		return m.shunt > limit
	case m.mask&monShuntUnder != 0:
		m.workOut()
		return m.shunt < limit
	case m.mask&monBusOver != 0:
		return m.busCode() > limit
	case m.mask&monBusUnder != 0:
		return m.busCode() < limit
	}
	m.workOut()
	return m.power > m.limit
}

// busCode is the newest code of the bus, without the shunt that was converted with it.
func (m *Monitor) busCode() int16 {
	if !m.atBus.done.open {
		return m.bus
	}
	return clip(m.finishBus()/monBusStep, 0)
}

// Alert tells whether the alert pin is low.
func (m *Monitor) Alert(now time.Duration) bool {
	m.settle(now)
	asserted := m.flag || m.mask&monReadyAlert != 0 && m.ready
	return asserted != (m.mask&monActiveHigh != 0)
}

// Turn returns the end of the present cycle.
func (m *Monitor) Turn(time.Duration) time.Duration {
	if m.running {
		return m.end
	}
	return Never
}

// Read puts the register under the pointer on the bus. Reading Mask/Enable
// clears its flags.
func (m *Monitor) Read(now time.Duration, r []byte) {
	m.settle(now)
	m.workOut()
	switch m.pointer {
	case monConfig:
		word(r, m.config)
	case monShunt:
		word(r, uint16(m.shunt))
	case monBus:
		word(r, uint16(m.bus))
	case monPower:
		word(r, m.power)
	case monCurrent:
		word(r, uint16(m.current))
	case monCalibration:
		word(r, m.calibration)
	case monMask:
		word(r, m.flags())
		m.ready = false
		if m.mask&monLatch != 0 {
			m.flag = false
		}
	case monLimit:
		word(r, m.limit)
	case monManufacturer:
		word(r, monMaker)
	case monDie:
		word(r, monDieID)
	default:
		word(r, 0xffff)
	}
}

func (m *Monitor) flags() uint16 {
	v := m.mask
	if m.flag {
		v |= monFlag
	}
	if m.ready {
		v |= monReady
	}
	if m.overflow {
		v |= monOverflow
	}
	return v
}

// monTime returns the seconds of a conversion-time code (SBOS547, electrical
// characteristics).
func monTime(code uint16) float64 {
	switch code & 7 {
	case 0:
		return 140e-6
	case 1:
		return 204e-6
	case 2:
		return 332e-6
	case 3:
		return 588e-6
	case 4:
		return 1100e-6
	case 5:
		return 2116e-6
	case 6:
		return 4156e-6
	}
	return 8244e-6
}

// monAverage returns how many conversions one result averages.
func monAverage(config uint16) float64 {
	switch (config >> 9) & 7 {
	case 0:
		return 1
	case 1:
		return 4
	case 2:
		return 16
	case 3:
		return 64
	case 4:
		return 128
	case 5:
		return 256
	case 6:
		return 512
	}
	return 1024
}
