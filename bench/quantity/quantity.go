package quantity

// Quantity is a value in SI base units with its dimension.
type Quantity struct {
	SI  float64
	Dim Dim
}

// Volts returns a voltage.
func Volts(v float64) Quantity { return Quantity{v, Voltage} }

// Amperes returns a current.
func Amperes(a float64) Quantity { return Quantity{a, Current} }

// Ohms returns a resistance.
func Ohms(r float64) Quantity { return Quantity{r, Resistance} }

// Farads returns a capacitance.
func Farads(c float64) Quantity { return Quantity{c, Capacitance} }

// Seconds returns a duration.
func Seconds(s float64) Quantity { return Quantity{s, Time} }

// Hertz returns a frequency.
func Hertz(f float64) Quantity { return Quantity{f, Frequency} }

// Celsius returns a temperature given in degrees Celsius; its SI value is in
// kelvin.
func Celsius(c float64) Quantity { return Quantity{c + 273.15, Temperature} }

// Pure returns a number without unit, such as a ratio; 0.05 is 5 %.
func Pure(x float64) Quantity { return Quantity{x, Number} }
