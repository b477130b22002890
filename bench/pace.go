package bench

import (
	"time"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/quantity"
)

// Pace lists the times and levels that the bench chooses by itself, for those
// who plan how long a run takes.
type Pace struct {
	// Sweeps is how often VBUS of an empty nest is let rise, Bleeding how long
	// it is emptied before each of them.
	Sweeps   int
	Bleeding time.Duration
	// Top is where a rise under the probe current ends, Fall how long the fall
	// behind it is watched.
	Top  quantity.Quantity
	Fall time.Duration
	// Conversion is one of a converter at its fastest, Averaged one of those that
	// are averaged over mains periods, Meter one result of a current monitor.
	Conversion, Averaged, Meter time.Duration
	// SteadyPeriods is how many mains periods a steady channel must be steady.
	SteadyPeriods int
}

// OwnPace returns the bench's own times.
func OwnPace() Pace {
	return Pace{
		Sweeps: sweeps, Bleeding: bleeding, Top: quantity.Volts(upperLevel), Fall: fallTime,
		Conversion: adc16x4.SPS860.Period(), Averaged: averaging.Period(), Meter: 2 * time.Duration(meterAverage.Count()) * meterTime.Period(),
		SteadyPeriods: 5,
	}
}
