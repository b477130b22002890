package typec

import "sinkproof/bench/quantity"

// Tolerance is the tolerance of a sink's Rd, which decides what the sink may do.
type Tolerance int

const (
	// Within10: ±10 %; the sink may read the advertised current.
	Within10 Tolerance = iota
	// Within20: ±20 %; the sink may take default current only.
	Within20
)

// String returns "±10 %" or "±20 %".
func (t Tolerance) String() string {
	if t == Within20 {
		return "±20 %"
	}
	return "±10 %"
}

// MayResolve tells whether a sink with this tolerance may take 1.5 A or 3.0 A
// by reading its CC voltage (R2.5, Table 4-28).
func (t Tolerance) MayResolve() bool { return t == Within10 }

// RdNominal is the sink termination, one on each CC pin, each to ground.
func RdNominal() Range {
	return nominal(quantity.Resistance, 5100, r20("section 4.5.2.2.3.1"))
}

// RdWindow is the termination that a sink of the given tolerance may have.
// For a production limit ±10 % is safe for every kind of sink, and ±20 % is
// the widest legal window.
func RdWindow(t Tolerance) Range {
	if t == Within20 {
		return around(quantity.Resistance, 4080, 5100, 6120, r25("4-28"))
	}
	return around(quantity.Resistance, 4590, 5100, 5610, r25("4-28"))
}

// CCMaximum is the highest voltage on a CC pin with Rd of the given tolerance:
// 5.5 V · 5.61 kΩ/(9.5 kΩ + 5.61 kΩ) and 356.4 µA · 6.12 kΩ, rounded.
func CCMaximum(t Tolerance) Range {
	if t == Within20 {
		return atMost(quantity.Voltage, 2.18, r25("4-28"))
	}
	return atMost(quantity.Voltage, 2.04, r25("4-28"))
}

// DeadBatteryClamp is the voltage clamp that a controller without power may
// show in place of Rd: ±20 %. It cannot resolve the advertised current.
func DeadBatteryClamp() Range {
	return around(quantity.Voltage, 0.88, 1.1, 1.32, r25("4-28"))
}

// RdController is Rd inside a port controller, as an example of the class:
// trimmed while it has power, untrimmed on a dead battery.
func RdController(powered bool) Range {
	source := seen("TI TUSB320 data sheet SLLSEN9F, section 6.5")
	if powered {
		return around(quantity.Resistance, 4600, 5100, 5600, source)
	}
	return around(quantity.Resistance, 4100, 5100, 6100, source)
}

// RaWindow is the load of a powered or marked cable on its VCONN wire. The
// middle of 1 kΩ is what a port controller names as typical (TI TUSB422).
func RaWindow() Range {
	return around(quantity.Resistance, 800, 1000, 1200, r25("4-29"))
}

// ZOpen is the impedance to ground that must still read as open; it holds
// below CCClamp.
func ZOpen() Range { return atLeast(quantity.Resistance, 126e3, r25("4-30")) }

// CCClamp is the voltage below which a CC pin may not clamp (vCC-Clamp).
func CCClamp() Range { return atLeast(quantity.Voltage, 2.9, r25("4-40")) }

// SBUOpen is the open impedance of an SBU pin.
func SBUOpen() Range { return atLeast(quantity.Resistance, 950e3, r25("4-31")) }

// CCAbsoluteMaximum is what a CC pin of a controller of the 5 V class
// survives, as an example; read the data sheet of the chip on the unit.
func CCAbsoluteMaximum() Range {
	return volts(-0.3, 6, seen("TI TUSB319-Q1 data sheet SLLSEV4, absolute maximum ratings"))
}

// SourceCCLeakage is the current into a CC pin at 5 V of an unpowered source
// controller, as an example of the class.
func SourceCCLeakage() Range {
	return atMost(quantity.Current, 1e-6, seen("TI TUSB319-Q1 data sheet SLLSEV4, electrical characteristics"))
}

// SinkCCLeakage is the current into a CC pin at 5.5 V of an unpowered sink
// controller: its dead-battery termination conducts. An example of the class.
func SinkCCLeakage() Range {
	return atMost(quantity.Current, 1.36e-3, seen("TI TUSB422 data sheet, electrical characteristics"))
}
