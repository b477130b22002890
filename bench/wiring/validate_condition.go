package wiring

import (
	"slices"
	"strings"

	"sinkproof/bench/quantity"
)

// The names that the program itself knows.
const (
	// Isolated is the safe state: no coil is on.
	Isolated = "isolated"
	// ProbeVbus is the condition that must pass before any powered one.
	ProbeVbus = "probe-vbus"
)

// maxSettings bounds the settings of one condition, so that listing them all
// stays cheap.
const maxSettings = 2000

func (c *checker) conditions() {
	for _, name := range []string{Isolated, ProbeVbus} {
		if _, ok := c.rig.Condition(name); !ok {
			c.add(At("rig"), "condition missing", "The rig has no condition %q; every rig needs it.", name)
		}
	}
	for i := range c.rig.Conditions {
		c.condition(&c.rig.Conditions[i])
	}
	c.needs()
}

func (c *checker) condition(x *Condition) {
	at := At("condition", x.Name)
	c.switches(At(at, "on"), x.On)
	for i, name := range x.Feed {
		k, ok := c.rig.Relay(name)
		switch {
		case !ok:
			c.unknown(At(at, "feed", i), "switch", name, names(c.rig.Relays, func(k *Relay) string { return k.Name }))
		case !k.SolidState:
			c.add(At(at, "feed", i), "feed is no switch", "%s is a relay; only a solid-state switch may apply a supply to a load.", name)
		}
	}
	seen := map[string]bool{}
	settings := 1
	for i := range x.Axes {
		a := &x.Axes[i]
		if seen[a.Name] {
			c.add(At(at, "axis", i), "name used twice", "The axis %q of %s exists already; each axis needs its own name.", a.Name, x.Name)
		}
		seen[a.Name] = true
		c.axis(At(at, "axis", i), x, a)
		settings = min(settings*max(len(a.Values), 1), maxSettings+1)
	}
	if settings > maxSettings {
		c.add(at, "too many settings", "The axes of %s make more than %d settings; split the condition.", x.Name, maxSettings)
		return
	}
	if x.Name == Isolated && (len(x.On)+len(x.Feed)+len(x.Axes) > 0) {
		c.add(at, "isolated is not idle", "In %q every coil is off; it takes neither relays nor axes.", Isolated)
	}
	c.choices(at, x)
}

func (c *checker) axis(at Place, x *Condition, a *Axis) {
	if len(a.Values) == 0 {
		c.add(at, "axis without values", "The axis %q of %s needs a value; the first one is the default.", a.Name, x.Name)
	}
	seen := map[string]bool{}
	for j, v := range a.Values {
		here := At(at, "value", j)
		if seen[v.Name] {
			c.add(here, "name used twice", "The value %q of axis %q exists already; each value needs its own name.", v.Name, a.Name)
		}
		seen[v.Name] = true
		c.switches(At(here, "on"), v.On)
	}
}

func (c *checker) switches(at Place, list []string) {
	for i, name := range list {
		if !slices.Contains(c.rig.switchNames(), name) {
			c.unknown(At(at, i), "relay", name, c.rig.switchNames())
		}
	}
}

// choices checks that in every setting the selects mean a level.
func (c *checker) choices(at Place, x *Condition) {
	said := map[string]bool{}
	for _, setting := range c.rig.Settings(x.Name) {
		st, err := c.rig.Expand(setting)
		if err != nil {
			continue // an axis without values was reported above
		}
		for i := range c.rig.Supplies {
			s := &c.rig.Supplies[i]
			if _, ok := s.LevelFor(st.On); ok || len(s.Levels) == 0 || said[s.Name] {
				continue
			}
			said[s.Name] = true
			c.add(at, "no such level", "In the setting %s the selects of %s (%s) choose none of its levels.",
				setting, s.Name, strings.Join(keep(st.On, s.Selects()), ", "))
		}
	}
}

func keep(list, from []string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(n string) bool { return !slices.Contains(from, n) })
}

// needs checks that what a condition needs exists and can come first.
func (c *checker) needs() {
	for i := range c.rig.Conditions {
		x := &c.rig.Conditions[i]
		for j, name := range x.Needs {
			at := At("condition", x.Name, "needs", j)
			if _, ok := c.rig.Condition(name); !ok {
				c.unknown(at, "condition", name, c.rig.conditionNames())
				continue
			}
			if slices.Contains(c.rig.Needed(name), x.Name) || name == x.Name {
				c.add(at, "needs itself", "The condition %s needs %s, which needs %s; neither can be first.", x.Name, name, x.Name)
			}
		}
	}
}

// Needed lists every condition that must have passed before one, directly or
// through others, sorted. The condition itself is among them only when it
// needs itself through others.
func (r *Rig) Needed(condition string) []string {
	seen := map[string]bool{}
	var walk func(string)
	walk = func(name string) {
		x, ok := r.Condition(name)
		if !ok {
			return
		}
		for _, n := range x.Needs {
			if !seen[n] {
				seen[n] = true
				walk(n)
			}
		}
	}
	walk(condition)
	return sortedKeys(seen)
}

func (c *checker) channel(x *Channel) {
	at := At("channel", x.Name)
	if want := x.Kind.dim(); x.Highest.Dim != want {
		c.add(At(at, "highest"), "wrong dimension", "The channel %s reads a %s; its highest value is a %s.", x.Name, want, x.Highest.Dim)
	}
	c.positive(At(at, "highest"), x.Highest)
	switch x.Kind {
	case VoltageChannel, LightChannel:
		c.direct(at, x)
	case CurrentChannel:
		c.ranges(at, x)
	case TerminationChannel:
		c.termination(at, x)
	case TemperatureChannel:
		c.served(At(at, "chip"), x.Chip, Thermometer)
	}
}

// dim is the dimension of what a channel reads.
func (k ChannelKind) dim() quantity.Dim {
	switch k {
	case CurrentChannel:
		return quantity.Current
	case TerminationChannel:
		return quantity.Resistance
	case TemperatureChannel:
		return quantity.Temperature
	}
	return quantity.Voltage
}

// served checks that a chip exists and is of the class that a channel needs.
func (c *checker) served(at Place, name string, kind ChipKind) (*Chip, bool) {
	x, ok := c.rig.Chip(name)
	if !ok {
		c.unknown(at, "chip", name, c.rig.chipNames(kind))
		return nil, false
	}
	if x.Kind != kind {
		c.add(at, "wrong chip", "The chip %s is of class %s; this needs one of class %s.", name, x.Kind, kind)
		return nil, false
	}
	return x, true
}

// direct checks that the input of the converter lies on the channel's net, or
// on the tap of the divider that hangs on it.
func (c *checker) direct(at Place, x *Channel) {
	chip, ok := c.served(At(at, "chip"), x.Chip, ADC)
	if !c.net(At(at, "net"), x.Net) || !ok {
		return
	}
	if x.Input < 0 || x.Input >= len(chip.Inputs) || chip.Inputs[x.Input] == "" {
		c.add(At(at, "input"), "input not wired", "Input %d of %s is wired to nothing.", x.Input, chip.Name)
		return
	}
	tap := x.Net
	if x.Upper != "" || x.Lower != "" {
		if tap, ok = c.divider(at, x); !ok {
			return
		}
	}
	if chip.Inputs[x.Input] != tap {
		c.add(At(at, "input"), "input on another net", "Input %d of %s lies on %s; the channel %s needs it on %s.",
			x.Input, chip.Name, chip.Inputs[x.Input], x.Name, tap)
	}
}

// divider returns the net between the two resistors.
func (c *checker) divider(at Place, x *Channel) (string, bool) {
	upper, ok1 := c.resistor(At(at, "upper"), x.Upper)
	lower, ok2 := c.resistor(At(at, "lower"), x.Lower)
	if !ok1 || !ok2 {
		return "", false
	}
	tap := upper.other(x.Net)
	if tap == "" || !lower.between(tap, Ground) {
		c.add(At(at, "upper"), "no divider", "%s and %s are no divider from %s to gnd: %s is between %s and %s, %s between %s and %s.",
			upper.Name, lower.Name, x.Net, upper.Name, upper.A, upper.B, lower.Name, lower.A, lower.B)
		return "", false
	}
	return tap, true
}

func (c *checker) resistor(at Place, name string) (*Part, bool) {
	p, ok := c.rig.Part(name)
	if !ok {
		c.unknown(at, "part", name, c.rig.partNames())
		return nil, false
	}
	if p.Kind != Resistor {
		c.add(at, "wrong part", "%s is a %s; this needs a resistor.", name, p.Kind)
		return nil, false
	}
	return p, true
}

func (c *checker) ranges(at Place, x *Channel) {
	if len(x.Ranges) == 0 {
		c.add(at, "no range", "The current channel %s has no range; each range names its monitor.", x.Name)
	}
	for i, rg := range x.Ranges {
		here := At(at, "range", i)
		c.served(At(here, "chip"), rg.Chip, PowerMon)
		if _, ok := c.rig.Relay(rg.Relay); !ok && rg.Relay != "" {
			c.unknown(At(here, "relay"), "relay", rg.Relay, names(c.rig.Relays, func(k *Relay) string { return k.Name }))
		}
	}
}

// termination checks that the ratio is one of two readings of one converter.
func (c *checker) termination(at Place, x *Channel) {
	volts, ok1 := c.source(At(at, "volts"), x.Volts)
	rail, ok2 := c.source(At(at, "rail"), x.Rail)
	if ok1 && ok2 && volts.Chip != rail.Chip {
		c.add(At(at, "rail"), "two converters", "%s is read by %s and %s by %s; a ratio needs both on one converter.",
			volts.Name, volts.Chip, rail.Name, rail.Chip)
	}
	if len(x.Pulls) == 0 {
		c.add(at, "no pull-up", "The channel %s has no pull-up; without one there is nothing to compare with.", x.Name)
	}
	for i, pull := range x.Pulls {
		here := At(at, "pull", i)
		if p, ok := c.resistor(here, pull.Part); ok && ok2 && p.other(rail.Net) == "" {
			c.add(here, "wrong part", "%s does not hang on %s, the net of %s.", p.Name, rail.Net, rail.Name)
		}
		if _, ok := c.rig.Relay(pull.Relay); !ok {
			c.unknown(At(here, "relay"), "relay", pull.Relay, names(c.rig.Relays, func(k *Relay) string { return k.Name }))
		}
	}
	for i, name := range x.Loads {
		c.resistor(At(at, "loads", i), name)
	}
}

func (c *checker) source(at Place, name string) (*Channel, bool) {
	x, ok := c.rig.Channel(name)
	if !ok {
		c.unknown(at, "channel", name, names(c.rig.Channels, func(x *Channel) string { return x.Name }))
		return nil, false
	}
	if x.Kind != VoltageChannel {
		c.add(at, "wrong channel", "The channel %s reads no voltage; a termination is computed from two voltages.", name)
		return nil, false
	}
	return x, true
}
