package adc16x4

import (
	"fmt"
	"math"
	"time"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// Input is what the converter measures: a pin against ground or a pair.
type Input uint8

// The eight settings of the multiplexer (ADS1115 data sheet SBAS444D,
// configuration register, bits 14:12). The zero value is pin 0 against ground.
const (
	AIN0       Input = iota // MUX 100b
	AIN1                    // MUX 101b
	AIN2                    // MUX 110b
	AIN3                    // MUX 111b
	AIN0Minus1              // MUX 000b: AIN0 minus AIN1
	AIN0Minus3              // MUX 001b
	AIN1Minus3              // MUX 010b
	AIN2Minus3              // MUX 011b
)

// String returns the pin's name, such as "AIN0" or "AIN0-AIN1".
func (i Input) String() string {
	if i > AIN2Minus3 {
		return fmt.Sprintf("Input(%d)", uint8(i))
	}
	return [...]string{"AIN0", "AIN1", "AIN2", "AIN3", "AIN0-AIN1", "AIN0-AIN3", "AIN1-AIN3", "AIN2-AIN3"}[i]
}

// mux returns the code of the multiplexer, 0 to 7.
func (i Input) mux() uint16 { return uint16(i) ^ 4 }

// Range is the full scale: codes span -FullScale to +FullScale less one step.
// Its value is the PGA code of the configuration register.
type Range uint8

// The six ranges (TI ADS1115L data sheet SBASAV5, table 8-1, same core). Codes
// 110b and 111b repeat the smallest one and are not used. The zero value is
// the widest.
const (
	FS6144 Range = iota // ±6.144 V, step 187.5 µV
	FS4096              // ±4.096 V, step 125 µV
	FS2048              // ±2.048 V, step 62.5 µV
	FS1024              // ±1.024 V, step 31.25 µV
	FS0512              // ±0.512 V, step 15.625 µV
	FS0256              // ±0.256 V, step 7.8125 µV
)

// steps is the number of codes on one side of zero: 2^15.
const steps = 32768

// fullScale returns the full scale in volts, NaN for an unknown range.
func (r Range) fullScale() float64 {
	if r > FS0256 {
		return math.NaN()
	}
	return [...]float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256}[r]
}

// String returns the range as the data sheet prints it, such as "±2.048 V".
func (r Range) String() string {
	if r > FS0256 {
		return fmt.Sprintf("Range(%d)", uint8(r))
	}
	return fmt.Sprintf("±%.3f V", r.fullScale())
}

// FullScale returns the voltage that code 32768 would mean.
func (r Range) FullScale() quantity.Quantity { return quantity.Volts(r.fullScale()) }

// LSB returns the step: the voltage of one code.
func (r Range) LSB() quantity.Quantity { return quantity.Volts(r.fullScale() / steps) }

// Volts returns the voltage that a code means.
func (r Range) Volts(code int16) quantity.Quantity {
	return quantity.Volts(float64(code) * r.fullScale() / steps)
}

// Code returns the code nearest to a voltage and whether the voltage lies at
// or beyond an end of the range. The chip does this; it stands here so that the
// two directions can be proved against each other. NaN gives code 0 and true.
func (r Range) Code(v quantity.Quantity) (code int16, saturated bool) {
	x := math.Round(v.SI / r.fullScale() * steps)
	switch {
	case math.IsNaN(x):
		return 0, true
	case x >= math.MaxInt16:
		return math.MaxInt16, true
	case x <= math.MinInt16:
		return math.MinInt16, true
	}
	return int16(x), false
}

// Rate is the nominal number of conversions per second. Its value is the DR
// code of the configuration register.
type Rate uint8

// The eight rates (TI ADS1115L data sheet SBASAV5, electrical characteristics).
const (
	SPS8 Rate = iota
	SPS16
	SPS32
	SPS64
	SPS128
	SPS250
	SPS475
	SPS860
)

// PerSecond returns the nominal rate, 0 for an unknown one.
func (r Rate) PerSecond() int {
	if r > SPS860 {
		return 0
	}
	return [...]int{8, 16, 32, 64, 128, 250, 475, 860}[r]
}

// String returns the rate with the data sheet's unit, such as "128 SPS".
func (r Rate) String() string {
	if r > SPS860 {
		return fmt.Sprintf("Rate(%d)", uint8(r))
	}
	return fmt.Sprintf("%d SPS", r.PerSecond())
}

// Period returns the nominal time of a conversion, 0 for an unknown rate.
func (r Rate) Period() time.Duration {
	if n := r.PerSecond(); n > 0 {
		return time.Second / time.Duration(n)
	}
	return 0
}

// Longest returns the time of a conversion on the slowest legal chip. The rate
// varies by ±10 % (SBASAV5, electrical characteristics), so this is the period
// over 0.9, not times 1.1: 139 ms at 8 SPS.
func (r Rate) Longest() time.Duration { return r.Period() * 10 / 9 }

// wait returns how long a conversion at this rate may take.
func (r Rate) wait() chip.Wait { return chip.Wait{Nominal: r.Period(), Longest: r.Longest()} }

// check says which of the three settings is none of the chip's.
func check(in Input, rng Range, rate Rate) error {
	switch {
	case in > AIN2Minus3:
		return fmt.Errorf("%w: input %d, known are 0 to %d", ErrSetting, uint8(in), uint8(AIN2Minus3))
	case rng > FS0256:
		return fmt.Errorf("%w: range %d, known are 0 to %d", ErrSetting, uint8(rng), uint8(FS0256))
	case rate > SPS860:
		return fmt.Errorf("%w: rate %d, known are 0 to %d", ErrSetting, uint8(rate), uint8(SPS860))
	}
	return nil
}
