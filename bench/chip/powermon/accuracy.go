package powermon

import (
	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// The error limits at 25 °C (TI INA226 data sheet SBOS547, electrical
// characteristics).
const (
	sheet       = "TI INA226 data sheet SBOS547, electrical characteristics"
	gainError   = 0.001  // ±0.1 % of reading, shunt and bus
	gainDrift   = 50e-6  // 50 ppm per kelvin
	shuntOffset = 10e-6  // ±10 µV
	shuntDrift  = 0.1e-6 // 0.1 µV per kelvin
	busOffset   = 7.5e-3 // ±7.5 mV
	busDrift    = 40e-6  // 40 µV per kelvin
	busOhms     = 830e3  // typical
	inputBias   = 10e-6  // amperes: the older of two revisions; the newer prints 0.1 nA
)

// Accuracy lists what an uncertainty budget of one reading needs. The shunt
// resistor's own tolerance is not the chip's and not among it.
type Accuracy struct {
	// ShuntLSB and BusLSB are the steps; rounding to them is uniform within
	// ± half of them.
	ShuntLSB, BusLSB chip.Limit
	// CurrentLSB is the step that rounding adds in the chip's arithmetic.
	CurrentLSB chip.Limit
	// Gain is relative, for shunt and bus each; GainDrift per kelvin from 25 °C.
	Gain, GainDrift chip.Limit
	// Offsets are in volts, their drifts in volts per kelvin from 25 °C.
	ShuntOffset, ShuntOffsetDrift chip.Limit
	BusOffset, BusOffsetDrift     chip.Limit
	// CurrentOffset is ShuntOffset over the shunt.
	CurrentOffset chip.Limit
}

// Accuracy returns the error limits of readings with the options of d.
func (d *Dev) Accuracy() Accuracy {
	volts := quantity.Volts
	return Accuracy{
		ShuntLSB:         limit(volts(shuntStep), "1 LSB step size, shunt"),
		BusLSB:           limit(volts(busStep), "1 LSB step size, bus"),
		CurrentLSB:       chip.Limit{Quantity: d.CurrentLSB(), Source: "TI INA226 data sheet SBOS547, p. 15: 0.00512 V / (CAL * shunt)"},
		Gain:             limit(quantity.Pure(gainError), "gain error, shunt and bus"),
		GainDrift:        limit(chip.PerKelvin(quantity.Pure(gainDrift)), "gain error against temperature"),
		ShuntOffset:      limit(volts(shuntOffset), "shunt offset voltage"),
		ShuntOffsetDrift: limit(chip.PerKelvin(volts(shuntDrift)), "shunt offset voltage against temperature"),
		BusOffset:        limit(volts(busOffset), "bus offset voltage"),
		BusOffsetDrift:   limit(chip.PerKelvin(volts(busDrift)), "bus offset voltage against temperature"),
		CurrentOffset:    limit(quantity.Amperes(shuntOffset/d.opts.Shunt.SI), "shunt offset voltage, over the shunt"),
	}
}

// limit is a guaranteed bound of the electrical characteristics.
func limit(q quantity.Quantity, row string) chip.Limit {
	return chip.Limit{Quantity: q, Source: sheet + ": " + row}
}

// Loading is how the chip loads what it measures.
type Loading struct {
	// Bus is the typical resistance from the VBUS pin to ground: a bleed of
	// 6 µA at 5 V.
	Bus quantity.Quantity
	// Bias is the typical current into IN+ and IN- each. Two revisions of the
	// data sheet disagree by a factor of 100,000; this is the larger.
	Bias quantity.Quantity
}

// Loading returns the chip's input currents (SBOS547, electrical
// characteristics, two revisions).
func (d *Dev) Loading() Loading {
	return Loading{Bus: quantity.Ohms(busOhms), Bias: quantity.Amperes(inputBias)}
}
