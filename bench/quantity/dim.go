package quantity

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

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

// maxExponent keeps every exponent far from where the packed digits would
// carry into each other (±128).
const maxExponent = 100

// ErrExponent is the cause when a product would carry an exponent of a base
// unit beyond ±100.
var ErrExponent = errors.New("exponent of a base unit beyond ±100")

// exponents unpacks the digits: kilogram, metre, second, ampere, kelvin.
func (d Dim) exponents() [5]int {
	var e [5]int
	x := int64(d)
	for i := range e {
		digit := int8(x)
		e[i] = int(digit)
		x = (x - int64(digit)) >> 8
	}
	return e
}

// Times returns the dimension of a product.
// It returns ErrExponent where an exponent would leave ±100.
func (d Dim) Times(e Dim) (Dim, error) { return d.join(e, 1) }

// Per returns the dimension of the quotient d/e.
// It returns ErrExponent where an exponent would leave ±100.
func (d Dim) Per(e Dim) (Dim, error) { return d.join(e, -1) }

func (d Dim) join(e Dim, sign int) (Dim, error) {
	left, right := d.exponents(), e.exponents()
	for i := range left {
		sum := left[i] + sign*right[i]
		if sum > maxExponent || sum < -maxExponent {
			return 0, fmt.Errorf("combine the units %s and %s: %w", d.Unit(), e.Unit(), ErrExponent)
		}
	}
	return d + Dim(sign)*e, nil
}

// named is what is known of a dimension that has a name of its own.
type named struct {
	name, unit, example string
	// low and high are the powers of ten of the smallest and the largest
	// prefix that printing uses.
	low, high int
}

// known returns the name, the unit and the prefixes of a dimension. Seconds
// and kelvins take no prefix above one: nobody reads kiloseconds.
func (d Dim) known() (named, bool) {
	switch d {
	case Number:
		return named{"number", "", "0.05 or 5 %", 0, 0}, true
	case Time:
		return named{"time", "s", "100 ms", -15, 0}, true
	case Frequency:
		return named{"frequency", "Hz", "50 Hz", -15, 12}, true
	case Current:
		return named{"current", "A", "500 mA", -15, 12}, true
	case Temperature:
		return named{"temperature", "K", "25 °C", -15, 0}, true
	case Charge:
		return named{"charge", "C", "1 mC", -15, 12}, true
	case Voltage:
		return named{"voltage", "V", "4.75 V", -15, 12}, true
	case Power:
		return named{"power", "W", "2.5 W", -15, 12}, true
	case Energy:
		return named{"energy", "J", "10 mJ", -15, 12}, true
	case Resistance:
		return named{"resistance", "Ω", "5.1 kΩ", -15, 12}, true
	case Conductance:
		return named{"conductance", "S", "1 mS", -15, 12}, true
	case Capacitance:
		return named{"capacitance", "F", "10 µF", -15, 12}, true
	case SlewRate:
		return named{"slew rate", "V/s", "0.1 V/s", -15, 12}, true
	}
	return named{}, false
}

// String returns the name of the dimension, such as "voltage"; a dimension
// without a name is called by its unit, "quantity in V²".
func (d Dim) String() string {
	if n, ok := d.known(); ok {
		return n.name
	}
	return "quantity in " + d.Unit()
}

// Unit returns the SI unit without prefix, such as "V"; it is empty for a pure
// number. ParseUnit takes it back to the same dimension with scale 1.
func (d Dim) Unit() string {
	if n, ok := d.known(); ok {
		return n.unit
	}
	return d.compound()
}

// compound writes a dimension without a name in volts, amperes, seconds,
// kelvins and metres: on a bench the kilogram comes in by way of the volt.
func (d Dim) compound() string {
	e := d.exponents()
	volts := e[0]
	powers := [...]struct {
		symbol   string
		exponent int
	}{
		{"V", volts}, {"A", e[3] + volts}, {"s", e[2] + 3*volts}, {"K", e[4]}, {"m", e[1] - 2*volts},
	}
	var over, under strings.Builder
	for _, p := range powers {
		switch {
		case p.exponent > 0:
			if over.Len() > 0 {
				over.WriteString("·")
			}
			over.WriteString(p.symbol + superscript(p.exponent))
		case p.exponent < 0:
			under.WriteString("/" + p.symbol + superscript(-p.exponent))
		}
	}
	if over.Len() == 0 {
		over.WriteString("1")
	}
	return over.String() + under.String()
}

// superscript writes the exponents for which common fonts have a raised digit
// and falls back to a caret.
func superscript(n int) string {
	switch n {
	case 1:
		return ""
	case 2:
		return "²"
	case 3:
		return "³"
	}
	return "^" + strconv.Itoa(n)
}

// article returns the dimension with its article: "a voltage", "an energy".
func (d Dim) article() string {
	if d == Energy {
		return "an energy"
	}
	return "a " + d.String()
}

// wants says what a text for this dimension looks like: "a voltage such as
// 4.75 V".
func (d Dim) wants() string {
	n, ok := d.known()
	switch {
	case d == Number:
		return "a number without a unit such as " + n.example
	case ok:
		return d.article() + " such as " + n.example
	}
	return d.article() + " such as 1 " + d.Unit()
}

// DimNamed returns the dimension with the given name, such as "slew rate".
func DimNamed(name string) (Dim, bool) {
	for _, d := range Dims() {
		if d.String() == name {
			return d, true
		}
	}
	return 0, false
}

// Dims returns the dimensions that have a name, in the order of their
// declaration.
func Dims() []Dim {
	return []Dim{
		Number, Time, Frequency, Current, Temperature, Charge, Voltage,
		Power, Energy, Resistance, Conductance, Capacitance, SlewRate,
	}
}
