package typec

import (
	"math"

	"sinkproof/bench/quantity"
)

// Termination is what a source sees on one CC pin, in rising order of voltage.
// The zero value is Unknown: the voltage was none.
type Termination int

const (
	// Unknown: no voltage, or not a number.
	Unknown Termination = iota
	// Ra: a powered or marked cable, or a short.
	Ra
	// RaOrRd: between the windows; one source sees Ra, another Rd.
	RaOrRd
	// Rd: a sink.
	Rd
	// RdOrOpen: between the windows; one source sees Rd, another nothing.
	RdOrOpen
	// Open: nothing.
	Open
)

// String returns "Ra", "Ra or Rd", "Rd", "Rd or open", "open" or "unknown".
func (t Termination) String() string {
	switch t {
	case Ra:
		return "Ra"
	case RaOrRd:
		return "Ra or Rd"
	case Rd:
		return "Rd"
	case RdOrOpen:
		return "Rd or open"
	case Open:
		return "open"
	}
	return "unknown"
}

// Between tells whether the voltage lay in a decision zone.
func (t Termination) Between() bool { return t == RaOrRd || t == RdOrOpen }

// Classify tells what every conforming source sees at a CC voltage under its
// advertisement. A voltage that is in no window is in a decision zone; one
// below zero counts as Ra. The voltage refers to the ground of the source,
// which VBUS current may lift against that of the sink by DropGND.
func Classify(v quantity.Quantity, a Advertisement, rev Revision) Termination {
	rd := SourceRd(a, rev)
	switch {
	case v.Dim != quantity.Voltage || math.IsNaN(v.SI) || math.IsNaN(rd.Min.SI):
		return Unknown
	case v.SI <= SourceRa(a, rev).Max.SI:
		return Ra
	case v.SI < rd.Min.SI:
		return RaOrRd
	case v.SI <= rd.Max.SI:
		return Rd
	case v.SI < SourceOpen(a, rev).Min.SI:
		return RdOrOpen
	}
	return Open
}

// Decide tells what a source with comparators at their typical values sees:
// Ra, Rd or Open, and Unknown only for what is no voltage. On the threshold
// itself it is Rd.
func Decide(v quantity.Quantity, a Advertisement) Termination {
	low, high := RaThreshold(a).Typ.SI, OpenThreshold(a).Typ.SI
	switch {
	case v.Dim != quantity.Voltage || math.IsNaN(v.SI) || math.IsNaN(low):
		return Unknown
	case v.SI < low:
		return Ra
	case v.SI <= high:
		return Rd
	}
	return Open
}

// Offer is what a sink reads from its CC voltage, in rising order. The zero
// value is UnknownOffer.
type Offer int

const (
	// UnknownOffer: no voltage, or not a number.
	UnknownOffer Offer = iota
	// NoOffer: no source.
	NoOffer
	// NoneOrDefault: between the windows.
	NoneOrDefault
	// OffersDefault: the default current.
	OffersDefault
	// DefaultOr1500: between the windows.
	DefaultOr1500
	// Offers1500: 1.5 A.
	Offers1500
	// From1500Or3000: between the windows.
	From1500Or3000
	// Offers3000: 3.0 A.
	Offers3000
	// AboveOffers: higher than any source may drive the pin, such as a short
	// to VBUS.
	AboveOffers
)

// String returns what is offered in words.
func (o Offer) String() string {
	switch o {
	case NoOffer:
		return "no source"
	case NoneOrDefault:
		return "no source or default"
	case OffersDefault:
		return "default"
	case DefaultOr1500:
		return "default or 1.5 A"
	case Offers1500:
		return "1.5 A"
	case From1500Or3000:
		return "1.5 A or 3.0 A"
	case Offers3000:
		return "3.0 A"
	case AboveOffers:
		return "above every offer"
	}
	return "unknown"
}

// Between tells whether the voltage lay in a decision zone.
func (o Offer) Between() bool {
	return o == NoneOrDefault || o == DefaultOr1500 || o == From1500Or3000
}

// Advertisement returns the offer where there is exactly one.
func (o Offer) Advertisement() (Advertisement, bool) {
	switch o {
	case OffersDefault:
		return Default, true
	case Offers1500:
		return A1500, true
	case Offers3000:
		return A3000, true
	}
	return Default, false
}

// Advertised tells what every conforming sink with ±10 % Rd reads at a CC
// voltage, which refers to the sink's own ground.
func Advertised(v quantity.Quantity, rev Revision) Offer {
	if v.Dim != quantity.Voltage || math.IsNaN(v.SI) {
		return UnknownOffer
	}
	if v.SI <= SinkOpen(rev).Max.SI {
		return NoOffer
	}
	zones := []Offer{NoneOrDefault, DefaultOr1500, From1500Or3000}
	for i, a := range Advertisements() {
		window := SinkWindow(a, rev)
		if v.SI < window.Min.SI {
			return zones[i]
		}
		if v.SI <= window.Max.SI {
			return zones[i] + 1
		}
	}
	return AboveOffers
}

// DecideOffer tells what a sink with comparators at their typical values
// reads: NoOffer, OffersDefault, Offers1500 or Offers3000.
func DecideOffer(v quantity.Quantity) Offer {
	switch {
	case v.Dim != quantity.Voltage || math.IsNaN(v.SI):
		return UnknownOffer
	case v.SI >= SinkThreshold(A3000).Typ.SI:
		return Offers3000
	case v.SI >= SinkThreshold(A1500).Typ.SI:
		return Offers1500
	case v.SI >= SinkThreshold(Default).Typ.SI:
		return OffersDefault
	}
	return NoOffer
}
