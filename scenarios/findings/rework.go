package findings

// Rework returns what to do about a fault, by its name in the dictionary;
// empty for a name that it does not know. Common practice at a repair bench,
// no source.
func Rework(fault string) string {
	return map[string]string{
		Good:                 "Nothing to rework by these readings. Run the unit once more after a re-seat; if it fails again, look at the checks that failed.",
		"no-rd":              "Fit a 5.1 kΩ resistor from each CC pin (A5 and B5) to ground, or solder those that are there at both ends.",
		"rd-missing-one-pin": "Fit the 5.1 kΩ resistor at the CC pin that reads open, or solder it at both ends.",
		"shared-rd":          "Each CC pin needs a 5.1 kΩ resistor of its own: cut the track that joins A5 and B5, and fit the second resistor.",
		"rd-51k":             "Replace both CC resistors: they are ten times too large. Fit 5.1 kΩ.",
		"rd-510":             "Replace both CC resistors: they are ten times too small. Fit 5.1 kΩ.",
		"rd-10k":             "Replace both CC resistors: they have the wrong value. Fit 5.1 kΩ.",
		"cc-short":           "Remove the bridge of solder between A5 and B5 at the receptacle.",
		"cc-vbus-short":      "Remove the bridge of solder between the CC pin and VBUS (A4 and A5, or B4 and B5) at the receptacle.",
		"cc-gnd-short":       "Remove the bridge of solder between the CC pin and ground, at the receptacle or across the CC resistor.",
		"data-pin-open":      "Resolder the data contacts of the receptacle (A6, A7, B6, B7) on the side that charges slowly.",
		"vbus-gnd-short":     "Find the short between VBUS and ground before any supply: bridges at the receptacle, the bulk capacitor, protection parts the wrong way round.",
		"contact-resistance": "Resolder the VBUS contacts of the receptacle; look for a cold joint or a torn track on the way to the charger.",
		"bulk-missing":       "Fit the bulk capacitor on VBUS with its value, or solder it at both ends.",
		"bulk-too-large":     "Replace the bulk capacitor on VBUS by one of its value.",
		"back-feed":          "Keep the unit apart: its contacts are live. Replace the charger or what blocks the reverse path, and look for a bridge between the cell and VBUS.",
		"current-half":       "Replace the resistor that programs the charge current: its value is too large.",
		"current-double":     "Replace the resistor that programs the charge current: its value is too small.",
		"charger-dead":       "Check that the charger is enabled and its programming resistor fitted, then replace the charger.",
		"overcharge":         "Keep the unit apart: its cell may have been overcharged. Replace the charger by one of the right voltage option.",
		"indicator-dead":     "Check the indicator's polarity, its resistor and its joints; replace it.",
	}[fault]
}
