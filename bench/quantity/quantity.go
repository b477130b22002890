package quantity

import (
	"fmt"
	"math"
	"strconv"
)

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
func Celsius(c float64) Quantity { return Quantity{c + zeroCelsius, Temperature} }

// Pure returns a number without unit, such as a ratio; 0.05 is 5 %.
func Pure(x float64) Quantity { return Quantity{x, Number} }

// coldest is where printing changes from degrees Celsius to kelvin. A
// temperature below -100 °C does not occur on a bench, but a difference of two
// temperatures does, and has to be read in kelvin.
const coldest = zeroCelsius - 100

// celsius tells whether the quantity prints in degrees Celsius.
func (q Quantity) celsius() bool { return q.Dim == Temperature && q.SI >= coldest }

// String returns value and unit with the fewest digits from which Parse gets
// the same float64 back, and the SI prefix that leaves one to three digits
// before the point: "4.75 V", "5.1 kΩ". Temperatures from -100 °C print in
// degrees Celsius, smaller ones in kelvin. A value that is not finite prints
// as NaN or Inf with its unit, which Parse refuses.
func (q Quantity) String() string {
	if math.IsNaN(q.SI) || math.IsInf(q.SI, 0) {
		return join(strconv.FormatFloat(q.SI, 'g', -1, 64), q.Dim.Unit())
	}
	if q.celsius() {
		if text, ok := shortestCelsius(q.SI); ok {
			return text
		}
		return shortest(q.SI).in("K", 0, 0)
	}
	return q.print(shortest(q.SI))
}

// shortestCelsius finds the fewest digits that come back to the same kelvin
// value; beyond some thousand degrees there may be none.
func shortestCelsius(kelvins float64) (string, bool) {
	c := kelvins - zeroCelsius
	for n := 1; n <= 17; n++ {
		digits := strconv.FormatFloat(c, 'e', n-1, 64)
		back, err := strconv.ParseFloat(digits, 64)
		if err == nil && back+zeroCelsius == kelvins {
			return scientific(digits).in("°C", 0, 0), true
		}
	}
	return "", false
}

// Text returns the value rounded to the given number of significant digits
// (at least one), trailing zeros included, for screens: Volts(4.7).Text(4) is
// "4.700 V".
func (q Quantity) Text(digits int) string {
	switch {
	case math.IsNaN(q.SI) || math.IsInf(q.SI, 0):
		return q.String()
	case q.celsius():
		return significant(q.SI-zeroCelsius, digits).in("°C", 0, 0)
	}
	return q.print(significant(q.SI, digits))
}

// Percent is String for a pure number in percent: "5 %". Quantities with a
// unit print as usual.
func (q Quantity) Percent() string {
	if q.Dim != Number || math.IsNaN(q.SI) || math.IsInf(q.SI, 0) {
		return q.String()
	}
	d := shortest(q.SI)
	d.exp += 2
	return d.in("%", 0, 0)
}

// print writes rounded digits with the unit and the prefix of the dimension.
func (q Quantity) print(d decimal) string {
	unit, low, high := q.Dim.style()
	return d.in(unit, low, high)
}

// style returns how a dimension prints; those without a name take no prefix.
func (d Dim) style() (unit string, low, high int) {
	if n, ok := d.known(); ok {
		return n.unit, n.low, n.high
	}
	return d.compound(), 0, 0
}

// In returns the value as a plain number in the given unit, such as
// Volts(0.25).In("mV"). The error is a *ParseError for an unknown unit and a
// *DimError for one of another dimension.
func (q Quantity) In(unit string) (float64, error) {
	dim, scale, err := ParseUnit(unit)
	if err != nil {
		return 0, fmt.Errorf("express a value in %q: %w", unit, err)
	}
	if dim != q.Dim {
		return 0, &DimError{Op: "express in " + unit, Left: q.Dim, Right: dim}
	}
	return q.SI / scale, nil
}
