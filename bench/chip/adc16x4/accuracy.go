package adc16x4

import (
	"fmt"
	"math"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// The data sheet that the error limits come from. It is that of the low-voltage
// sister part; the converter core and its table are the same.
const sheet = "TI ADS1115L data sheet SBASAV5, electrical characteristics"

// The error limits as printed for ±2.048 V at 25 °C (SBASAV5, electrical
// characteristics).
const (
	gainError   = 0.0015  // ±0.15 % of reading, amplifier and reference included
	gainMatch   = 0.001   // ±0.1 % between any two ranges, and between any two inputs
	gainDrift   = 40e-6   // 40 ppm per kelvin, largest
	offsetSteps = 3       // ±3 steps typical single-ended; ±3 steps largest on a pair
	offsetDrift = 0.005   // steps per kelvin, typical (from memory, ADS1115 data sheet)
	inlSteps    = 1       // 1 step, best fit, at 8 SPS
	refStep     = 62.5e-6 // volts: the step at ±2.048 V, where the above is specified
)

// Accuracy lists what an uncertainty budget of one reading needs. Every limit
// names its source. Errors that two readings of one converter share are Gain
// and GainDrift: the ratio of two readings in one range cancels them.
type Accuracy struct {
	// LSB is the step; rounding to it is uniform within ± half of it.
	LSB chip.Limit
	// Gain is relative and common to all inputs and ranges of the chip.
	Gain chip.Limit
	// RangeMatch is relative: how far the range's gain may be from that of
	// ±2.048 V. Zero there.
	RangeMatch chip.Limit
	// InputMatch is relative: how far the gains of two inputs may be apart.
	InputMatch chip.Limit
	// GainDrift is relative per kelvin, away from 25 °C.
	GainDrift chip.Limit
	// Offset is in volts.
	Offset chip.Limit
	// OffsetDrift is in volts per kelvin, away from 25 °C.
	OffsetDrift chip.Limit
	// INL is the bow of the characteristic, in volts.
	INL chip.Limit
}

// Accuracy returns the error limits of an input in a range. An unknown input or
// range gives ErrSetting.
func (r Range) Accuracy(in Input) (Accuracy, error) {
	if err := check(in, r, SPS8); err != nil {
		return Accuracy{}, err
	}
	lsb := r.LSB().SI
	match := gainMatch
	if r == FS2048 {
		match = 0
	}
	// The offset is printed in steps of ±2.048 V only. Whether it shrinks with
	// the step of a narrower range the sheet does not say: the larger is taken.
	offset := offsetSteps * math.Max(lsb, refStep)
	drift := offsetDrift * math.Max(lsb, refStep)
	return Accuracy{
		LSB:         limit(quantity.Volts(lsb), "SBASAV5, table 8-1: full scale / 32768"),
		Gain:        limit(quantity.Pure(gainError), sheet+": gain error at ±2.048 V, 25 °C"),
		RangeMatch:  limit(quantity.Pure(match), sheet+": gain match between ranges"),
		InputMatch:  limit(quantity.Pure(gainMatch), sheet+": gain match between inputs"),
		GainDrift:   limit(chip.PerKelvin(quantity.Pure(gainDrift)), sheet+": gain drift at ±2.048 V"),
		Offset:      offsetLimit(in, offset),
		OffsetDrift: chip.Limit{Quantity: chip.PerKelvin(quantity.Volts(drift)), Typical: true, Source: "from memory, ADS1115 data sheet: offset drift"},
		INL:         limit(quantity.Volts(inlSteps*lsb), sheet+": INL, printed for 8 SPS and ±2.048 V, taken for every rate and range"),
	}, nil
}

// limit is a guaranteed bound.
func limit(q quantity.Quantity, source string) chip.Limit {
	return chip.Limit{Quantity: q, Source: source}
}

// offsetLimit is guaranteed for a pair of inputs and typical for a pin against
// ground.
func offsetLimit(in Input, volts float64) chip.Limit {
	return chip.Limit{
		Quantity: quantity.Volts(volts),
		Typical:  in <= AIN3,
		Source:   fmt.Sprintf("%s: offset ±%d steps at ±2.048 V, taken as the least for narrower ranges", sheet, offsetSteps),
	}
}

// Loading is how an input loads what it measures: the typical resistances of
// its switched capacitors.
type Loading struct {
	// Common is from each pin to ground, Differential between the two pins of
	// the input.
	Common, Differential quantity.Quantity
}

// Loading returns the typical input resistances in a range (SBASAV5, electrical
// characteristics, input impedance). They are typical figures that vary with
// the oscillator. An unknown range gives ErrSetting.
func (r Range) Loading() (Loading, error) {
	if err := check(AIN0, r, SPS8); err != nil {
		return Loading{}, err
	}
	common := [...]float64{10e6, 6e6, 6e6, 3e6, 100e6, 100e6}[r]
	pair := [...]float64{22e6, 15e6, 4.9e6, 2.4e6, 710e3, 710e3}[r]
	return Loading{Common: quantity.Ohms(common), Differential: quantity.Ohms(pair)}, nil
}
