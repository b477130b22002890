package typec

import (
	"math"
	"strings"

	"sinkproof/bench/quantity"
)

// Basis says how a figure is known.
type Basis int

const (
	// Seen: read in the document that the source names.
	Seen Basis = iota
	// Computed: arithmetic on figures that were seen; the source names the
	// formula.
	Computed
	// Memory: general knowledge; check the document before a limit is built
	// on it.
	Memory
)

// String returns "seen", "computed" or "from memory".
func (b Basis) String() string {
	switch b {
	case Computed:
		return "computed"
	case Memory:
		return "from memory"
	}
	return "seen"
}

// Range is a figure with its limits and its source. A limit that does not
// exist is infinite (Min -Inf, Max +Inf) and a missing typical value is NaN;
// ask HasMin, HasTyp and HasMax before one is printed or kept.
type Range struct {
	Min, Typ, Max quantity.Quantity
	// Source names document, revision and table.
	Source string
	Basis  Basis
}

// HasMin tells whether there is a lower limit.
func (r Range) HasMin() bool { return !math.IsInf(r.Min.SI, -1) }

// HasTyp tells whether there is a nominal or typical value.
func (r Range) HasTyp() bool { return !math.IsNaN(r.Typ.SI) }

// HasMax tells whether there is an upper limit.
func (r Range) HasMax() bool { return !math.IsInf(r.Max.SI, 1) }

// Dim is the dimension of the figure.
func (r Range) Dim() quantity.Dim { return r.Min.Dim }

// Contains tells whether q has the dimension of the range and lies within its
// limits, both included.
func (r Range) Contains(q quantity.Quantity) bool {
	return q.Dim == r.Dim() && r.Min.SI <= q.SI && q.SI <= r.Max.SI
}

// String gives the limits that exist: "4.59 kΩ to 5.61 kΩ, nominal 5.1 kΩ".
func (r Range) String() string {
	var parts []string
	switch {
	case r.HasMin() && r.HasMax():
		parts = append(parts, r.Min.String()+" to "+r.Max.String())
	case r.HasMin():
		parts = append(parts, "at least "+r.Min.String())
	case r.HasMax():
		parts = append(parts, "at most "+r.Max.String())
	}
	if r.HasTyp() {
		parts = append(parts, "nominal "+r.Typ.String())
	}
	return strings.Join(parts, ", ")
}

// citation is where a figure stands and how it is known.
type citation struct {
	text  string
	basis Basis
}

func seen(text string) citation     { return citation{text, Seen} }
func computed(text string) citation { return citation{text, Computed} }
func memory(text string) citation   { return citation{"from memory: " + text, Memory} }

// r25 cites a table of the current revision.
func r25(table string) citation {
	return seen("USB Type-C R2.5 (2026-03), Table " + table + ", secondary excerpt")
}

// r20 cites a place of the revision with the rounded windows.
func r20(place string) citation {
	return seen("USB Type-C R2.0 (2019-08), " + place + ", secondary excerpt")
}

// around is a figure with both limits and a nominal value.
func around(dim quantity.Dim, low, typ, high float64, c citation) Range {
	of := func(si float64) quantity.Quantity { return quantity.Quantity{SI: si, Dim: dim} }
	return Range{Min: of(low), Typ: of(typ), Max: of(high), Source: c.text, Basis: c.basis}
}

func between(dim quantity.Dim, low, high float64, c citation) Range {
	return around(dim, low, math.NaN(), high, c)
}

func atLeast(dim quantity.Dim, low float64, c citation) Range {
	return around(dim, low, math.NaN(), math.Inf(1), c)
}

func atMost(dim quantity.Dim, high float64, c citation) Range {
	return around(dim, math.Inf(-1), math.NaN(), high, c)
}

func nominal(dim quantity.Dim, typ float64, c citation) Range {
	return around(dim, math.Inf(-1), typ, math.Inf(1), c)
}

func volts(low, high float64, c citation) Range { return between(quantity.Voltage, low, high, c) }
