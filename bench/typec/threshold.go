package typec

import (
	"math"

	"sinkproof/bench/quantity"
)

// SourceRa is the window in which a source must see Ra, the load of a cable.
func SourceRa(a Advertisement, rev Revision) Range {
	if rev == R25 {
		return volts(0, pick(a, 0.115, 0.233, 0.428), r25("4-37"))
	}
	return volts(0, pick(a, 0.15, 0.35, 0.75), memory("source tables of R1.x to R2.3"))
}

// SourceRd is the window in which a source must see a sink: only there may it
// apply VBUS. The windows of R2.5 hold for pull-ups by a current source and
// include the dead-battery clamp.
func SourceRd(a Advertisement, rev Revision) Range {
	if rev == R25 {
		return volts(pick(a, 0.261, 0.676, 0.88), pick(a, 1.32, 1.32, 2.181), r25("4-37"))
	}
	if a == A3000 {
		return volts(0.85, 2.45, seen("chromium.org, USB Type-C Cable and Adapter Tips and Tricks, power adapter table"))
	}
	return volts(pick(a, 0.25, 0.45, 0), 1.5, seen("TI TUSB422 data sheet, electrical characteristics"))
}

// SourceOpen is the window in which a source must see nothing (vOPEN). R2.5
// gives it as the connect threshold plus vOffset.
func SourceOpen(a Advertisement, rev Revision) Range {
	if rev == R25 {
		low := SourceRd(a, R25).Max.SI + OpenOffset().Typ.SI
		return atLeast(quantity.Voltage, low, computed("upper end of the connect window + vOffset, R2.5 section 4.11.3"))
	}
	return atLeast(quantity.Voltage, pick(a, 1.65, 1.65, 2.75), memory("source tables of R1.x to R2.3"))
}

// OpenOffset is vOffset, by which the disconnect threshold of a source lies
// above its connect threshold; 0.25 V is the worked example of the standard.
func OpenOffset() Range {
	return nominal(quantity.Voltage, 0.25, seen("USB Type-C R2.5 (2026-03), section 4.11.3, secondary excerpt"))
}

// RaThreshold is the comparator of a source between Ra and Rd, with the spread
// of a controller.
func RaThreshold(a Advertisement) Range {
	return around(quantity.Voltage, pick(a, 0.15, 0.35, 0.76), pick(a, 0.2, 0.4, 0.8), pick(a, 0.25, 0.45, 0.84),
		seen("ChromiumOS EC usb_pd.h, PD_SRC_*_RD_THRESH_MV; TI TPS65981 and TPS65982 data sheet, section 7.8"))
}

// OpenThreshold is the comparator of a source between Rd and open, with the
// spread of a controller.
func OpenThreshold(a Advertisement) Range {
	text := "ChromiumOS EC usb_pd.h, PD_SRC_*_VNC_MV; TI TPS65981 and TPS65982 data sheet, section 7.8"
	if a == Default {
		text = "ChromiumOS EC usb_pd.h, PD_SRC_DEF_VNC_MV; TI TUSB320 data sheet SLLSEN9F, section 6.5"
	}
	return around(quantity.Voltage, pick(a, 1.51, 1.473, 2.423), pick(a, 1.6, 1.6, 2.6), pick(a, 1.64, 1.627, 2.67), seen(text))
}

// SinkWindow is the CC voltage at which a sink must read the advertisement
// (vRd-USB, vRd-1.5, vRd-3.0).
func SinkWindow(a Advertisement, rev Revision) Range {
	if rev == R25 {
		return volts(pick(a, 0.277, 0.746, 1.369), pick(a, 0.612, 1.164, 2.042), r25("4-36"))
	}
	return volts(pick(a, 0.25, 0.7, 1.31), pick(a, 0.61, 1.16, 2.04), r20("Table 4-36"))
}

// SinkOpen is the CC voltage at which a sink must read that no source is there
// (vRa in the older tables).
func SinkOpen(rev Revision) Range {
	if rev == R25 {
		return atMost(quantity.Voltage, 0.276, r25("4-36"))
	}
	return volts(-0.25, 0.15, seen("MT6392 Type-C kernel driver, text table of the voltage on sink CC pins (R1.x Table 4-27), secondary"))
}

// SinkConnect is the CC voltage at which a sink must see a source at all
// (vRd-Connect).
func SinkConnect(t Tolerance, rev Revision) Range {
	switch {
	case rev == R25 && t == Within20:
		return volts(0.249, 2.181, r25("4-35"))
	case rev == R25:
		return volts(SinkWindow(Default, R25).Min.SI, SinkWindow(A3000, R25).Max.SI, r25("4-36"))
	case t == Within20:
		return volts(0.25, CCMaximum(Within20).Max.SI, r20("Table 4-36, with the maximum CC voltage of ±20 % Rd"))
	}
	return volts(0.25, 2.04, r20("Table 4-36"))
}

// SinkThreshold is the comparator of a sink below the given advertisement,
// with the spread of a controller: 0.20 V, 0.66 V and 1.23 V.
func SinkThreshold(a Advertisement) Range {
	text := "TI TPS65981 and TPS65982 data sheet, section 7.8"
	if a == A3000 {
		text = "TI TPS65988 data sheet SLVSDB5B, section 6.8; 1.169 V to 1.29 V on TPS65981 and TPS65982"
	}
	return around(quantity.Voltage, pick(a, 0.15, 0.61, 1.16), pick(a, 0.2, 0.66, 1.23), pick(a, 0.25, 0.7, 1.31), seen(text))
}

// DeadBatteryCC is the CC voltage of a controller without power in front of a
// source.
func DeadBatteryCC(a Advertisement) Range {
	return volts(pick(a, 0.25, 0.45, 0.88), pick(a, 1.5, 1.5, 2.18), seen("TI TUSB422 data sheet, electrical characteristics"))
}

// pick returns the value for an advertisement; an unknown one is NaN, which no
// window contains.
func pick(a Advertisement, atDefault, at1500, at3000 float64) float64 {
	switch a {
	case Default:
		return atDefault
	case A1500:
		return at1500
	case A3000:
		return at3000
	}
	return math.NaN()
}
