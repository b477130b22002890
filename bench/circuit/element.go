package circuit

import "math"

// Kind tells what an element is.
type Kind uint8

// The kinds of element, named as their constructors.
const (
	KindResistor Kind = iota
	KindCapacitor
	KindVoltageSource
	KindCurrentSource
	KindSwitch
	KindDiode
	KindLimitedSupply
	KindLimitedCurrentSource
	KindCharger
)

// String returns the name of the constructor in plain words.
func (k Kind) String() string {
	return [...]string{"resistor", "capacitor", "voltage source", "current source", "switch", "diode",
		"limited supply", "limited current source", "charger"}[k]
}

// element is one element with its values and its state. Current counts from a
// through the element to b.
type element struct {
	// What is asked for at every entry comes first.
	law     law
	charger *charger
	a, b, c Node
	kind    Kind
	segment int8
	canSink bool
	enabled bool
	closed  bool

	ohms    float64
	farads  float64
	volts   float64
	amperes float64
	siemens float64
	name    string
}

// law is what holds of an element in a network in time as long as its values, its
// segment and its contact stay: the line that it follows, and over which voltages.
// A charger has none.
type law struct {
	siemens, amperes float64
	low, high        float64
	below, above     int8
	form             uint8
}

// learn finds the law anew. Whoever changes an element ends with it.
func (e *element) learn() {
	l := &e.law
	l.siemens, l.amperes = e.line()
	l.low, l.high, l.below, l.above = math.Inf(-1), math.Inf(1), 0, 0
	if e.piecewise() {
		l.low, l.high, l.below, l.above = e.span()
	}
	l.form = e.shaping()
}

// Segments of the diode.
const (
	diodeBlocks int8 = iota
	diodeConducts
)

// Segments of both limited sources, in the order of rising voltage.
const (
	limitSource int8 = iota
	limitRegulates
	limitBlocks
	limitSinks
)

func (e *element) validate() error {
	check := func(ok bool, what string, v float64) error {
		if ok {
			return nil
		}
		return &ValueError{e.name, what, v}
	}
	if e.kind != KindCapacitor && e.kind != KindCurrentSource && e.kind != KindCharger {
		if err := check(positive(e.ohms), "resistance", e.ohms); err != nil {
			return err
		}
	}
	if e.kind == KindCapacitor {
		if err := check(positive(e.farads), "capacitance", e.farads); err != nil {
			return err
		}
	}
	if e.kind == KindLimitedSupply || e.kind == KindLimitedCurrentSource {
		if err := check(e.amperes >= 0 && finite(e.amperes), "current", e.amperes); err != nil {
			return err
		}
	}
	if e.kind == KindDiode {
		if err := check(e.siemens >= 0 && finite(e.siemens), "leak", e.siemens); err != nil {
			return err
		}
	}
	if err := check(finite(e.volts), "voltage", e.volts); err != nil {
		return err
	}
	if err := check(finite(e.amperes), "current", e.amperes); err != nil {
		return err
	}
	if e.kind == KindCharger {
		return e.charger.validate(e.name)
	}
	return nil
}

// joins tells whether the element makes its terminals one island: because it
// conducts, or because its conditions look at both.
func (e *element) joins() bool {
	switch e.kind {
	case KindSwitch:
		return e.closed
	case KindCurrentSource:
		return false
	case KindLimitedSupply, KindLimitedCurrentSource:
		return e.enabled
	}
	return true
}

// present tells whether the element takes part in the equations at all.
func (e *element) present() bool { return e.kind == KindCurrentSource || e.joins() }

// form is the part of the state of a piecewise element that shapes the
// conductances, less than 1<<formBits; solutions are kept under it. Source values do
// not enter.
func (e *element) form() uint64 {
	if e.charger != nil {
		return e.charger.form()
	}
	return uint64(e.law.form)
}

// formBits is how many bits a form takes.
const formBits = 2

func (e *element) shaping() uint8 {
	switch e.kind {
	case KindDiode:
		return uint8(e.segment)
	case KindLimitedSupply, KindLimitedCurrentSource:
		if e.segment == limitRegulates {
			return 1
		}
	}
	return 0
}

// line returns the element between a and b as i = siemens*v + amperes.
func (e *element) line() (siemens, amperes float64) {
	switch e.kind {
	case KindResistor:
		return 1 / e.ohms, 0
	case KindSwitch:
		if e.closed {
			return 1 / e.ohms, 0
		}
	case KindVoltageSource:
		return 1 / e.ohms, -e.volts / e.ohms
	case KindCurrentSource:
		return 0, e.amperes
	case KindDiode:
		if e.segment == diodeConducts {
			return e.siemens + 1/e.ohms, -e.volts / e.ohms
		}
		return e.siemens, 0
	case KindLimitedSupply, KindLimitedCurrentSource:
		return e.limitLine()
	}
	return 0, 0
}

func (e *element) limitLine() (siemens, amperes float64) {
	if !e.enabled {
		return 0, 0
	}
	switch e.segment {
	case limitSource:
		return 0, -e.amperes
	case limitRegulates:
		return 1 / e.ohms, -e.volts / e.ohms
	case limitSinks:
		return 0, e.amperes
	}
	return 0, 0
}

// span returns the voltages between which the present segment is valid, and
// the segments below and above.
func (e *element) span() (low, high float64, below, above int8) {
	low, high = math.Inf(-1), math.Inf(1)
	if e.kind == KindDiode {
		if e.segment == diodeConducts {
			return e.volts, high, diodeBlocks, 0
		}
		return low, e.volts, 0, diodeConducts
	}
	drop := e.amperes * e.ohms
	switch e.segment {
	case limitSource:
		return low, e.volts - drop, 0, limitRegulates
	case limitRegulates:
		if e.canSink {
			return e.volts - drop, e.volts + drop, limitSource, limitSinks
		}
		return e.volts - drop, e.volts, limitSource, limitBlocks
	case limitBlocks:
		return e.volts, high, limitRegulates, 0
	case limitSinks:
		return e.volts + drop, high, limitRegulates, 0
	}
	return low, high, 0, 0
}

// piecewise tells whether the element has segments along its own voltage.
func (e *element) piecewise() bool {
	return e.kind == KindDiode || e.kind == KindLimitedSupply || e.kind == KindLimitedCurrentSource
}

// segmentName says in words where the element is on its characteristic.
func (e *element) segmentName() string {
	switch e.kind {
	case KindSwitch:
		if e.closed {
			return "closed"
		}
		return "open"
	case KindDiode:
		return [...]string{"blocking", "conducting"}[e.segment]
	case KindLimitedSupply, KindLimitedCurrentSource:
		if !e.enabled {
			return "off"
		}
		return [...]string{"constant current", "constant voltage", "blocking", "sinking limit"}[e.segment]
	case KindCharger:
		return e.charger.segmentName()
	}
	return "linear"
}
