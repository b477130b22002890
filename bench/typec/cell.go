package typec

import (
	"math"

	"sinkproof/bench/quantity"
)

// mcp cites the charger family whose ratios stand for the class.
func mcp() citation {
	return seen("Microchip MCP73833/4 data sheet DS22005B, p. 4")
}

// ChargeEnd is the regulation voltage of a linear charger for one Li-ion cell:
// 4.20 V ±1 % for the class; ±0.75 % in Microchip MCP73831/2 DS20001984.
func ChargeEnd() Range {
	return around(quantity.Voltage, 4.158, 4.2, 4.242, seen("Microchip MCP73831/2 data sheet DS20001984, features, and parts of the 1 % class"))
}

// PrechargeRatio is the current into a deeply discharged cell as a share of
// the charge current.
func PrechargeRatio() Range { return around(quantity.Number, 0.075, 0.10, 0.125, mcp()) }

// TerminationRatio is the share of the charge current at which charging ends.
// Factory options lie from 5 % to 20 %; a tenth is the usual one.
func TerminationRatio() Range { return around(quantity.Number, 0.0375, 0.075, 0.25, mcp()) }

// RechargeRatio is the share of ChargeEnd at which charging starts again.
func RechargeRatio() Range { return nominal(quantity.Number, 0.94, mcp()) }

// ChargerLeakage is the current from the cell back to an input that is off: a
// charger of this class stays far below BackFeed.
func ChargerLeakage() Range {
	return around(quantity.Current, math.Inf(-1), 0.15e-6, 2e-6, seen("Microchip MCP73833/4 data sheet DS22005B, p. 4; MCP73831/2 DS20001984, section 4.1"))
}

// ChargeTemperature is the standard zone in which a Li-ion cell may be charged
// to 4.25 V at most; no charge at all below 0 °C and above 60 °C.
func ChargeTemperature() Range {
	return between(quantity.Temperature, quantity.Celsius(10).SI, quantity.Celsius(45).SI,
		seen("TI E2E design note, JEITA Battery Temperature Standard"))
}

// ChargeForbidden returns the temperatures below and above which a Li-ion cell
// may not be charged.
func ChargeForbidden() (cold, hot quantity.Quantity) {
	return quantity.Celsius(0), quantity.Celsius(60)
}
