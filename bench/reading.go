package bench

import (
	"time"

	"sinkproof/bench/quantity"
)

// Reading is one measured value of a channel.
type Reading struct {
	Channel string
	Value   quantity.Measured
	At      time.Duration // on the rig's clock; the middle of the conversion
	// Saturated is set when the input was at the end of its range; Value then
	// is a bound.
	Saturated bool
}

// ReadOptions say how a channel is read; the zero value does what the wiring
// asks for.
type ReadOptions struct {
	// Expect is the largest value that is expected: the converter starts on
	// the smallest range that holds it. The zero Quantity starts from the
	// last reading of the channel. A range that saturates is widened.
	Expect quantity.Quantity
	// Periods is the number of mains periods to average over. Zero means one
	// where the channel averages and a single conversion where it does not;
	// below zero means a single conversion everywhere.
	Periods int
}

// Sample is one point of a waveform.
type Sample struct {
	At    time.Duration
	Value float64 // SI
}

// Waveform is a channel sampled in time.
type Waveform struct {
	Channel  string
	Dim      quantity.Dim
	Interval time.Duration // the nominal sample interval
	Samples  []Sample
}
