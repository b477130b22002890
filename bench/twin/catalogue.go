package twin

// The groups of parts that faults act on.
const (
	groupRd         = "terminations"
	groupBridge     = "bridge at a CC pin"
	groupJoin       = "joined CC pins"
	groupVbus       = "power contact"
	groupCurrent    = "charge current"
	groupRegulation = "regulation"
	groupBulk       = "bulk capacitor"
	groupLamp       = "indicator"
	groupData       = "data contacts"
	groupReverse    = "reverse path"
)

// Faults lists the defects that a unit can have, in the order of the board:
// terminations, bridges, power path, charger, the rest.
func Faults() []Description {
	return append(terminationFaults(), append(bridgeFaults(), append(powerFaults(), chargeFaults()...)...)...)
}

func terminationFaults() []Description {
	return []Description{
		{
			Name: "no-rd", Title: "no termination",
			Plain:  "Neither CC pin has its pull-down resistor.",
			Groups: []string{groupRd, groupJoin},
			Effect: "charges from a legacy A supply, gets nothing from a C supply",
			Barely: "flux that conducts as much as an open pin may (126 kΩ)", Grossly: "open",
			Revealed: "c-supply normal and flipped, c-supply-marked, probe-cc1 and probe-cc2",
		},
		{
			Name: "rd-missing-one-pin", Title: "termination missing on one pin",
			Plain:  "One of the two CC pins has no pull-down resistor.",
			Groups: []string{groupRd, groupJoin},
			Effect: "charges from a C supply only one way round",
			Barely: "flux that conducts as much as an open pin may (126 kΩ)", Grossly: "open",
			Revealed: "c-supply flipped or normal, probe-cc1 or probe-cc2",
		},
		{
			Name: "shared-rd", Title: "one termination shared by both pins",
			Plain:  "Both CC pins are joined and one resistor serves both.",
			Groups: []string{groupRd, groupJoin},
			Effect: "gets nothing through a marked cable",
			Barely: "joined through 10 Ω", Grossly: "joined by copper",
			Revealed: "c-supply-marked, cross-read in probe-cc1 and probe-cc2",
		},
		{
			Name: "rd-51k", Title: "terminations of 51 kΩ",
			Plain:  "The pull-down resistors are ten times too large.",
			Groups: []string{groupRd},
			Effect: "gets nothing from a C supply",
			Barely: "26 kΩ, the least that every default source reads as open", Grossly: "56 kΩ",
			Revealed: "c-supply, probe-cc1 and probe-cc2",
		},
		{
			Name: "rd-510", Title: "terminations of 510 Ω",
			Plain:  "The pull-down resistors are ten times too small and look like a cable's Ra.",
			Groups: []string{groupRd},
			Effect: "gets nothing from a C supply",
			Barely: "1.5 kΩ, the most that every source reads as Ra", Grossly: "459 Ω",
			Revealed: "c-supply, probe-cc1 and probe-cc2",
		},
		{
			Name: "rd-10k", Title: "terminations of 10 kΩ",
			Plain:  "The pull-down resistors have a wrong value of the right decade.",
			Groups: []string{groupRd},
			Effect: "charges from a default C supply, not from a stronger one",
			Barely: "6.25 kΩ, 2 % beyond the widest legal Rd", Grossly: "11 kΩ",
			Revealed: "c-supply at 1.5 A or 3.0 A, probe-cc1 and probe-cc2",
		},
	}
}

func bridgeFaults() []Description {
	return []Description{
		{
			Name: "cc-short", Title: "CC1 and CC2 joined",
			Plain:  "A solder bridge joins the two CC pins; both resistors are fitted.",
			Groups: []string{groupBridge, groupJoin},
			Effect: "works on some C supplies and not on others, not through a marked cable",
			Barely: "joined through 1 kΩ", Grossly: "joined by solder",
			Revealed: "c-supply-marked, cross-read in probe-cc1 and probe-cc2, CC voltage in c-supply",
		},
		{
			Name: "cc-vbus-short", Title: "CC pin joined to VBUS",
			Plain:  "A solder bridge joins one CC pin to VBUS.",
			Groups: []string{groupBridge},
			Effect: "a C supply switches on and off again that way round",
			Barely: "joined through 1 kΩ", Grossly: "joined by solder",
			Revealed: "CC voltage with VBUS on, both orientations",
		},
		{
			Name: "cc-gnd-short", Title: "CC pin joined to ground",
			Plain:  "A solder bridge joins one CC pin to ground.",
			Groups: []string{groupBridge},
			Effect: "gets nothing from a C supply one way round",
			Barely: "joined through 500 Ω", Grossly: "joined by solder",
			Revealed: "c-supply normal or flipped, probe-cc1 or probe-cc2",
		},
		{
			Name: "data-pin-open", Title: "one data pin not joined",
			Plain:  "One of the four data contacts is not soldered.",
			Groups: []string{groupData}, Needs: DataContacts,
			Effect: "charges slowly one way round where the charger asks the data lines",
			Barely: "1 MΩ", Grossly: "open",
			Revealed: "charge current in legacy-a, both orientations",
		},
	}
}

func powerFaults() []Description {
	return []Description{
		{
			Name: "vbus-gnd-short", Title: "VBUS joined to ground",
			Plain:  "VBUS is shorted on the board.",
			Groups: []string{groupVbus},
			Effect: "every supply limits or switches off",
			Barely: "50 Ω", Grossly: "50 mΩ",
			Revealed: "probe-vbus, before any supply",
		},
		{
			Name: "contact-resistance", Title: "resistance in the power path",
			Plain:  "A cold joint or a worn contact stands in the way of VBUS.",
			Groups: []string{groupVbus},
			Effect: "the unit sags, charges slowly or gets hot at its receptacle",
			Barely: "1 Ω", Grossly: "5 Ω",
			Revealed: "drop between force and sense in legacy-a",
		},
		{
			Name: "bulk-missing", Title: "VBUS capacitor missing or too small",
			Plain:  "The bulk capacitor on VBUS is not fitted, or is of a smaller value.",
			Groups: []string{groupBulk},
			Effect: "the unit may fail at hot plugging",
			Barely: "half of the least allowed", Grossly: "not fitted",
			Revealed: "capacitance in probe-vbus",
		},
		{
			Name: "bulk-too-large", Title: "VBUS capacitor far too large",
			Plain:  "The bulk capacitor on VBUS exceeds what a sink may show before it is attached.",
			Groups: []string{groupBulk},
			Effect: "inrush makes supplies give up",
			Barely: "a fifth beyond 10 µF and beyond the product's highest", Grossly: "100 µF",
			Revealed: "capacitance in probe-vbus",
		},
		{
			Name: "back-feed", Title: "the cell feeds the port",
			Plain:  "Current flows from the cell back to VBUS.",
			Groups: []string{groupReverse}, Needs: SomeCell,
			Effect: "strict C supplies refuse; the contacts are live and the cell runs down",
			Barely: "a fifth beyond 11.05 µA from a cell of 3.0 V", Grossly: "100 Ω",
			Revealed: "detached, with a known load",
		},
	}
}

func chargeFaults() []Description {
	return []Description{
		{
			Name: "current-half", Title: "charge current too low",
			Plain:  "The programming resistor is too large.",
			Groups: []string{groupCurrent},
			Effect: "charges for twice as long",
			Barely: "7 % below the product's lowest", Grossly: "45 %",
			Revealed: "charge current in legacy-a and c-supply",
		},
		{
			Name: "current-double", Title: "charge current too high",
			Plain:  "The programming resistor is too small.",
			Groups: []string{groupCurrent},
			Effect: "the cell is charged too fast, supplies are overloaded",
			Barely: "7 % above the product's highest", Grossly: "210 %",
			Revealed: "charge current in legacy-a and c-supply",
		},
		{
			Name: "charger-dead", Title: "charger does not charge",
			Plain:  "The charger takes its quiescent current and no more.",
			Groups: []string{groupCurrent, groupRegulation},
			Effect: "never charges",
			Barely: "1 % of the current", Grossly: "none",
			Revealed: "charge current in every powered condition",
		},
		{
			Name: "overcharge", Title: "end of charge too high",
			Plain:  "The regulation voltage of the charger is too high.",
			Groups: []string{groupRegulation}, Needs: SomeCell,
			Effect: "the cell is overcharged: a hazard",
			Barely: "1.75 % above nominal, beyond the widest class of parts", Grossly: "5 % above",
			Revealed: "cell-substitute at 4.1 V and 4.25 V",
		},
		{
			Name: "indicator-dead", Title: "indicator dark",
			Plain:  "The indicator gives no light, or next to none.",
			Groups: []string{groupLamp}, Needs: IndicatorLamp,
			Effect: "the owner sees nothing",
			Barely: "a quarter of the light", Grossly: "dark",
			Revealed: "light in every condition that charges",
		},
	}
}
