package twin

import (
	"time"

	"sinkproof/bench/circuit"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
)

// unit is a board in the nest: its elements in the circuit, and what moves by
// itself on it.
type unit struct {
	t *Twin
	b *board

	vbus, gnd, cell circuit.Node
	cc, data        [2]circuit.Node // cc1, cc2; D+, D-
	reached         map[string]circuit.ElementID

	charger     circuit.ElementID
	slow        circuit.ElementID
	asker       asker
	terminator  terminator
	lamp        lamp
	memory      int
	contactOhms map[string]float64
}

// parts are what makes up the rig: each adds its elements to a netlist and,
// once that has become a circuit, brings them to its own present state.
type parts interface {
	draft(n *circuit.Netlist)
	connect()
}

// newUnit makes a unit of a board. The contacts of the plug are drawn anew at
// every seating.
func newUnit(t *Twin, b *board, seating int) *unit {
	u := &unit{t: t, b: b, contactOhms: map[string]float64{}}
	for _, pin := range t.config.Wiring.Nest.Pins {
		r := unitStream(t.units, b.serial, seatingName(seating)+pin.Pin)
		u.contactOhms[pin.Pin] = max(leastOhms, within(r, pin.Resistance))
	}
	u.asker = asker{u: u, timer: t.unitTimers[0]}
	u.terminator = terminator{u: u, timer: t.unitTimers[1]}
	u.lamp = lamp{u: u, timer: t.unitTimers[2]}
	t.queue.actors[t.unitTimers[0].slot] = &u.asker
	t.queue.actors[t.unitTimers[1].slot] = &u.terminator
	t.queue.actors[t.unitTimers[2].slot] = &u.lamp
	u.asker.draw()
	u.terminator.draw()
	return u
}

// draft adds the unit to a netlist.
func (u *unit) draft(n *circuit.Netlist) {
	u.vbus, u.gnd, u.cell = n.Node("unit.vbus"), n.Node("unit.gnd"), n.Node("unit.cell")
	u.cc = [2]circuit.Node{n.Node("unit.cc1"), n.Node("unit.cc2")}
	u.data = [2]circuit.Node{n.Node("unit.dp"), n.Node("unit.dm")}
	u.reached = map[string]circuit.ElementID{}
	u.reach(n)
	u.power(n)
	u.pins(n)
	u.asker.draft(n)
	u.terminator.draft(n)
	u.lamp.draft(n)
}

// reach adds the contacts between plug and board. A nest without a ground pin
// has the unit's ground on the rig's.
func (u *unit) reach(n *circuit.Netlist) {
	for i := range u.t.config.Wiring.Nest.Pins {
		pin := &u.t.config.Wiring.Nest.Pins[i]
		node, extra, ok := u.pad(pin.Pin)
		if !ok {
			continue
		}
		net := u.t.node(n, pin.Net)
		u.reached[pin.Pin] = n.Resistor("contact."+pin.Pin, net, node, u.contact(pin.Pin)+extra)
	}
	if _, ok := u.reached[wiring.PinGround]; !ok {
		u.reached[wiring.PinGround] = n.Resistor("contact.ground", circuit.Ground, u.gnd, leastOhms)
	}
}

// contact returns the resistance of a contact, worn or open ones included.
func (u *unit) contact(pin string) float64 {
	if worn, ok := u.t.pins[pin]; ok {
		return max(u.contactOhms[pin], worn)
	}
	return u.contactOhms[pin]
}

// pad returns the board's node behind a pin and what a bad joint adds there.
func (u *unit) pad(pin string) (node circuit.Node, extra float64, ok bool) {
	switch pin {
	case wiring.PinVbusForce:
		return u.vbus, u.b.joint, true
	case wiring.PinVbusSense:
		return u.vbus, 0, true
	case wiring.PinGround:
		return u.gnd, 0, true
	case wiring.PinCC1:
		return u.cc[0], 0, true
	case wiring.PinCC2:
		return u.cc[1], 0, true
	case wiring.PinDP1, wiring.PinDM1, wiring.PinDP2, wiring.PinDM2:
		i := map[string]int{wiring.PinDP1: 0, wiring.PinDM1: 1, wiring.PinDP2: 2, wiring.PinDM2: 3}[pin]
		return u.data[i%2], u.b.data[i], u.b.product.Port.Data
	case wiring.PinCell:
		return u.cell, 0, u.b.product.Cell.State == product.CellPads
	}
	return 0, 0, false
}

// power adds what stands on VBUS and the cell.
func (u *unit) power(n *circuit.Netlist) {
	b := u.b
	n.Capacitor("unit.bulk", u.vbus, u.gnd, max(1e-9, b.farads), 0)
	optional(n, "unit.load", u.vbus, u.gnd, b.load)
	optional(n, "unit.short", u.vbus, u.gnd, b.short)
	optional(n, "unit.reverse", u.cell, u.vbus, b.reverse)
	n.Capacitor("unit.output", u.cell, u.gnd, b.output, 0)
	n.Resistor("unit.drain", u.cell, u.gnd, boardDrain)
	if b.product.Cell.State == product.CellFitted {
		n.VoltageSource("unit.battery", u.cell, u.gnd, b.cellVolts, b.cellOhms)
	}
	u.charger = n.Charger("unit.charger", u.vbus, u.gnd, u.cell, b.charger)
	if b.asks {
		u.slow = n.Charger("unit.charger.cautious", u.vbus, u.gnd, u.cell, b.unconfirmed())
	}
}

// pins adds leaks and bridges at the CC pins and on the data pair.
func (u *unit) pins(n *circuit.Netlist) {
	b := u.b
	optional(n, "unit.shared", u.cc[0], u.cc[1], b.shared)
	optional(n, "unit.bridge", u.cc[0], u.cc[1], b.bridge)
	for i := range u.cc {
		name := [...]string{"unit.cc1", "unit.cc2"}[i]
		n.Resistor(name+".leak", u.cc[i], u.gnd, b.leak[i])
		optional(n, name+".vbus", u.cc[i], u.vbus, b.toVbus[i])
		optional(n, name+".gnd", u.cc[i], u.gnd, b.toGnd[i])
		// To the shell and so to the rig's ground: the data pair is then a circuit
		// of its own as long as the unit does not ask.
		n.Resistor([...]string{"unit.dp", "unit.dm"}[i]+".leak", u.data[i], circuit.Ground, leakMost)
	}
}

// optional adds a resistor where there is one, and otherwise its place: what was
// found out of one unit's network then serves the next one's, whatever its faults.
func optional(n *circuit.Netlist, name string, a, b circuit.Node, ohms float64) {
	if ohms > 0 {
		n.ClosedSwitch(name, a, b, ohms)
		return
	}
	n.Switch(name, a, b, leastOhms)
}

// connect starts what moves by itself in a new circuit.
func (u *unit) connect() {
	u.asker.connect()
	u.terminator.connect()
	u.lamp.connect()
	u.memory = u.t.sim.Memory() - 1
	u.notice(u.t.now)
}

// notice looks whether the charger has changed its phase.
func (u *unit) notice(now time.Duration) {
	if m := u.t.sim.Memory(); m != u.memory {
		u.memory = m
		u.lamp.follow(now)
	}
}

// charging tells what the charger does.
func (u *unit) charging() (charging, done bool) {
	for _, id := range []circuit.ElementID{u.charger, u.slow} {
		switch u.t.sim.Segment(id) {
		case "trickle", "soft start", "constant current", "constant voltage", "dropout":
			charging = true
		case "done", "full":
			done = true
		}
		if !u.b.asks {
			break
		}
	}
	return charging, done
}
