package wiring

import (
	"fmt"
	"slices"

	"sinkproof/bench/quantity"
)

// The addresses that a chip of each class can take (the facts of the four
// chips' data sheets: converter SBAS444 table 4, monitor SBOS547 table 2,
// expander DS20001952 features, thermometer: the range of its three address
// pins).
func (k ChipKind) addresses() (low, high uint16) {
	switch k {
	case ADC:
		return 0x48, 0x4B
	case Expander:
		return 0x20, 0x27
	case PowerMon:
		return 0x40, 0x4F
	}
	return 0x48, 0x4F
}

func (c *checker) chip(x *Chip) {
	at := At("chip", x.Name)
	if x.Bus == "" {
		c.add(at, "bus missing", "The chip %s is on no bus; name one with \"bus\" in its block, or in the block of its nest.", x.Name)
	} else if _, ok := c.rig.Bus(x.Bus); !ok {
		c.unknown(At(at, "bus"), "bus", x.Bus, names(c.rig.Buses, func(b *Bus) string { return b.Name }))
	}
	if low, high := x.Kind.addresses(); x.Address < low || x.Address > high {
		c.add(At(at, "address"), "address out of range",
			"A chip of class %s cannot answer at 0x%02X; its pins choose from 0x%02X to 0x%02X.", x.Kind, x.Address, low, high)
	}
	for i, net := range x.Inputs {
		if net != "" {
			c.rated(At(at, "inputs", i), net)
		}
	}
	if x.Kind == ADC && len(x.Inputs) > 4 {
		c.add(At(at, "inputs"), "too many inputs", "The converter has 4 inputs; %d are named.", len(x.Inputs))
	}
	if x.Kind == PowerMon {
		c.monitor(at, x)
	}
}

// rated checks that a net exists and says how much it stands: what lies on an
// input, or on a pin of the unit, can be broken by a voltage.
func (c *checker) rated(at Place, name string) {
	if n, ok := c.rig.Net(name); ok && n.Rating.SI == 0 && name != Ground {
		c.add(at, "missing rating", "The net %s has no rating, but an input or a pin of the unit lies on it; give what it stands.", name)
	}
	c.net(at, name)
}

// monitor checks that a shunt stands where the chip measures.
func (c *checker) monitor(at Place, x *Chip) {
	c.net(At(at, "plus"), x.Plus)
	c.net(At(at, "minus"), x.Minus)
	c.net(At(at, "sense"), x.Sense)
	p, ok := c.rig.Part(x.Shunt)
	if !ok {
		c.unknown(At(at, "shunt"), "part", x.Shunt, c.rig.partNames())
		return
	}
	if p.Kind != Resistor || !p.between(x.Plus, x.Minus) {
		c.add(At(at, "shunt"), "wrong part", "The shunt must be a resistor between %s and %s; %s is a %s between %s and %s.",
			x.Plus, x.Minus, p.Name, p.Kind, p.A, p.B)
	}
}

// between tells whether a part stands between two nets, either way round.
func (p *Part) between(a, b string) bool {
	return p.A == a && p.B == b || p.A == b && p.B == a
}

// other returns the net at the far end of a part, "" when it is not there.
func (p *Part) other(net string) string {
	switch net {
	case p.A:
		return p.B
	case p.B:
		return p.A
	}
	return ""
}

func (c *checker) part(p *Part) {
	at := At("part", p.Name)
	c.net(At(at, "between", 0), p.A)
	c.net(At(at, "between", 1), p.B)
	if p.A == p.B && p.A != "" {
		c.add(At(at, "between", 1), "both ends on one net", "The %s %s has both ends on %s; it needs two nets.", p.Kind, p.Name, p.A)
	}
	c.toleranced(At(at, "value"), p.Value)
}

func (c *checker) relay(k *Relay) {
	at := At("relay", k.Name)
	c.positive(At(at, "operate"), k.Operate)
	c.positive(At(at, "release"), k.Release)
	c.notNegative(At(at, "bounce"), k.Bounce)
	if len(k.Contacts) == 0 {
		c.add(at, "no contacts", "The relay %s moves nothing; it needs a contact.", k.Name)
	}
	for i := range k.Contacts {
		c.contact(At(at, "contact", i), k, &k.Contacts[i])
	}
}

func (c *checker) contact(at Place, k *Relay, x *Contact) {
	ends := 0
	for _, end := range []struct{ attr, net string }{{"common", x.Common}, {"no", x.NO}, {"nc", x.NC}} {
		if end.net == "" {
			continue
		}
		ends++
		c.net(At(at, end.attr), end.net)
		if end.attr != "common" && end.net == x.Common {
			c.add(At(at, end.attr), "both ends on one net", "The contact %s of %s leads from %s to itself; it needs two nets.", x.Name, k.Name, x.Common)
		}
	}
	if x.Form == FormA && x.NO == "" || x.Common == "" || ends < 2 {
		c.add(at, "contact leads nowhere", "The contact %s of %s needs a common net and a net that it leads to.", x.Name, k.Name)
	}
	c.toleranced(At(at, "resistance"), x.Resistance)
}

func (c *checker) supply(s *Supply) {
	at := At("supply", s.Name)
	c.net(At(at, "vbus"), s.Vbus)
	if s.Vbus == Ground {
		c.add(At(at, "vbus"), "both ends on one net", "The supply %s drives gnd itself; it needs a net of its own.", s.Name)
	}
	if s.Kind == CSupply {
		c.net(At(at, "cc1"), s.CC1)
		c.net(At(at, "cc2"), s.CC2)
	}
	if s.Kind == Probe {
		c.positive(At(at, "compliance"), s.Compliance)
	} else {
		c.toleranced(At(at, "volts"), s.Volts)
		c.positive(At(at, "output"), s.Output)
		c.positive(At(at, "limit"), s.Limit)
	}
	if s.Kind == Portable {
		c.positive(At(at, "wake"), s.Wake)
		c.positive(At(at, "patience"), s.Patience)
	}
	c.levels(at, s)
}

// levels checks that each level can be chosen, and only in one way.
func (c *checker) levels(at Place, s *Supply) {
	dim, wanted := s.Kind.level()
	if wanted && len(s.Levels) == 0 {
		c.add(at, "no levels", "A supply of kind %s needs the levels that it takes.", s.Kind)
	}
	chosen := map[string]string{}
	for i, l := range s.Levels {
		here := At(at, "level", i)
		if l.Value.Dim != dim {
			c.add(At(here, "value"), "wrong dimension", "The level %s of %s is a %s; it must be a %s.", l.Name, s.Name, l.Value.Dim, dim)
		}
		c.positive(At(here, "value"), l.Value)
		for j, name := range l.Selects {
			if _, ok := c.rig.Select(name); !ok {
				c.unknown(At(here, "selects", j), "select", name, names(c.rig.Selects, func(s *Select) string { return s.Name }))
			}
		}
		key := fmt.Sprint(sortedOnce(l.Selects))
		if first, twice := chosen[key]; twice {
			c.add(here, "level chosen twice", "The same selects choose the level %s of %s already; each level needs its own.", first, s.Name)
		}
		chosen[key] = l.Name
	}
}

// level returns the dimension of a supply's levels, and whether there must be
// some.
func (k SupplyKind) level() (quantity.Dim, bool) {
	switch k {
	case Probe:
		return quantity.Current, true
	case CSupply:
		return quantity.Current, true
	case CellSubstitute:
		return quantity.Voltage, true
	}
	return quantity.Voltage, false
}

// pins lists the places of a unit that a nest can touch.
func pins() []string {
	return []string{
		PinVbusForce, PinVbusSense, PinGround, PinCC1, PinCC2,
		PinDP1, PinDM1, PinDP2, PinDM2, PinCell, PinLight,
	}
}

func (c *checker) nest() {
	n := &c.rig.Nest
	seen := map[string]bool{}
	for i, p := range n.Pins {
		at := At("nest", "pin", i)
		if !slices.Contains(pins(), p.Pin) {
			c.unknown(at, "pin", p.Pin, pins())
		}
		if seen[p.Pin] {
			c.add(at, "name used twice", "The pin %q is wired already; it leads to one net.", p.Pin)
		}
		seen[p.Pin] = true
		c.rated(At(at, "net"), p.Net)
		if p.Pin == PinGround && p.Net != Ground {
			c.add(At(at, "net"), "ground is not ground", "The unit's ground must lie on gnd; it lies on %s.", p.Net)
		}
	}
	for _, p := range []string{PinVbusForce, PinVbusSense, PinGround, PinCC1, PinCC2} {
		if !seen[p] {
			c.add(At("nest"), "pin missing", "The nest %s has no pin %q; every nest needs it.", n.Name, p)
		}
	}
	c.positive(At("nest", "empty"), n.Empty)
	c.check()
}

// check checks that each resistor of the check receptacle stands between two
// contacts of the plug.
func (c *checker) check() {
	n := &c.rig.Nest
	var contacts []string
	for _, p := range n.Pins {
		if p.Pin != PinLight {
			contacts = append(contacts, p.Pin)
		}
	}
	seen := map[string]bool{}
	for i := range n.Check {
		p := &n.Check[i]
		at := At("nest", "check", i)
		for j, pin := range []string{p.A, p.B} {
			if !slices.Contains(contacts, pin) {
				c.unknown(At(at, "between", j), "pin", pin, contacts)
			}
		}
		if p.A == p.B {
			c.add(at, "both ends on one net", "The resistor %s has both ends on %s; it needs two pins.", p.Name, p.A)
		}
		if seen[p.Name] {
			c.add(at, "name used twice", "The name %q is taken already; every part of the check receptacle needs its own.", p.Name)
		}
		seen[p.Name] = true
		c.toleranced(At(at, "value"), p.Value)
	}
}
