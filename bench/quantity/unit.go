package quantity

import (
	"strconv"
	"strings"
	"unicode/utf8"
)

// unit is a written unit resolved: its dimension, its power of ten (kept
// apart so that 4.7 kΩ is the float64 nearest to 4700), the factors that are
// no power of ten, and whether it counts from 0 °C.
type unit struct {
	dim           Dim
	exp           int
	over, under   float64
	celsius       bool
	mayHavePrefix bool
}

// zeroCelsius is 0 °C in kelvin (SI Brochure, 9th edition, section 2.3.1).
const zeroCelsius = 273.15

// symbol returns the unit of a symbol without prefix. The hour and the minute
// are accepted non-SI units (SI Brochure, table 8); the ohm may be spelled
// with either Unicode character or in letters.
func symbol(s string) (unit, bool) {
	u := unit{over: 1, under: 1, mayHavePrefix: true}
	switch s {
	case "V":
		u.dim = Voltage
	case "A":
		u.dim = Current
	case "\u03a9", "\u2126", "Ohm", "ohm":
		u.dim = Resistance
	case "F":
		u.dim = Capacitance
	case "s":
		u.dim = Time
	case "Hz":
		u.dim = Frequency
	case "K":
		u.dim = Temperature
	case "C":
		u.dim = Charge
	case "W":
		u.dim = Power
	case "J":
		u.dim = Energy
	case "S":
		u.dim = Conductance
	case "m":
		u.dim = metre
	case "g":
		u.dim, u.exp = kilogram, -3
	case "Ah":
		u.dim, u.over = Charge, 3600
	case "Wh":
		u.dim, u.over = Energy, 3600
	default:
		return plainSymbol(s)
	}
	return u, true
}

// plainSymbol returns the units that take no prefix.
func plainSymbol(s string) (unit, bool) {
	u := unit{over: 1, under: 1}
	switch s {
	case "min":
		u.dim, u.over = Time, 60
	case "h":
		u.dim, u.over = Time, 3600
	case "°C":
		u.dim, u.celsius = Temperature, true
	case "%":
		u.exp = -2
	case "ppm":
		u.exp = -6
	case "1":
	default:
		return unit{}, false
	}
	return u, true
}

// prefix returns the power of ten of an SI prefix. Micro is U+00B5, U+03BC or
// the letter u.
func prefix(r rune) (int, bool) {
	switch r {
	case 'f':
		return -15, true
	case 'p':
		return -12, true
	case 'n':
		return -9, true
	case '\u00b5', '\u03bc', 'u':
		return -6, true
	case 'm':
		return -3, true
	case 'k':
		return 3, true
	case 'M':
		return 6, true
	case 'G':
		return 9, true
	case 'T':
		return 12, true
	}
	return 0, false
}

// prefixFor is the inverse of prefix for the multiples of three from -15 to 12.
func prefixFor(exp int) string {
	switch exp {
	case -15:
		return "f"
	case -12:
		return "p"
	case -9:
		return "n"
	case -6:
		return "µ"
	case -3:
		return "m"
	case 3:
		return "k"
	case 6:
		return "M"
	case 9:
		return "G"
	case 12:
		return "T"
	}
	return ""
}

// lookup resolves a symbol with or without prefix. The bare symbol wins:
// "min" is a minute and "m" a metre.
func lookup(s string) (unit, bool) {
	if u, ok := symbol(s); ok {
		return u, true
	}
	r, size := utf8.DecodeRuneInString(s)
	exp, ok := prefix(r)
	if !ok {
		return unit{}, false
	}
	u, ok := symbol(s[size:])
	if !ok || !u.mayHavePrefix {
		return unit{}, false
	}
	u.exp += exp
	return u, true
}

// alike lists the units that differ from s in upper and lower case only, for
// the message about an unknown unit.
func alike(s string) []string {
	var found []string
	for _, p := range []string{"", "m", "k", "M", "µ", "n", "p", "G"} {
		for _, u := range []string{"V", "A", "Ω", "Ohm", "F", "s", "Hz", "K", "C", "W", "J", "S", "Ah", "Wh"} {
			if strings.EqualFold(p+u, s) {
				found = append(found, p+u)
			}
		}
	}
	for _, u := range []string{"min", "h", "°C", "ppm"} {
		if strings.EqualFold(u, s) {
			found = append(found, u)
		}
	}
	return found
}

// raise multiplies u by the power n of v; n is negative below a stroke.
func (u unit) raise(v unit, n int) (unit, error) {
	var err error
	for range max(n, -n) {
		if n > 0 {
			u.dim, err = u.dim.Times(v.dim)
			u.exp, u.over, u.under = u.exp+v.exp, u.over*v.over, u.under*v.under
		} else {
			u.dim, err = u.dim.Per(v.dim)
			u.exp, u.over, u.under = u.exp-v.exp, u.over*v.under, u.under*v.over
		}
		if err != nil {
			return unit{}, err
		}
	}
	return u, nil
}

// ParseUnit resolves a written unit such as "mV", "kΩ" or "V/ms": a value in
// that unit times scale is the value in SI. The empty text is a pure number.
// Degrees Celsius are refused, because no factor alone leads to kelvin.
func ParseUnit(text string) (Dim, float64, error) {
	p := parser{text: text, want: "a unit such as V, mA, kΩ or V/ms"}
	u, err := p.unit()
	if err != nil {
		return 0, 0, err
	}
	if u.celsius {
		return 0, 0, p.fail(0, `"°C"`, "K: a unit that counts from zero")
	}
	scale, err := strconv.ParseFloat("1e"+strconv.Itoa(u.exp), 64)
	if err != nil {
		return 0, 0, p.fail(0, "a unit beyond the range of a number", p.want)
	}
	return u.dim, scale * u.over / u.under, nil
}
