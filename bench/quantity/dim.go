package quantity

// Dim is the dimension of a quantity: the exponents of five SI base units,
// packed as signed digits in base 256 so that the dimension of a product is
// the sum of two Dims and the dimension of a quotient their difference.
// The zero Dim is a pure number. Exponents beyond ±100 do not occur.
type Dim int64

// The five base units that a bench meets.
const (
	kilogram Dim = 1 << (8 * iota)
	metre
	second
	ampere
	kelvin
)

// The dimensions that have a unit of their own (SI Brochure, 9th edition,
// tables 2 and 4).
const (
	Number      Dim = 0
	Time            = second
	Frequency       = -second
	Current         = ampere
	Temperature     = kelvin
	Charge          = ampere + second
	Voltage         = kilogram + 2*metre - 3*second - ampere
	Power           = Voltage + Current
	Energy          = Power + Time
	Resistance      = Voltage - Current
	Conductance     = Current - Voltage
	Capacitance     = Charge - Voltage
	// SlewRate is volts per second: what the slope of a waveform has.
	SlewRate = Voltage - Time
)
