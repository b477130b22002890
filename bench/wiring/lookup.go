package wiring

import "slices"

// Net returns the net of a name.
func (r *Rig) Net(name string) (*Net, bool) {
	return find(r.Nets, func(n *Net) bool { return n.Name == name })
}

// Bus returns the bus of a name.
func (r *Rig) Bus(name string) (*Bus, bool) {
	return find(r.Buses, func(b *Bus) bool { return b.Name == name })
}

// Line returns the digital line of a name.
func (r *Rig) Line(name string) (*Line, bool) {
	return find(r.Lines, func(l *Line) bool { return l.Name == name })
}

// LineFor returns the first line with a use.
func (r *Rig) LineFor(use LineUse) (*Line, bool) {
	return find(r.Lines, func(l *Line) bool { return l.Use == use })
}

// Chip returns the chip of a name.
func (r *Rig) Chip(name string) (*Chip, bool) {
	return find(r.Chips, func(c *Chip) bool { return c.Name == name })
}

// Part returns the part of a name.
func (r *Rig) Part(name string) (*Part, bool) {
	return find(r.Parts, func(p *Part) bool { return p.Name == name })
}

// Relay returns the relay or solid-state switch of a name.
func (r *Rig) Relay(name string) (*Relay, bool) {
	return find(r.Relays, func(k *Relay) bool { return k.Name == name })
}

// Select returns the select of a name.
func (r *Rig) Select(name string) (*Select, bool) {
	return find(r.Selects, func(s *Select) bool { return s.Name == name })
}

// Supply returns the supply of a name.
func (r *Rig) Supply(name string) (*Supply, bool) {
	return find(r.Supplies, func(s *Supply) bool { return s.Name == name })
}

// SupplyOf returns the first supply of a kind.
func (r *Rig) SupplyOf(kind SupplyKind) (*Supply, bool) {
	return find(r.Supplies, func(s *Supply) bool { return s.Kind == kind })
}

// Channel returns the channel of a name.
func (r *Rig) Channel(name string) (*Channel, bool) {
	return find(r.Channels, func(c *Channel) bool { return c.Name == name })
}

// Condition returns the condition of a name.
func (r *Rig) Condition(name string) (*Condition, bool) {
	return find(r.Conditions, func(c *Condition) bool { return c.Name == name })
}

// Axis returns the axis of a name.
func (c *Condition) Axis(name string) (*Axis, bool) {
	return find(c.Axes, func(a *Axis) bool { return a.Name == name })
}

// Value returns the value of a name.
func (a *Axis) Value(name string) (*AxisValue, bool) {
	return find(a.Values, func(v *AxisValue) bool { return v.Name == name })
}

// Pin returns the pin of a nest that touches a place of the unit.
func (n *Nest) Pin(pin string) (*PlugPin, bool) {
	return find(n.Pins, func(p *PlugPin) bool { return p.Pin == pin })
}

// PinNet returns the net at a pin, "" where the nest has no such pin.
func (n *Nest) PinNet(pin string) string {
	if p, ok := n.Pin(pin); ok {
		return p.Net
	}
	return ""
}

// LevelFor returns the level that a supply takes when exactly these of its
// selects are on; other names in the list do not matter.
func (s *Supply) LevelFor(on []string) (*Level, bool) {
	mine := s.Selects()
	want := map[string]bool{}
	for _, name := range on {
		if slices.Contains(mine, name) {
			want[name] = true
		}
	}
	return find(s.Levels, func(l *Level) bool {
		return len(l.Selects) == len(want) && !slices.ContainsFunc(l.Selects, func(n string) bool { return !want[n] })
	})
}

// Selects lists the selects that choose among a supply's levels, sorted.
func (s *Supply) Selects() []string {
	var out []string
	for _, l := range s.Levels {
		out = append(out, l.Selects...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func find[T any](list []T, is func(*T) bool) (*T, bool) {
	for i := range list {
		if is(&list[i]) {
			return &list[i], true
		}
	}
	return nil, false
}

// names lists the names of a list's entries, in its order.
func names[T any](list []T, name func(*T) string) []string {
	out := make([]string, len(list))
	for i := range list {
		out[i] = name(&list[i])
	}
	return out
}
