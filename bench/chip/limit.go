package chip

import "sinkproof/bench/quantity"

// Limit is one bound on a chip's error: the true value lies within ± this of
// what is read, as far as this cause is concerned.
type Limit struct {
	// Quantity is the bound, never negative. A pure number is relative to the
	// reading.
	quantity.Quantity
	// Typical marks a figure that the data sheet prints as typical because it
	// guarantees none.
	Typical bool
	// Source is the data sheet and its section, and what had to be assumed.
	Source string
}

// PerKelvin returns x divided by one kelvin: the unit of a drift.
func PerKelvin(x quantity.Quantity) quantity.Quantity {
	return quantity.Quantity{SI: x.SI, Dim: x.Dim - quantity.Temperature}
}
