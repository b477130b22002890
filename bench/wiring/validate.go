package wiring

import (
	"maps"
	"slices"

	"sinkproof/bench/quantity"
)

// Validate lists everything in a rig that contradicts itself: names that
// nothing has, names and pins that are used twice, values that no part can
// have, conditions that cannot be entered, nests that share what each needs for
// itself. Only a rig without such mistakes can be proved safe.
func (r *Rig) Validate() []Mistake {
	views := r.ByNest()
	c := &checker{rig: r}
	c.buses()
	if len(views) == 1 {
		return append(c.out, r.validate()...)
	}
	out := c.out
	for _, v := range views {
		for _, m := range v.validate() {
			// What stands once is wrong once.
			if !slices.ContainsFunc(out, func(o Mistake) bool { return o.Place == m.Place && o.Detail == m.Detail }) {
				m.Nest = v.Nest.Number
				out = append(out, m)
			}
		}
	}
	return append(out, r.apart()...)
}

func (r *Rig) validate() []Mistake {
	c := &checker{rig: r}
	c.rigItself()
	c.unique()
	c.computer()
	for i := range r.Chips {
		c.chip(&r.Chips[i])
	}
	c.addresses()
	for i := range r.Parts {
		c.part(&r.Parts[i])
	}
	for i := range r.Relays {
		c.relay(&r.Relays[i])
	}
	c.coils()
	for i := range r.Supplies {
		c.supply(&r.Supplies[i])
	}
	c.nest()
	for i := range r.Channels {
		c.channel(&r.Channels[i])
	}
	c.conditions()
	return c.out
}

func (c *checker) rigItself() {
	c.positive(At("rig", "isolation"), c.rig.Isolation)
	c.positive(At("rig", "mains"), c.rig.Mains)
	g := c.rig.Guard
	c.positive(At("guard", "beat_gap"), g.BeatGap)
	c.positive(At("guard", "arm_pulse"), g.ArmPulse)
	c.positive(At("guard", "over_voltage"), g.OverVoltage)
	c.positive(At("guard", "safe_0v"), g.Safe0V)
	if g.Safe0V.SI >= g.OverVoltage.SI && g.OverVoltage.SI > 0 {
		c.add(At("guard", "safe_0v"), "value out of range",
			"VBUS counts as off up to %s but is too high from %s on; off must be lower.", g.Safe0V, g.OverVoltage)
	}
}

// positive asks for a value above zero.
func (c *checker) positive(at Place, q quantity.Quantity) {
	if !(q.SI > 0) {
		c.add(at, "value out of range", "The value is %s; it must be above zero.", q)
	}
}

// notNegative asks for zero or more.
func (c *checker) notNegative(at Place, q quantity.Quantity) {
	if !(q.SI >= 0) {
		c.add(at, "value out of range", "The value is %s; it must not be below zero.", q)
	}
}

// toleranced asks for an interval above zero.
func (c *checker) toleranced(at Place, t Toleranced) {
	c.positive(at, t.Nominal)
	if t.Nominal.SI > 0 && t.Relative() >= 1 {
		c.add(at, "value out of range", "The tolerance of %s reaches down to zero; it must be smaller than the value.", t.Nominal)
	}
}

// unique finds names that are used twice within a sort.
func (c *checker) unique() {
	r := c.rig
	c.once("bus", "every bus", names(r.Buses, func(b *Bus) string { return b.Name }))
	c.once("line", "every line", names(r.Lines, func(l *Line) string { return l.Name }))
	c.once("chip", "every chip", names(r.Chips, func(x *Chip) string { return x.Name }))
	c.once("net", "every net", append([]string{Ground}, r.netNames()...))
	c.once("part", "every part", names(r.Parts, func(p *Part) string { return p.Name }))
	c.once("relay", "every relay and select", r.switchNames())
	c.once("supply", "every supply", names(r.Supplies, func(s *Supply) string { return s.Name }))
	c.once("channel", "every channel", names(r.Channels, func(x *Channel) string { return x.Name }))
	c.once("condition", "every condition", r.conditionNames())
}

// once reports each further use of a name. The place carries the number of
// the use, so that a file can point at the later one.
func (c *checker) once(sort, every string, list []string) {
	seen := map[string]int{}
	for _, name := range list {
		seen[name]++
		if seen[name] == 2 {
			c.add(At(sort, name, "again"), "name used twice", "The name %q is taken already; %s needs its own.", name, every)
		}
	}
}

func (r *Rig) netNames() []string {
	return names(r.Nets, func(n *Net) string { return n.Name })
}

func (r *Rig) chipNames(kinds ...ChipKind) []string {
	var out []string
	for _, x := range r.Chips {
		if len(kinds) == 0 || slices.Contains(kinds, x.Kind) {
			out = append(out, x.Name)
		}
	}
	return out
}

func (r *Rig) partNames() []string {
	return names(r.Parts, func(p *Part) string { return p.Name })
}

func (r *Rig) switchNames() []string {
	out := names(r.Relays, func(k *Relay) string { return k.Name })
	return append(out, names(r.Selects, func(s *Select) string { return s.Name })...)
}

func (r *Rig) conditionNames() []string {
	return names(r.Conditions, func(x *Condition) string { return x.Name })
}

// net checks that a net is declared.
func (c *checker) net(at Place, name string) bool {
	if name == Ground {
		return true
	}
	if _, ok := c.rig.Net(name); ok {
		return true
	}
	c.unknown(at, "net", name, append(c.rig.netNames(), Ground))
	return false
}

// computer checks the lines to the hardware safety chain.
func (c *checker) computer() {
	uses, devices, misplaced := map[LineUse]string{}, map[string]string{}, map[LineUse]bool{}
	shared := len(c.rig.shared())
	for i, l := range c.rig.Lines {
		at := At("line", l.Name)
		if first, twice := devices[l.Device]; twice {
			c.add(At(at, "device"), "line used twice", "The computer's line %q is %s already; each has one use.", l.Device, first)
		}
		devices[l.Device] = l.Name
		own := i >= shared
		if own && !l.Use.ofNest() {
			c.add(At(at, "use"), "line of the rig in a nest",
				"The line %s has the use %q, which the rig has once for all nests; put it outside of %s.", l.Name, l.Use, c.rig.Nest.Name)
		}
		if l.Use == Alert {
			c.alert(l)
			continue
		}
		// A line in the wrong place is said to be there, once.
		if own != l.Use.ofNest() && (own || c.rig.Nest.Number > 0) {
			misplaced[l.Use] = true
			continue
		}
		if first, twice := uses[l.Use]; twice {
			c.add(At(at, "use"), "line used twice", "The line %s has the use %q already; the rig has one such line.", first, l.Use)
		}
		uses[l.Use] = l.Name
	}
	for _, use := range []LineUse{EmergencyStop, Lid, Heartbeat, Arm, CoilSupply} {
		if _, ok := uses[use]; !ok && !misplaced[use] {
			at, of := At("rig"), "the rig"
			if c.rig.Nest.Number > 0 && use.ofNest() {
				at, of = At("nest"), c.rig.Nest.Name
			}
			c.add(at, "safety line missing", "No line of %s has the use %q; the safety chain needs one.", of, use)
		}
	}
}

// buses checks that no two names mean one bus.
func (c *checker) buses() {
	devices := map[string]string{}
	for _, b := range c.rig.Buses {
		if first, twice := devices[b.Device]; twice {
			c.add(At("bus", b.Name, "device"), "bus used twice", "The computer's bus %q is %s already; each has one name.", b.Device, first)
		}
		devices[b.Device] = b.Name
	}
}

func (c *checker) alert(l Line) {
	x, ok := c.rig.Chip(l.Chip)
	if !ok {
		c.unknown(At("line", l.Name, "chip"), "chip", l.Chip, c.rig.chipNames(PowerMon))
		return
	}
	if x.Kind != PowerMon {
		c.add(At("line", l.Name, "chip"), "wrong chip", "The %s %s has no alert pin; only a %s has.", x.Kind, x.Name, PowerMon)
	}
}

// coils checks that each output of an expander moves one thing.
func (c *checker) coils() {
	used := map[Pin]string{}
	take := func(at Place, name string, p Pin) {
		x, ok := c.rig.Chip(p.Chip)
		switch {
		case !ok:
			c.unknown(at, "chip", p.Chip, c.rig.chipNames(Expander))
		case x.Kind != Expander:
			c.add(at, "wrong chip", "The %s %s has no outputs; only an %s has.", x.Kind, x.Name, Expander)
		case used[p] != "":
			c.add(at, "output used twice", "The output %s drives %s already; each drives one.", p, used[p])
		}
		used[p] = name
	}
	for _, k := range c.rig.Relays {
		take(At("relay", k.Name, "coil"), k.Name, k.Coil)
	}
	for _, s := range c.rig.Selects {
		take(At("relay", s.Name, "pin"), s.Name, s.Pin)
	}
}

// String writes a pin as out1.A0.
func (p Pin) String() string {
	port := "A"
	if p.Bit >= 8 {
		port = "B"
	}
	return p.Chip + "." + port + string(rune('0'+p.Bit%8))
}

// addresses finds chips that clash on a bus.
func (c *checker) addresses() {
	type spot struct {
		bus     string
		address uint16
	}
	taken := map[spot]string{}
	for _, x := range c.rig.Chips {
		at := spot{x.Bus, x.Address}
		if first, clash := taken[at]; clash {
			c.add(At("chip", x.Name, "address"), "address used twice",
				"The chip %s answers at 0x%02X of %s already; %s needs another address.", first, x.Address, x.Bus, x.Name)
			continue
		}
		taken[at] = x.Name
	}
}

// sortedKeys lists the keys of a map in order.
func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
