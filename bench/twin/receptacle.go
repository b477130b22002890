package twin

import (
	"fmt"

	"sinkproof/bench/circuit"
	"sinkproof/bench/wiring"
)

// receptacle is the check receptacle in the nest: the resistors of the wiring
// file behind the contacts of the plug.
type receptacle struct {
	t       *Twin
	ohms    map[string]float64 // of each contact, as drawn
	reached map[string]circuit.ElementID
}

// SeatCheck seats the check receptacle in place of what is in the nest.
func (t *Twin) SeatCheck() error {
	nest := &t.config.Wiring.Nest
	if len(nest.Check) == 0 {
		return fmt.Errorf("seat the check receptacle: the nest %s has none: %w", nest.Name, ErrNoSuchName)
	}
	t.catchUp()
	t.clearUnit()
	r := &receptacle{t: t, ohms: map[string]float64{}}
	for i := range nest.Pins {
		p := &nest.Pins[i]
		r.ohms[p.Pin] = max(leastOhms, within(stream(t.config.Seed, "receptacle", p.Pin), p.Resistance))
	}
	t.receptacle = r
	return t.rebuild()
}

// contact is the resistance of a contact, worn or open ones included.
func (r *receptacle) contact(pin string) float64 {
	if worn, ok := r.t.pins[pin]; ok {
		return max(r.ohms[pin], worn)
	}
	return r.ohms[pin]
}

func (r *receptacle) pad(n *circuit.Netlist, pin string) circuit.Node {
	return n.Node("receptacle." + pin)
}

// draft adds contacts and resistors to a netlist.
func (r *receptacle) draft(n *circuit.Netlist) {
	r.reached = map[string]circuit.ElementID{}
	nest := &r.t.config.Wiring.Nest
	for i := range nest.Pins {
		p := &nest.Pins[i]
		if p.Pin == wiring.PinLight {
			continue
		}
		pad := r.pad(n, p.Pin)
		n.Resistor("insulation.receptacle."+p.Pin, pad, circuit.Ground, insulation)
		r.reached[p.Pin] = n.Resistor("contact."+p.Pin, r.t.node(n, p.Net), pad, r.contact(p.Pin))
	}
	for i := range nest.Check {
		p := &nest.Check[i]
		n.Resistor(p.Name, r.pad(n, p.A), r.pad(n, p.B), max(leastOhms, r.t.partValue(p)))
	}
}

// wear sets the contacts to their present resistance.
func (r *receptacle) wear() {
	for _, p := range r.t.config.Wiring.Nest.Pins {
		if id, ok := r.reached[p.Pin]; ok {
			r.t.check(r.t.sim.SetOhms(id, r.contact(p.Pin)))
		}
	}
}
