package chips

import (
	"math"
	"math/rand/v2"
	"time"
)

// The registers of the thermometer (TI TMP1075 data sheet SBOS854F, section
// "Register Map"; LM75 and TMP75 share the first four).
const (
	thermoValue = iota
	thermoConfig
	thermoLow
	thermoHigh
)

// The bits of the configuration byte (TI TMP75 data sheet SBOS288M, section
// "Configuration Register").
const (
	thermoShutdown  = 1 << 0
	thermoInterrupt = 1 << 1
	thermoOneShot   = 1 << 7
)

// thermoStep is the temperature of one step of the 12-bit result in kelvin.
const thermoStep = 0.0625

// thermoTime is the nominal length of a 12-bit conversion: 220 ms (TMP75, from
// memory). The first one ends that long after power-up, and the register
// reads 0 °C until then.
const thermoTime = 220 * time.Millisecond

// ThermometerOptions are one piece of a thermometer.
type ThermometerOptions struct {
	// Celsius returns the true temperature at the chip.
	Celsius       func(now time.Duration) float64
	Offset, Noise float64 // kelvin
	Oscillator    float64 // relative
	Rand          *rand.Rand
	Start         time.Duration // when power came
}

// Thermometer is a 12-bit temperature sensor. It converts all the time; a
// reading is the conversion that ended last.
type Thermometer struct {
	o         ThermometerOptions
	pointer   byte
	config    byte
	low, high uint16
	result    uint16
	origin    time.Duration // conversions are counted from here
	span      time.Duration
	done      int64 // the conversions that were evaluated
	once      time.Duration
}

// NewThermometer returns a thermometer as it is after power-up, with the
// limits 75 °C and 80 °C.
func NewThermometer(o ThermometerOptions) *Thermometer {
	span := time.Duration(float64(thermoTime) * (1 + o.Oscillator))
	return &Thermometer{o: o, low: 0x4b00, high: 0x5000, origin: o.Start, span: span}
}

// Write takes the pointer and, when they follow, one byte for the
// configuration or two for a limit.
func (t *Thermometer) Write(now time.Duration, w []byte) {
	if len(w) == 0 {
		return
	}
	t.pointer = w[0] & 3
	if len(w) < 2 || t.pointer == thermoValue {
		return
	}
	if t.pointer == thermoConfig {
		t.configure(now, w[1])
		return
	}
	if len(w) < 3 {
		return
	}
	v := (uint16(w[1])<<8 | uint16(w[2])) &^ 0x000f
	if t.pointer == thermoLow {
		t.low = v
	} else {
		t.high = v
	}
}

// configure enters or leaves shutdown, and starts a single conversion in it.
func (t *Thermometer) configure(now time.Duration, b byte) {
	t.settle(now)
	if t.config&thermoShutdown != 0 && b&thermoShutdown == 0 {
		t.origin, t.done = now, 0
	}
	if b&thermoShutdown != 0 && b&thermoOneShot != 0 {
		t.once = now + t.span
	}
	t.config = b &^ thermoOneShot
}

// settle brings the result up to date.
func (t *Thermometer) settle(now time.Duration) {
	if t.config&thermoShutdown != 0 {
		if t.once != 0 && now >= t.once {
			t.result, t.once = t.convert(t.once), 0
		}
		return
	}
	n := int64((now - t.origin) / t.span)
	if n > t.done {
		t.result, t.done = t.convert(t.origin+time.Duration(n)*t.span), n
	}
}

// convert returns the left-justified 12-bit code.
func (t *Thermometer) convert(at time.Duration) uint16 {
	c := t.o.Celsius(at) + t.o.Offset + t.o.Noise*t.o.Rand.NormFloat64()
	code := math.Round(c / thermoStep)
	return uint16(int16(max(-2048, min(2047, code)))) << 4
}

// Read puts the register under the pointer on the bus.
func (t *Thermometer) Read(now time.Duration, r []byte) {
	t.settle(now)
	switch t.pointer {
	case thermoValue:
		word(r, t.result)
	case thermoConfig:
		for i := range r {
			r[i] = t.config
		}
	case thermoLow:
		word(r, t.low)
	case thermoHigh:
		word(r, t.high)
	}
}
