package chips

import (
	"math"
	"math/rand/v2"
	"time"
)

// The registers of the converter (TI ADS1115 data sheet SBAS444D, section
// 9.6, "Register Map").
const (
	adcConversion = iota
	adcConfig
	adcLow
	adcHigh
)

// The fields of the Config register (SBAS444D, table "Config Register Field
// Descriptions"; reset value 8583h).
const (
	adcStart      = 1 << 15 // OS: write 1 to start, reads 1 when idle
	adcMuxShift   = 12
	adcGainShift  = 9
	adcSingle     = 1 << 8
	adcRateShift  = 5
	adcWindow     = 1 << 4 // COMP_MODE
	adcActiveHigh = 1 << 3 // COMP_POL
	adcLatching   = 1 << 2 // COMP_LAT
	adcQueue      = 3      // COMP_QUE, 3 = comparator off
	adcReset      = 0x8583
)

// adcWake is what the chip takes to power up before a single conversion
// (from memory of the ADS1115 data sheet: 25 µs).
const adcWake = 25 * time.Microsecond

// adcReady is the length of the conversion-ready pulse in continuous mode
// (from memory of the ADS1115 data sheet: about 8 µs).
const adcReady = 8 * time.Microsecond

// ADCOptions are one piece of a 16-bit converter with four inputs.
type ADCOptions struct {
	// Inputs are the nodes at the inputs; nil is an open input and reads 0 V.
	Inputs [4]Probe
	// Supply is the chip's supply in volts: no input converts beyond it.
	Supply float64
	// Gain and Oscillator are relative errors, the second of the rate (SBASAV5,
	// electrical characteristics, data rate variation), Offset is in volts at the
	// input, Noise is rms in volts.
	Gain, Offset, Noise, Oscillator float64
	// Bow is the integral non-linearity in steps of the range of 2.048 V.
	Bow   float64
	Rand  *rand.Rand
	Reach Reach
}

// ADC is a 16-bit converter with four inputs, single-shot or continuous.
type ADC struct {
	o         ADCOptions
	scale     [4]float64 // what a fault multiplies an input with
	hum       [4]float64 // volts of mains hum that a fault adds
	hertz     float64
	pointer   byte
	config    uint16
	low, high int16
	result    int16

	running     bool
	active      uint16  // Config as it was when the conversion started
	plus, minus int     // the inputs that it selects; minus is -1 for ground
	full        float64 // the range that it selects
	end, span   time.Duration
	seen        time.Duration // up to where sum goes
	sum         float64       // volts times nanoseconds

	over      int  // consecutive conversions beyond a threshold
	tripped   bool // the comparator's output
	readyAt   time.Duration
	everReady bool
}

// NewADC returns a converter as it is after power-up.
func NewADC(o ADCOptions) *ADC {
	c := &ADC{o: o, config: adcReset, low: math.MinInt16, high: math.MaxInt16}
	c.scale = [4]float64{1, 1, 1, 1}
	return c
}

// Scale multiplies what an input shows: a divider out of tolerance, or a
// channel that was calibrated wrongly.
func (c *ADC) Scale(input int, factor float64) { c.scale[input] = factor }

// Hum adds a sine of an amplitude in volts at the mains frequency to an input.
func (c *ADC) Hum(input int, volts, hertz float64) { c.hum[input], c.hertz = volts, hertz }

// Write takes the pointer and, when they follow, two bytes for a register.
func (c *ADC) Write(now time.Duration, w []byte) {
	if len(w) == 0 {
		return
	}
	c.pointer = w[0] & 3
	if len(w) < 3 {
		return
	}
	v := uint16(w[1])<<8 | uint16(w[2])
	switch c.pointer {
	case adcConfig:
		c.configure(now, v)
	case adcLow:
		c.low = int16(v)
	case adcHigh:
		c.high = int16(v)
	}
}

// configure takes a new Config word. A running conversion ends with the
// settings it started with (SBAS444D, section 9.4.2); starting once more
// while converting has no effect.
func (c *ADC) configure(now time.Duration, v uint16) {
	c.settle(now)
	c.config = v &^ adcStart
	if v&adcQueue == adcQueue {
		c.tripped = false
	}
	if c.running {
		return
	}
	if v&adcSingle == 0 {
		c.start(now)
	} else if v&adcStart != 0 {
		c.start(now + adcWake)
	}
}

// start begins a conversion at the instant at.
func (c *ADC) start(at time.Duration) {
	c.running = true
	if c.active != c.config || c.span == 0 {
		c.active = c.config
		c.plus, c.minus = adcPair(c.active)
		c.full, c.span = adcFullScale(c.active), c.length()
	}
	c.end = at + c.span
	c.seen, c.sum = at, 0
}

// length is how long a conversion takes with the present settings.
func (c *ADC) length() time.Duration {
	return time.Duration(float64(time.Second) / (adcRate(c.config) * (1 + c.o.Oscillator)))
}

// settle brings the chip up to date where a conversion has ended since.
func (c *ADC) settle(now time.Duration) {
	if c.running && now >= c.end {
		c.catchUp(now)
	}
}

// catchUp brings the circuit up to an instant, and ends the conversions that are
// over.
func (c *ADC) catchUp(now time.Duration) {
	c.o.Reach.to(now)
	c.complete(now)
}

// Follow also integrates what the conversion that runs has seen so far.
func (c *ADC) Follow(now time.Duration) {
	c.complete(now)
	if c.running {
		c.integrate(now)
	}
}

// complete ends the conversions that are over. Of those that nobody has looked at,
// nor the comparator, only the last matters.
func (c *ADC) complete(now time.Duration) {
	for c.running && now >= c.end {
		if late := now - c.end; late >= c.span && c.continuous() && c.active == c.config && c.active&adcQueue == adcQueue {
			c.start(c.end + (late/c.span-1)*c.span)
		}
		c.integrate(c.end)
		c.finish()
	}
}

// integrate takes in the inputs up to an instant of the conversion.
func (c *ADC) integrate(to time.Duration) {
	if to > c.seen {
		c.sum += c.input(c.seen, to) * float64(to-c.seen)
		c.seen = to
	}
}

// continuous tells whether another conversion follows the present one.
func (c *ADC) continuous() bool { return c.active&adcSingle == 0 && c.config&adcSingle == 0 }

// finish ends a conversion and, in continuous mode, begins the next.
func (c *ADC) finish() {
	c.running = false
	c.result = c.convert(c.sum / float64(c.span))
	c.compare()
	c.readyAt, c.everReady = c.end, true
	if c.continuous() {
		c.start(c.end)
	}
}

// input returns the mean voltage between the two selected inputs.
func (c *ADC) input(from, to time.Duration) float64 {
	v := c.at(c.plus, from, to)
	if c.minus >= 0 {
		v -= c.at(c.minus, from, to)
	}
	return v
}

func (c *ADC) at(input int, from, to time.Duration) float64 {
	p := c.o.Inputs[input]
	if p == nil {
		return 0
	}
	v := p.Mean(from, to) * c.scale[input]
	if c.hum[input] != 0 {
		w := 2 * math.Pi * c.hertz
		v += c.hum[input] * (math.Cos(w*from.Seconds()) - math.Cos(w*to.Seconds())) / (w * (to - from).Seconds())
	}
	// The protection diodes hold a pin within 0.3 V of the supplies
	// (absolute maximum ratings, from memory).
	if v < -0.3 {
		return -0.3
	}
	if top := c.o.Supply + 0.3; v > top {
		return top
	}
	return v
}

// convert quantises a voltage as this piece would.
func (c *ADC) convert(v float64) int16 {
	if v > c.o.Supply {
		v = c.o.Supply
	}
	x := v / c.full
	v = v*(1+c.o.Gain) + c.o.Offset + c.o.Bow*adcStep*bow(x) + c.o.Noise*c.o.Rand.NormFloat64()
	switch code := math.RoundToEven(v / c.full * 32768); {
	case code > math.MaxInt16:
		return math.MaxInt16
	case code < math.MinInt16:
		return math.MinInt16
	default:
		return int16(code)
	}
}

// adcStep is a step of the range of 2.048 V.
const adcStep = 2.048 / 32768

// bow is the shape of the non-linearity over the range, from -1 to 1: an S that is
// nothing at zero and at both ends, as an integral non-linearity is by its definition,
// and one at its largest. A cubic, because a run asks some thousand times.
func bow(x float64) float64 {
	if x < -1 || x > 1 {
		return 0
	}
	return 2.598076211353316 * x * (1 - x*x) // 3/2 of the root of 3
}

// compare serves the comparator (SBAS444D, section 9.3.8).
func (c *ADC) compare() {
	if c.active&adcQueue == adcQueue || c.readyMode() {
		return
	}
	above := c.result > c.high
	below := c.result < c.low
	beyond := above || (c.active&adcWindow != 0 && below)
	if beyond {
		c.over++
	} else {
		c.over = 0
	}
	needed := 1 << (c.active & adcQueue)
	if c.over >= needed {
		c.tripped = true
		return
	}
	within := below || (c.active&adcWindow != 0 && !above)
	if c.active&adcLatching == 0 && within {
		c.tripped = false
	}
}

// readyMode tells whether the thresholds turn the pin into conversion-ready:
// the high one negative, the low one positive (SBAS444D, section 9.3.8).
func (c *ADC) readyMode() bool { return c.high < 0 && c.low >= 0 }

// Alert tells whether the ALERT/RDY pin is low.
func (c *ADC) Alert(now time.Duration) bool {
	c.settle(now)
	if c.config&adcQueue == adcQueue {
		return false
	}
	asserted := c.tripped
	if c.readyMode() {
		asserted = c.everReady && !c.running
		if c.config&adcSingle == 0 {
			asserted = c.everReady && now-c.readyAt < adcReady
		}
	}
	return asserted != (c.config&adcActiveHigh != 0)
}

// Turn returns the end of the present conversion, or that of the pulse that
// says that one is ready.
func (c *ADC) Turn(now time.Duration) time.Duration {
	if pulse := c.readyAt + adcReady; c.everReady && pulse > now {
		return pulse
	}
	if c.running {
		return c.end
	}
	return Never
}

// Read puts the register under the pointer on the bus.
func (c *ADC) Read(now time.Duration, r []byte) {
	c.settle(now)
	switch c.pointer {
	case adcConversion:
		if c.config&adcLatching != 0 {
			c.tripped = false
		}
		word(r, uint16(c.result))
	case adcConfig:
		v := c.config
		if !c.running {
			v |= adcStart
		}
		word(r, v)
	case adcLow:
		word(r, uint16(c.low))
	case adcHigh:
		word(r, uint16(c.high))
	}
}

// adcPair returns the inputs of a mux code; minus is -1 for ground.
func adcPair(config uint16) (plus, minus int) {
	switch code := int(config>>adcMuxShift) & 7; code {
	case 0:
		return 0, 1
	case 1, 2, 3:
		return code - 1, 3
	default:
		return code - 4, -1
	}
}

// adcFullScale returns the range of a PGA code in volts; codes 6 and 7 are
// code 5 once more (from memory of the data sheet).
func adcFullScale(config uint16) float64 {
	switch (config >> adcGainShift) & 7 {
	case 0:
		return 6.144
	case 1:
		return 4.096
	case 2:
		return 2.048
	case 3:
		return 1.024
	case 4:
		return 0.512
	}
	return 0.256
}

// adcRate returns the conversions per second of a data-rate code.
func adcRate(config uint16) float64 {
	switch (config >> adcRateShift) & 7 {
	case 0:
		return 8
	case 1:
		return 16
	case 2:
		return 32
	case 3:
		return 64
	case 4:
		return 128
	case 5:
		return 250
	case 6:
		return 475
	}
	return 860
}
