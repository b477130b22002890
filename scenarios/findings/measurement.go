package findings

// Measurement is what an engineer can measure by hand on a unit.
type Measurement struct {
	Name string
	// How says what to measure, where, and with what.
	How string
	// Shows is by class what it gives; every other class gives what a good unit
	// does.
	Shows map[string]string
}

// Measurements lists what can be measured by hand, the quickest first. Common
// practice at a repair bench, no source.
func Measurements() []Measurement {
	return append(resistances(), others()...)
}

// resistances are read with an ohmmeter, the unit without supply and cell.
func resistances() []Measurement {
	return []Measurement{
		{
			Name: "ohms at the CC pins",
			How:  "Resistance from A5 and from B5 to ground, unit without supply and cell, with an ohmmeter",
			Shows: map[string]string{
				"no-rd": "open at both pins", "rd-missing-one-pin": "open at one pin",
				"rd-51k": "26 to 56 kΩ at both pins", "rd-10k": "6 to 11 kΩ at both pins", "rd-510": "0.4 to 1.5 kΩ at both pins",
				"cc-gnd-short": "below 500 Ω at one pin", "cc-short": "about half of 5.1 kΩ at both pins",
				"cc-vbus-short": "5.1 kΩ, and less while the probe charges VBUS",
			},
		},
		{
			Name: "ohms between the CC pins",
			How:  "Resistance from A5 to B5, unit without supply and cell, with an ohmmeter",
			Shows: map[string]string{
				"shared-rd": "below 10 Ω", "cc-short": "below 1 kΩ", "no-rd": "open", "rd-missing-one-pin": "open",
				"rd-51k": "50 to 110 kΩ", "rd-10k": "12 to 22 kΩ", "rd-510": "0.9 to 3 kΩ",
			},
		},
		{
			Name:  "ohms from CC to VBUS",
			How:   "Resistance from A5 and from B5 to VBUS, unit without supply and cell, with an ohmmeter",
			Shows: map[string]string{"cc-vbus-short": "below 1 kΩ at one pin"},
		},
		{
			Name:  "ohms from VBUS to ground",
			How:   "Resistance from VBUS to ground, unit without supply and cell, with an ohmmeter, after the reading stands still",
			Shows: map[string]string{"vbus-gnd-short": "below 50 Ω"},
		},
		{
			Name: "continuity of the data pins",
			How:  "Continuity from A6, A7, B6 and B7 to the charger's data inputs, with an ohmmeter",
			Shows: map[string]string{
				"data-pin-open": "one pin without continuity",
			},
		},
		{
			Name:  "programming resistor",
			How:   "Value of the resistor that programs the charge current, at its ends, unit without supply and cell",
			Shows: map[string]string{"current-half": "too high", "current-double": "too low"},
		},
	}
}

// others need a supply, a cell, or another instrument.
func others() []Measurement {
	return []Measurement{
		{
			Name:  "drop along VBUS",
			How:   "Voltage from the VBUS contact of the receptacle to the charger's input while the unit charges, with a voltmeter",
			Shows: map[string]string{"contact-resistance": "0.3 V or more", "charger-dead": "nothing, no current flows"},
		},
		{
			Name:  "bulk capacitor",
			How:   "Capacitance from VBUS to ground, unit without supply and cell, with a capacitance meter at 100 Hz",
			Shows: map[string]string{"bulk-missing": "less than half of the fitted value", "bulk-too-large": "more than 12 µF"},
		},
		{
			Name:  "indicator",
			How:   "Voltage across the indicator while the unit charges, with a voltmeter, and a look at its polarity",
			Shows: map[string]string{"indicator-dead": "no forward voltage, or full voltage and no light"},
		},
		{
			Name: "current out of the cell",
			How:  "Current out of the cell, or its stand-in, with nothing at the port, and VBUS through 1 kΩ to ground, with an ammeter in line",
			Shows: map[string]string{
				"back-feed": "more than 11 µA",
			},
		},
		{
			Name: "charge current and end voltage",
			How:  "Current into a cell, or its stand-in, at 3.7 V, and the voltage at which it ends, with an ammeter in line and a voltmeter at the pads",
			Shows: map[string]string{
				"overcharge": "ends above 4.25 V", "charger-dead": "no current at 3.7 V", "current-half": "too little current", "current-double": "too much current",
				"contact-resistance": "less current than without the resistance",
			},
		},
	}
}

// Leaves lists those of the classes that give the same, two of them or more each:
// what the measurement does not tell apart.
func (m Measurement) Leaves(classes []string) [][]string {
	var out [][]string
	done := map[string]bool{}
	for i, a := range classes {
		if done[m.Shows[a]] {
			continue
		}
		done[m.Shows[a]] = true
		same := []string{a}
		for _, b := range classes[i+1:] {
			if m.Shows[a] == m.Shows[b] {
				same = append(same, b)
			}
		}
		if len(same) > 1 {
			out = append(out, same)
		}
	}
	return out
}

// separatingFrom returns the measurement that tells a class from most others, the
// first in the list among equals; an empty one where none does.
func separatingFrom(class string, others []string) Measurement {
	var best Measurement
	most := 0
	for _, m := range Measurements() {
		n := 0
		for _, o := range others {
			if m.Shows[o] != m.Shows[class] {
				n++
			}
		}
		if n > most {
			best, most = m, n
		}
	}
	return best
}

// separating returns the measurement that tells most pairs of the classes
// apart, the first in the list among equals; an empty one where none does.
func separating(classes []string) Measurement {
	var best Measurement
	most := 0
	for _, m := range Measurements() {
		n := 0
		for i, a := range classes {
			for _, b := range classes[:i] {
				if m.Shows[a] != m.Shows[b] {
					n++
				}
			}
		}
		if n > most {
			best, most = m, n
		}
	}
	return best
}
