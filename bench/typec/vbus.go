package typec

import (
	"math"

	"sinkproof/bench/quantity"
)

// VSafe5V is VBUS at the connector of a source.
func VSafe5V() Range {
	return around(quantity.Voltage, 4.75, 5, 5.5, seen("USB PD vSafe5V, as in the Linux TCPM sources; minimum also in the Microchip PSF configuration"))
}

// VSafe0V is VBUS regarded as off. A source must see this before it may apply
// VBUS.
func VSafe0V() Range {
	return volts(0, 0.8, seen("USB PD vSafe0V, as in the Linux TCPM sources"))
}

// LegacyVBUS is VBUS at the connector of a legacy high-power port or a
// charging port; a later change notice raised 5.25 V to 5.5 V (from memory).
func LegacyVBUS() Range {
	return around(quantity.Voltage, 4.75, 5, 5.25, seen("public wiki of an open solar project on dedicated charging ports"))
}

// LegacyLowPowerVBUS is VBUS of a low-power hub port.
func LegacyLowPowerVBUS() Range { return volts(4.4, 5.25, memory("USB 2.0 section 7.2.2")) }

// HostVBUS is VBUS of a USB 3.x host port; 5.25 V at most before the change
// notice.
func HostVBUS() Range { return volts(4.45, 5.5, memory("USB 3.2 section 11.4")) }

// DeviceVBUS is the voltage at which a low-power device must still work; 4.0 V
// in USB 3.0.
func DeviceVBUS() Range {
	return atLeast(quantity.Voltage, 4.4, seen("USB 2.0, as in public encyclopedia text on unit loads, secondary"))
}

// SourceLeakage is the impedance from VBUS to ground of a source that does not
// drive it.
func SourceLeakage() Range {
	return atLeast(quantity.Resistance, 72.4e3, seen("USB Type-C R1.0 (2014-08), Table 4-2, secondary excerpt"))
}

// BackFeed is the current into VBUS that holds an idle source with the least
// leakage at the top of vSafe0V: 0.8 V / 72.4 kΩ = 11.05 µA. A source that
// sees more than that does not attach.
func BackFeed() Range {
	return atMost(quantity.Current, VSafe0V().Max.SI/SourceLeakage().Min.SI, computed("vSafe0V / source leakage impedance"))
}

// UpstreamCurrent is what a device may drive into its own VBUS at any time:
// nothing.
func UpstreamCurrent() Range {
	return atMost(quantity.Current, 0, seen("USB 2.0 section 7.2.1, as quoted in public discussion, secondary"))
}

// SinkCapacitance is the capacitance of a sink on VBUS while not attached.
func SinkCapacitance() Range { return atMost(quantity.Capacitance, 10e-6, r25("4-3")) }

// SinkBulk is the capacitance that a sink may show: 1 µF to 10 µF at attach
// (cSnkBulk), to 100 µF only under a power contract (cSnkBulkPd).
func SinkBulk(contract bool) Range {
	source := seen("USB PD cSnkBulk and cSnkBulkPd, as quoted in public design notes")
	if contract {
		return between(quantity.Capacitance, 1e-6, 100e-6, source)
	}
	return between(quantity.Capacitance, 1e-6, 10e-6, source)
}

// SourceBulkMaximum is the bulk capacitance of a port that is a source only;
// dual-role ports keep to SinkCapacitance.
func SourceBulkMaximum() Range {
	return atMost(quantity.Capacitance, 3000e-6, seen("USB Type-C Table 4-2, as quoted in a public board review, secondary"))
}

// SourceBulk is the bulk capacitance of one port of a source (cSrcBulk); 120
// µF where ports share it.
func SourceBulk() Range { return atLeast(quantity.Capacitance, 10e-6, memory("USB PD cSrcBulk")) }

// InrushLoad is the capacitance of the load that inrush may not exceed,
// beside InrushOhms.
func InrushLoad() Range {
	return nominal(quantity.Capacitance, 10e-6, seen("USB 2.0 section 7.2.4.1, as quoted in public discussion, secondary"))
}

// InrushOhms is the unit load beside InrushLoad.
func InrushOhms() Range {
	return nominal(quantity.Resistance, 44, seen("USB 2.0 section 7.2.4.1, as quoted in public discussion, secondary"))
}

// InrushCharge is the charge that corresponds to InrushLoad: about 10 µF ·
// 5.15 V.
func InrushCharge() Range {
	return nominal(quantity.Charge, 51.4e-6, seen("Cypress community note DOC-11437"))
}

// InrushThreshold is the current above which a sink counts as charging its
// capacitance. It is watched for 100 ms or more after attach; the region ends
// after 100 µs below it.
func InrushThreshold() Range {
	return nominal(quantity.Current, 0.1, seen("USB-IF inrush test text, as quoted in public discussion"))
}

// CurrentLimit is what a power-only sink may draw under an advertisement;
// 1.5 A and 3.0 A only if it reads CC.
func CurrentLimit(a Advertisement) Range {
	place := "section 4.5.2.3.1.1"
	if a == Default {
		place = "section 4.6.2.1"
	}
	return atMost(quantity.Current, pick(a, 0.5, 1.5, 3), r20(place))
}

// CurrentLimitUSB3 is the limit of the default advertisement with USB 3.x
// data.
func CurrentLimitUSB3() Range {
	return atMost(quantity.Current, 0.9, seen("ST UM2191 Rev 2, Table 4"))
}

// UnconfiguredCurrent is one unit load of USB 2.0; 150 mA in USB 3.x.
func UnconfiguredCurrent() Range {
	return atMost(quantity.Current, 0.1, seen("public articles on the limits of standard ports"))
}

// SuspendCurrent is what a suspended device may draw.
func SuspendCurrent() Range {
	return atMost(quantity.Current, 2.5e-3, seen("public articles on the limits of standard ports"))
}

// ChargingPortCurrent is what a dedicated charging port gives: it may not
// limit below the lower figure, nor shut down below the upper one before VBUS
// falls to 2 V.
func ChargingPortCurrent() Range {
	return between(quantity.Current, 0.5, 1.5, seen("USB Battery Charging 1.2, as described in public articles, secondary"))
}

// ChargingPortShort is the resistance between D+ and D- of a dedicated
// charging port.
func ChargingPortShort() Range {
	return atMost(quantity.Resistance, 200, seen("USB Battery Charging 1.2, as described in public articles, secondary"))
}

// DischargeSeconds is how long a capacitance takes to fall from one voltage to
// another through a resistor: R·C·ln(from/to). It is NaN unless from and to
// are positive.
func DischargeSeconds(farads, ohms, fromVolts, toVolts float64) float64 {
	if !(fromVolts > 0 && toVolts > 0) {
		return math.NaN()
	}
	return ohms * farads * math.Log(fromVolts/toVolts)
}

// BleedOhms is the largest resistor that empties a capacitance from the
// highest VBUS to vSafe0V within tVBUSOFF. Instruments on VBUS count as load
// beside it.
func BleedOhms(farads float64) float64 {
	perFarad := DischargeSeconds(1, 1, VSafe5V().Max.SI, VSafe0V().Max.SI)
	return TVBUSOff().Max.SI / (farads * perFarad)
}
