package circuit

import "math"

// Node is a point of the network; the zero value is Ground.
type Node int32

// Ground is the node all voltages refer to.
const Ground Node = 0

// ElementID identifies an element of one Netlist and its Sims.
type ElementID int32

// Netlist is a network under construction. Mistakes in values are kept and
// reported by Start, so that building reads as a list.
type Netlist struct {
	names    []string
	byName   map[string]Node
	elements []element
	base     int // how many elements belong to the base
}

// New returns an empty network that has only Ground.
func New() *Netlist {
	return &Netlist{names: []string{"ground"}, byName: map[string]Node{"ground": Ground}}
}

// Node returns the node of that name and makes it at the first call. The name
// "ground" is Ground.
func (n *Netlist) Node(name string) Node {
	if id, ok := n.byName[name]; ok {
		return id
	}
	id := Node(len(n.names))
	n.names = append(n.names, name)
	n.byName[name] = id
	return id
}

// NodeName returns the name a node was made with.
func (n *Netlist) NodeName(id Node) string { return n.names[id] }

// Base ends the base of the network: what was added so far is the bench, which is
// the same in every network that StartIn makes in the memory of another, and is
// reduced to what it is to the rest only once. A network whose base differs after
// all costs that reduction again, and nothing else. Without Base nothing is base.
func (n *Netlist) Base() { n.base = len(n.elements) }

// Nodes returns the number of nodes, Ground included.
func (n *Netlist) Nodes() int { return len(n.names) }

func (n *Netlist) add(e element) ElementID {
	n.elements = append(n.elements, e)
	return ElementID(len(n.elements) - 1)
}

// Resistor joins a and b by ohms > 0.
func (n *Netlist) Resistor(name string, a, b Node, ohms float64) ElementID {
	return n.add(element{name: name, kind: KindResistor, a: a, b: b, ohms: ohms})
}

// Capacitor joins a and b by farads > 0, charged to initialVolts (a over b).
func (n *Netlist) Capacitor(name string, a, b Node, farads, initialVolts float64) ElementID {
	return n.add(element{name: name, kind: KindCapacitor, a: a, b: b, farads: farads, volts: initialVolts})
}

// VoltageSource holds plus at volts over minus behind seriesOhms > 0.
func (n *Netlist) VoltageSource(name string, plus, minus Node, volts, seriesOhms float64) ElementID {
	return n.add(element{name: name, kind: KindVoltageSource, a: plus, b: minus, volts: volts, ohms: seriesOhms})
}

// CurrentSource drives amperes out of node from and into node to, whatever the
// voltage.
func (n *Netlist) CurrentSource(name string, from, to Node, amperes float64) ElementID {
	return n.add(element{name: name, kind: KindCurrentSource, a: from, b: to, amperes: amperes})
}

// Switch is a contact of onOhms > 0 that starts open; open it conducts nothing.
func (n *Netlist) Switch(name string, a, b Node, onOhms float64) ElementID {
	return n.add(element{name: name, kind: KindSwitch, a: a, b: b, ohms: onOhms})
}

// ClosedSwitch is a Switch that starts closed. A part that is in one network and not
// in another is one of these there and an open one here: both divide alike.
func (n *Netlist) ClosedSwitch(name string, a, b Node, onOhms float64) ElementID {
	return n.add(element{name: name, kind: KindSwitch, a: a, b: b, ohms: onOhms, closed: true})
}

// Diode conducts leakSiemens*v everywhere and (v-onVolts)/onOhms more where
// v, the anode over the cathode, exceeds onVolts. leakSiemens may be zero.
func (n *Netlist) Diode(name string, anode, cathode Node, onVolts, onOhms, leakSiemens float64) ElementID {
	return n.add(element{name: name, kind: KindDiode, a: anode, b: cathode, volts: onVolts, ohms: onOhms, siemens: leakSiemens})
}

// Clamp conducts (v-volts)/ohms when v, node a over b, exceeds volts: a zener
// or the dead-battery clamp of a controller. It is a Diode without leak.
func (n *Netlist) Clamp(name string, a, b Node, volts, ohms float64) ElementID {
	return n.Diode(name, a, b, volts, ohms, 0)
}

// LimitedSupply is volts behind seriesOhms as long as the delivered current is
// at most limitAmperes, then a constant current. With canSink it takes current
// in the same way, up to limitAmperes; without, it delivers nothing when pulled
// above volts. Switched off (SetEnabled) it conducts nothing. It starts on.
func (n *Netlist) LimitedSupply(name string, plus, minus Node, volts, seriesOhms, limitAmperes float64, canSink bool) ElementID {
	return n.add(element{name: name, kind: KindLimitedSupply, a: plus, b: minus, volts: volts, ohms: seriesOhms,
		amperes: limitAmperes, canSink: canSink, enabled: true, segment: 1})
}

// LimitedCurrentSource delivers amperes >= 0 out of plus until the voltage comes
// within amperes/outputSiemens of complianceVolts, from there on
// (complianceVolts-v)*outputSiemens, and nothing above complianceVolts. Switched
// off (SetEnabled) it conducts nothing. It starts on.
func (n *Netlist) LimitedCurrentSource(name string, plus, minus Node, amperes, complianceVolts, outputSiemens float64) ElementID {
	return n.add(element{name: name, kind: KindLimitedCurrentSource, a: plus, b: minus, volts: complianceVolts,
		ohms: 1 / outputSiemens, amperes: amperes, enabled: true})
}

// Charger is a linear charger for one cell between its input in and the cell's
// plus pole bat, both seen over gnd. The cell itself hangs on bat as a big
// capacitor, or a source, with its resistance.
func (n *Netlist) Charger(name string, in, gnd, bat Node, p ChargerParams) ElementID {
	c := &charger{ChargerParams: p}
	return n.add(element{name: name, kind: KindCharger, a: in, b: bat, c: gnd, enabled: !p.Disabled, charger: c})
}

// validate checks every value against the domain stated at its constructor.
func (n *Netlist) validate() error {
	for i := range n.elements {
		e := &n.elements[i]
		for _, node := range []Node{e.a, e.b, e.c} {
			if node < 0 || int(node) >= len(n.names) {
				return &ValueError{e.name, "node", float64(node)}
			}
		}
		if err := e.validate(); err != nil {
			return err
		}
	}
	return nil
}

func positive(x float64) bool { return x > 0 && !math.IsInf(x, 1) }

// finite tells of a number that is neither infinite nor none: what taken from itself
// leaves nothing.
func finite(x float64) bool { return x-x == 0 }
