package powermon

import (
	"fmt"
	"math"
	"time"

	"sinkproof/bench/quantity"
)

// Average is how many conversions the chip averages into one result. Its value
// is the AVG code of the configuration register.
type Average uint8

// The eight averages (Linux drivers/hwmon/ina2xx.c).
const (
	Average1 Average = iota
	Average4
	Average16
	Average64
	Average128
	Average256
	Average512
	Average1024
)

// Count returns the number of conversions, 0 for an unknown code.
func (a Average) Count() int {
	if a > Average1024 {
		return 0
	}
	return [...]int{1, 4, 16, 64, 128, 256, 512, 1024}[a]
}

// String returns, for example, "average of 16".
func (a Average) String() string {
	if a > Average1024 {
		return fmt.Sprintf("Average(%d)", uint8(a))
	}
	return fmt.Sprintf("average of %d", a.Count())
}

// ConversionTime is how long one conversion integrates. Its value is the
// VBUSCT or VSHCT code of the configuration register.
type ConversionTime uint8

// The eight conversion times (TI INA226 data sheet SBOS547, electrical
// characteristics), named by their typical microseconds.
const (
	Time140us ConversionTime = iota
	Time204us
	Time332us
	Time588us
	Time1100us
	Time2116us
	Time4156us
	Time8244us
)

// Period returns the typical time, 0 for an unknown code.
func (t ConversionTime) Period() time.Duration {
	if t > Time8244us {
		return 0
	}
	return [...]time.Duration{140, 204, 332, 588, 1100, 2116, 4156, 8244}[t] * time.Microsecond
}

// Longest returns the largest time that the data sheet allows (SBOS547,
// electrical characteristics), 0 for an unknown code.
func (t ConversionTime) Longest() time.Duration {
	if t > Time8244us {
		return 0
	}
	return [...]time.Duration{154, 224, 365, 646, 1210, 2328, 4572, 9068}[t] * time.Microsecond
}

// String returns, for example, "1.1ms".
func (t ConversionTime) String() string {
	if t > Time8244us {
		return fmt.Sprintf("ConversionTime(%d)", uint8(t))
	}
	return t.Period().String()
}

// The steps of the two converted registers (SBOS547, electrical
// characteristics).
const (
	shuntStep = 2.5e-6  // volts; 7FFFh is 81.9175 mV
	busStep   = 1.25e-3 // volts
)

// largestBus is the largest voltage allowed at the VBUS pin: 36 V (SBOS547,
// electrical characteristics). The code would reach 40.96 V.
const largestBus = 36.0

// calibrationScale is the 0.00512 V of the data sheet's calibration formula
// (SBOS547, p. 15; Linux drivers/hwmon/ina2xx.c has 5120000): 2048 shunt steps.
const calibrationScale = 0.00512

// powerFactor is how many current steps times one volt make a power step
// (SBOS547, p. 15).
const powerFactor = 25

// largestCalibration is the largest calibration word: fifteen bits (SBOS547,
// calibration register).
const largestCalibration = 0x7FFF

// Calibration returns trunc(0.00512 V / (lsb * shunt)), the word of the
// calibration register, for lsb and shunt above zero. It is an error when the
// word is not within 1 to 32767, or a dimension is wrong.
func Calibration(lsb, shunt quantity.Quantity) (uint16, error) {
	if shunt.Dim != quantity.Resistance || !(shunt.SI > 0) || math.IsInf(shunt.SI, 0) {
		return 0, fmt.Errorf("%w: shunt of %g is no resistance above 0 ohm", ErrSetting, shunt.SI)
	}
	if lsb.Dim != quantity.Current || !(lsb.SI > 0) || math.IsInf(lsb.SI, 0) {
		return 0, fmt.Errorf("%w: current step of %g is no current above 0 A", ErrSetting, lsb.SI)
	}
	word := truncate(calibrationScale / (lsb.SI * shunt.SI))
	if word < 1 || word > largestCalibration {
		return 0, fmt.Errorf("%w: calibration %g for a step of %g A on %g ohm, possible are 1 to %d",
			ErrSetting, word, lsb.SI, shunt.SI, largestCalibration)
	}
	return uint16(word), nil
}

// truncate drops the fraction, but not a whole number that binary arithmetic
// left a hair too small: 0.00512/(25e-6*0.1) must be 2048.
func truncate(x float64) float64 { return math.Floor(x * (1 + 1e-12)) }

// The fields of the configuration register (from memory, INA226 data sheet,
// configuration register; the averages' mask 0E00h and the default's 100b also
// in Linux drivers/hwmon/ina2xx.c).
const (
	bitReset     = 0x8000
	fixedConfig  = 0x4000 // bits 14:12 read 100b
	shiftAverage = 9
	shiftBus     = 6
	shiftShunt   = 3
)

// mode is the MODE field, bits 2:0.
type mode uint16

const (
	powerDown      mode = 0
	shuntTriggered mode = 1
	bothTriggered  mode = 3
	bothContinuous mode = 7
)

// config returns a configuration word.
func config(a Average, bus, shunt ConversionTime, m mode) uint16 {
	return fixedConfig | uint16(a)<<shiftAverage | uint16(bus)<<shiftBus | uint16(shunt)<<shiftShunt | uint16(m)
}
