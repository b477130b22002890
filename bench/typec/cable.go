package typec

import "sinkproof/bench/quantity"

// irDrop cites the paragraph of the standard on the drop in a cable.
func irDrop() citation {
	return seen("USB Type-C section 4.4.1 IR Drop, as quoted by B. Leung, What does it mean when a USB-C cable is rated at 3 A, secondary")
}

// CableRating is the current a cable carries: 3 A for every one, A-to-C
// included, and 5 A for a marked one only.
func CableRating(marked bool) Range {
	if marked {
		return atMost(quantity.Current, 5, irDrop())
	}
	return atMost(quantity.Current, 3, irDrop())
}

// DropVBUS is the drop allowed in VBUS at the rated current, cable and the
// contacts of both ends together.
func DropVBUS() Range { return atMost(quantity.Voltage, 0.5, irDrop()) }

// DropGND is the same in ground. It lifts the ground of the sink above that of
// the source, so that CC voltages differ by it between the two ends: measure
// CC against the sink's ground, or with VBUS current off.
func DropGND() Range { return atMost(quantity.Voltage, 0.25, irDrop()) }

// PathVBUS is the resistance of the VBUS path that makes DropVBUS at 3 A.
func PathVBUS() Range {
	return atMost(quantity.Resistance, DropVBUS().Max.SI/CableRating(false).Max.SI, computed("500 mV / 3 A"))
}

// PathGND is the resistance of the ground path that makes DropGND at 3 A.
func PathGND() Range {
	return atMost(quantity.Resistance, DropGND().Max.SI/CableRating(false).Max.SI, computed("250 mV / 3 A"))
}

// SinkVBUS is the lowest VBUS at a sink under the full rated current: 4.00 V.
func SinkVBUS() Range {
	low := VSafe5V().Min.SI - DropVBUS().Max.SI - DropGND().Max.SI
	return atLeast(quantity.Voltage, low, computed("vSafe5V - drop in VBUS - drop in ground"))
}

// receptacle cites the drawing of a receptacle of the class.
func receptacle() citation {
	return seen("GCT USB4105 receptacle drawing B4 and specification A3, as excerpted in public layout notes, secondary")
}

// ContactResistance is the low-level resistance of one contact, new or after
// the endurance test.
func ContactResistance(worn bool) Range {
	if worn {
		return atMost(quantity.Resistance, 0.050, receptacle())
	}
	return atMost(quantity.Resistance, 0.040, receptacle())
}

// ContactTemperatureRise is the temperature rise at the shell at 5 A over all
// VBUS contacts, 1.25 A VCONN and 0.25 A in each other contact.
func ContactTemperatureRise() Range { return atMost(quantity.Temperature, 30, receptacle()) }

// CCContactCurrent is the rating of a CC contact, which may carry VCONN; every
// other contact that is not for power carries 0.25 A.
func CCContactCurrent() Range { return atMost(quantity.Current, 1.25, receptacle()) }

// MateCycles is the durability of the connector class.
func MateCycles() Range {
	return atLeast(quantity.Number, 10000, seen("public connector pages, class minimum"))
}
