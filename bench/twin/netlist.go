package twin

import (
	"fmt"
	"math"
	"time"

	"sinkproof/bench/circuit"
	"sinkproof/bench/wiring"
)

// Every net leaks a little: insulation of boards and cables, common practice.
// It also gives a net that hangs on open contacts a voltage.
const insulation = 1e9

// clampSlope is the slope of a clamp above its voltage.
const clampSlope = 10.0

// capacitor is one capacitance of the rig, whose charge outlives the
// exchange of the unit.
type capacitor struct {
	id    circuit.ElementID
	a, b  circuit.Node
	volts float64
}

// node returns the node of a net.
func (t *Twin) node(n *circuit.Netlist, net string) circuit.Node {
	if net == wiring.Ground {
		return circuit.Ground
	}
	return n.Node(net)
}

// rebuild makes the circuit of the rig and of the unit in the nest, and goes
// on in it from where the old one stood.
func (t *Twin) rebuild() error {
	t.follow()
	t.keepCharges()
	n := t.empty.CopyIn(t.netlist)
	for _, c := range t.capacitors {
		n.Charge(c.id, c.volts)
	}
	if t.unit != nil {
		t.unit.draft(n)
	}
	if t.receptacle != nil {
		t.receptacle.draft(n)
	}
	sim, err := n.StartIn(t.memory.take())
	if err != nil {
		return fmt.Errorf("circuit of rig %s: %w", t.config.Wiring.Name, err)
	}
	t.memory.keep(t.sim)
	t.netlist, t.sim, t.origin = n, sim, t.now
	t.watchers = t.watchers[:0]
	sim.BeforeChange(t.follow)
	sim.StopAtMemory()
	t.failure, t.quiet = nil, 0
	for _, p := range t.parts {
		p.connect()
	}
	if t.unit != nil {
		t.unit.connect()
	}
	t.check(sim.Settle())
	return t.failure
}

// draft makes the network of the rig with an empty nest, which is the same under
// every unit but for the charges of its capacitors.
func (t *Twin) draft() {
	n := circuit.New()
	for _, net := range t.config.Wiring.Nets {
		if net.Name != wiring.Ground {
			n.Resistor("insulation."+net.Name, n.Node(net.Name), circuit.Ground, insulation)
		}
	}
	t.solder(n)
	t.load(n)
	for _, p := range t.parts {
		p.draft(n)
	}
	n.Base()
	t.empty = n
}

// keepCharges notes the voltages of the rig's capacitors.
func (t *Twin) keepCharges() {
	if t.sim == nil {
		return
	}
	for i := range t.capacitors {
		c := &t.capacitors[i]
		if v := t.sim.Volts(c.a) - t.sim.Volts(c.b); !math.IsNaN(v) {
			c.volts = v
		}
	}
}

// solder adds the parts of the wiring file with their drawn values.
func (t *Twin) solder(n *circuit.Netlist) {
	for i := range t.config.Wiring.Parts {
		p := &t.config.Wiring.Parts[i]
		a, b := t.node(n, p.A), t.node(n, p.B)
		value := t.partValue(p)
		switch p.Kind {
		case wiring.Resistor:
			n.Resistor(p.Name, a, b, max(leastOhms, value))
		case wiring.Clamp:
			n.Clamp(p.Name, a, b, value, clampSlope)
		case wiring.Capacitor:
			t.capacitors = append(t.capacitors, capacitor{id: n.Capacitor(p.Name, a, b, value, 0), a: a, b: b})
		}
	}
}

// partValue draws the value of one part of the rig.
func (t *Twin) partValue(p *wiring.Part) float64 {
	return within(stream(t.config.Seed, "part", p.Name), p.Value)
}

// load adds what the inputs of the chips draw.
func (t *Twin) load(n *circuit.Netlist) {
	add := func(chip *wiring.Chip, net string) {
		if net != "" && net != wiring.Ground && chip.Loading.SI > 0 {
			n.Resistor("input."+chip.Name+"."+net, n.Node(net), circuit.Ground, chip.Loading.SI)
		}
	}
	for i := range t.config.Wiring.Chips {
		chip := &t.config.Wiring.Chips[i]
		for _, net := range chip.Inputs {
			add(chip, net)
		}
		add(chip, chip.Sense)
	}
}

// sensorOhms is the nominal load of a light sensor: what the wiring has
// between its net and ground.
func (t *Twin) sensorOhms(net string) float64 {
	siemens := 1 / insulation
	for _, p := range t.config.Wiring.Parts {
		across := p.A == net && p.B == wiring.Ground || p.B == net && p.A == wiring.Ground
		if p.Kind == wiring.Resistor && across && p.Value.Nominal.SI > 0 {
			siemens += 1 / p.Value.Nominal.SI
		}
	}
	return 1 / siemens
}

// probe is a node as the inputs of chips see it. It keeps the last mean: several
// inputs hang on some nets, and are asked for the same span one after the other.
type probe struct {
	t        *Twin
	net      string
	id       circuit.Node
	in       *circuit.Netlist // the netlist that id belongs to
	from, to time.Duration
	mean     float64
}

// Mean returns the mean voltage between two instants.
func (p *probe) Mean(from, to time.Duration) float64 {
	t := p.t
	if p.in != t.netlist {
		p.id, p.in = t.node(t.netlist, p.net), t.netlist
	} else if p.from == from && p.to == to {
		return p.mean
	}
	v := t.sim.Mean(p.id, t.instant(from), t.instant(to))
	if math.IsNaN(v) {
		t.check(t.sim.Settle())
		v = 0
	}
	p.from, p.to, p.mean = from, to, v
	return v
}

// watch asks for a call when a voltage reaches a level.
func (t *Twin) watch(n circuit.Node, level float64, rising bool, w watcher) circuit.WatchID {
	id := t.sim.Watch(n, level, rising)
	for int(id) >= len(t.watchers) {
		t.watchers = append(t.watchers, nil)
	}
	t.watchers[id] = w
	return id
}

// unwatch ends a watch; a negative id is none.
func (t *Twin) unwatch(id circuit.WatchID) {
	if id >= 0 && int(id) < len(t.watchers) {
		t.sim.Unwatch(id)
		t.watchers[id] = nil
	}
}

// watcher is told that a voltage has reached a level that it asked for.
type watcher interface{ crossed(now time.Duration) }

// check keeps the first error of the circuit: from there on the twin cannot be
// trusted, and every transfer says so.
func (t *Twin) check(err error) {
	if err != nil && t.failure == nil {
		t.failure = fmt.Errorf("circuit of rig %s: %w", t.config.Wiring.Name, err)
	}
}
