package typec

import "sinkproof/bench/quantity"

// zephyr cites the header of Zephyr RTOS that repeats the timers of R2.1.
func zephyr(table string) citation {
	return seen("USB Type-C R2.1, Table " + table + ", as in Zephyr RTOS usbc_tc.h")
}

// millis is a timer with limits in milliseconds.
func millis(low, high float64, c citation) Range {
	return between(quantity.Time, low/1e3, high/1e3, c)
}

// TCCDebounce is how long a port waits before it may decide that it is
// attached (also Linux pd.h, PD_T_CC_DEBOUNCE, and R2.5 Table 4-34).
func TCCDebounce() Range { return millis(100, 200, zephyr("4-31")) }

// TPDDebounce is how long a sink waits before it decides that it is detached,
// because power delivery messages pull CC (also Linux pd.h, PD_T_PD_DEBOUNCE).
func TPDDebounce() Range { return millis(10, 20, zephyr("4-31")) }

// TTryCCDebounce is the re-attach decision in the try-wait process. The
// Zephyr header prints 10 ms as the maximum; Linux and R2.5 say 20 ms.
func TTryCCDebounce() Range { return millis(10, 20, r25("4-34")) }

// TVBUSOn is from the attached state to VBUS at vSafe5V at the receptacle of
// the source.
func TVBUSOn() Range { return millis(0, 275, r25("4-32")) }

// TVBUSOff is from the sink detached to VBUS at vSafe0V.
func TVBUSOff() Range { return millis(0, 650, r25("4-32")) }

// TVSafe0V is how long a source may take to bleed what is left on VBUS before
// it attaches.
func TVSafe0V() Range { return millis(0, 650, r25("4-32")) }

// TBulkDischarge is until the bulk capacitance of a source is ready to supply
// 5 V again; 700 ms where VBUS was above 21 V.
func TBulkDischarge() Range { return millis(0, 275, r25("4-32")) }

// TSinkDisconnect is how long an attached sink may take to see that VBUS fell
// below VSinkDisconnect.
func TSinkDisconnect() Range { return atMost(quantity.Time, 0.040, r25("4-3")) }

// VSinkDisconnect is the VBUS level that means detached in 5 V operation: it
// may mean so below 3.67 V and must by 0.8 V.
func VSinkDisconnect() Range { return volts(0.8, 3.67, r25("4-3")) }

// TRpValueChange is how long a sink waits before it accepts another
// advertisement, where it cannot detect an idle line; 0 to 5 ms where it can.
func TRpValueChange() Range { return millis(10, 20, r25("4-34")) }

// TSinkAdj is how long a sink may take to be within a new current limit.
func TSinkAdj() Range { return millis(10, 60, r25("4-32")) }

// TSRCDisconnect is how long a source may take to see SRC.Open.
func TSRCDisconnect() Range { return millis(0, 20, r25("4-34")) }

// TErrorRecovery is the error recovery of a self-powered port; 240 ms where it
// sourced VCONN.
func TErrorRecovery() Range { return atLeast(quantity.Time, 0.025, zephyr("4-31")) }

// TVCONNOn is from the attached state to a valid VCONN, which may come before
// VBUS.
func TVCONNOn() Range { return atMost(quantity.Time, 0.002, r25("4-32")) }

// TVCONNOff is from detach to VCONN off.
func TVCONNOff() Range { return millis(0, 35, zephyr("4-29")) }

// TNoToggleConnect is the time to connect where neither side toggles.
func TNoToggleConnect() Range { return millis(0, 5, zephyr("4-31")) }

// TOnePortToggleConnect is the time to connect where one side toggles.
func TOnePortToggleConnect() Range { return millis(0, 80, zephyr("4-31")) }

// TTwoPortToggleConnect is the time to connect where both sides toggle.
func TTwoPortToggleConnect() Range { return millis(0, 510, zephyr("4-31")) }

// TDRP is the period of a dual-role port; 75 ms is that of a controller (TI
// TUSB320 data sheet SLLSEN9F, section 6.5).
func TDRP() Range { return around(quantity.Time, 0.050, 0.075, 0.100, zephyr("4-30")) }

// DCSRCDRP is the share of TDRP that a dual-role port is a source.
func DCSRCDRP() Range { return between(quantity.Number, 0.30, 0.70, r25("4-33")) }

// TDRPTry is how long a dual-role port tries its preferred role (also Linux
// pd.h, PD_T_DRP_TRY).
func TDRPTry() Range { return millis(75, 150, zephyr("4-30")) }

// TDRPTryWait is how long it waits for that (also Linux pd.h,
// PD_T_DRP_TRYWAIT).
func TDRPTryWait() Range { return millis(400, 800, zephyr("4-30")) }

// AttachWorst is the longest attach of a conforming source from valid CC to
// VBUS; a source that must first bleed VBUS may take TVSafe0V more.
func AttachWorst() Range {
	return atMost(quantity.Time, TCCDebounce().Max.SI+TVBUSOn().Max.SI, computed("tCCDebounce + tVBUSON"))
}

// DetachWorst is the longest time from open CC to VBUS at vSafe0V.
func DetachWorst() Range {
	return atMost(quantity.Time, TSRCDisconnect().Max.SI+TVBUSOff().Max.SI, computed("tSRCDisconnect + tVBUSOFF"))
}
