package thermometer

import (
	"fmt"
	"math"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// zeroCelsius is 0 °C in kelvin (SI Brochure, 9th edition, 2.3.1).
const zeroCelsius = 273.15

// lowest and highest are the temperatures in °C over which the class is
// specified (LM75 data sheet, key specifications).
const (
	lowest  = -55.0
	highest = 125.0
)

// step returns the kelvins of one code: the codes span 256 K (TI LM75B data
// sheet SNIS153B, p. 9: 0.5 K with 9 bits; TI TMP75 data sheet SBOS288M, table
// 7-1: 0.0625 K with 12; NXP LM75A data sheet: 0.125 K with 11).
func step(bits int) float64 { return math.Ldexp(256, -bits) }

// decode returns the right-aligned signed code of a temperature register. The
// chips with 12 bits send zeros below them (TI TMP1075 data sheet SBOS854F,
// table 7-1); a bus that nobody drives sends ones. The bits below 9 or 11 are
// not specified and not looked at.
func decode(word uint16, bits int) (int16, error) {
	if bits == 12 && word&0x000F != 0 {
		return 0, fmt.Errorf("temperature register reads %04Xh, which the chip cannot send: %w", word, chip.ErrLost)
	}
	return int16(word) >> (16 - bits), nil
}

// temperature returns what a code means.
func temperature(code int16, bits int) quantity.Quantity {
	return quantity.Celsius(float64(code) * step(bits))
}

// specified returns a temperature in °C and whether the class is specified for
// it. A nanokelvin is rounded away: 75 °C given in kelvin is not exact.
func specified(q quantity.Quantity) (celsius float64, ok bool) {
	c := math.Round((q.SI-zeroCelsius)*1e9) / 1e9
	return c, q.Dim == quantity.Temperature && c >= lowest && c <= highest
}

// Accuracy lists what an uncertainty budget of one temperature needs.
type Accuracy struct {
	// LSB is the step; rounding to it is uniform within ± half of it.
	LSB chip.Limit
	// Error is everything else, offset and gain together.
	Error chip.Limit
}

// Accuracy returns the error limits at a temperature. Outside -55 to 125 °C, or
// for another dimension, nothing is specified and it is ErrSetting.
func (d *Dev) Accuracy(at quantity.Quantity) (Accuracy, error) {
	c, ok := specified(at)
	if !ok {
		return Accuracy{}, fmt.Errorf("%s: accuracy: %w: %.4g °C, specified are temperatures from %g to %g °C", d, ErrSetting, c, lowest, highest)
	}
	// The loosest chip of the class: relatives with more bits are better.
	err := 3.0
	if c >= -25 && c <= 100 {
		err = 2
	}
	return Accuracy{
		LSB:   chip.Limit{Quantity: kelvins(step(d.opts.Bits)), Source: "256 K / 2^bits; TI LM75B data sheet SNIS153B, p. 9"},
		Error: chip.Limit{Quantity: kelvins(err), Source: "LM75 data sheet, key specifications: ±2 K from -25 to 100 °C, ±3 K from -55 to 125 °C"},
	}, nil
}

// kelvins returns a difference of temperatures.
func kelvins(k float64) quantity.Quantity {
	return quantity.Quantity{SI: k, Dim: quantity.Temperature}
}
