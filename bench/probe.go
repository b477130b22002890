package bench

import "sinkproof/bench/quantity"

// Presence is what the probe current on VBUS saw.
type Presence struct {
	// Present says that there is a unit: more capacitance than the empty
	// nest, or a short, a clamp or a load.
	Present bool
	// Shorted: VBUS stayed near zero at the largest probe current.
	Shorted bool
	// Reversed: VBUS was clamped at about a diode's forward voltage at every
	// probe current, or below ground: what a unit with swapped polarity or a
	// reversed protection diode does.
	Reversed bool
	// Loaded: VBUS settled below the level that the capacitance is measured
	// at, with more than a diode's voltage.
	Loaded bool
	// Capacitance between VBUS and ground; a bound where too few samples lay
	// between the levels (at most) or VBUS did not rise in time (at least).
	Capacitance Reading
	// Level is VBUS as it stood at the end of the rise.
	Level Reading
	// Current is the probe current that the answer was found with.
	Current quantity.Quantity
	// Waves are the rise at each probe current and the fall after it.
	Waves []Waveform
}
