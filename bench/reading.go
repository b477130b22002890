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
