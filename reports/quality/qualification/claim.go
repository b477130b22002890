package qualification

import (
	"math"
	"strconv"
)

// Claim is what became of a claim.
type Claim int

// What can become of it.
const (
	Open Claim = iota
	Proved
	Disproved
)

// String returns the word.
func (c Claim) String() string { return [...]string{"open", "proved", "disproved"}[c] }

// claimed decides a claim by the p-values against it and against its contrary.
func claimed(against, contrary, alpha float64) Claim {
	switch {
	case against <= alpha:
		return Proved
	case contrary <= alpha:
		return Disproved
	}
	return Open
}

// units is a number of units that a size function asks for: 0 where no number
// would do.
func units(size float64) int {
	if math.IsNaN(size) || size > 1e9 {
		return 0
	}
	return int(math.Ceil(size))
}

// Amount prints a value with its unit, to the digits that a reader can use.
func Amount(v float64, unit string) string {
	if unit == "1" {
		unit = ""
	}
	for _, p := range []struct {
		sign  string
		scale float64
	}{{"M", 1e6}, {"k", 1e3}, {"", 1}, {"m", 1e-3}, {"µ", 1e-6}, {"n", 1e-9}} {
		if unit != "" && unit != "V/s" && math.Abs(v) >= 0.9995*p.scale {
			return digits(v/p.scale) + " " + p.sign + unit
		}
	}
	if unit == "" {
		return digits(v)
	}
	return digits(v) + " " + unit
}

// digits prints four significant digits.
func digits(v float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	if err != nil {
		return strconv.FormatFloat(v, 'g', 4, 64)
	}
	return strconv.FormatFloat(rounded, 'g', -1, 64)
}
